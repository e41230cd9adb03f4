/* Sound, vibration and a screen that stays on: each where the phone has it, and honest words where it has not. */
import { clockTime, h, press } from "./ui.js";

let sound = null;
let wakeLock = null;
let wantsScreen = false;
const rung = new Set();

addEventListener("pointerdown", () => {
  const Made = globalThis.AudioContext ?? globalThis.webkitAudioContext;
  if (!Made) return;
  sound ??= new Made();
  if (sound.state === "suspended") sound.resume().catch(() => {});
}, { passive: true });

function beep(times) {
  if (!sound || sound.state !== "running") return;
  for (let turn = 0; turn < times; turn += 1) {
    const [tone, loud] = [sound.createOscillator(), sound.createGain()];
    tone.frequency.value = 880;
    tone.connect(loud).connect(sound.destination);
    loud.gain.setValueAtTime(0.4, sound.currentTime + turn * 0.5);
    tone.start(sound.currentTime + turn * 0.5);
    tone.stop(sound.currentTime + turn * 0.5 + 0.3);
  }
}

/* Two alarms for a batch and no more: half of its working life, and five minutes left. */
export function ring(batch, at) {
  if (batch.ends_at === null || at > batch.ends_at) return;
  const left = batch.ends_at - at;
  const due = left <= 5 * 60000 ? "five" : left <= (batch.ends_at - batch.clock_from) / 2 ? "half" : "";
  const key = `${batch.number} ${batch.clock_from} ${due}`;
  if (!due || rung.has(key)) return;
  rung.add(key);
  if (due === "five") rung.add(`${batch.number} ${batch.clock_from} half`);
  beep(due === "five" ? 4 : 2);
  navigator.vibrate?.(due === "five" ? [400, 200, 400, 200, 400] : [400]);
}

export function honestWords(batches, zone) {
  const ends = batches.map((batch) => batch.ends_at).filter(Boolean);
  const words = ["A locked phone gives no alarm."];
  if (ends.length) words.push(`Set the phone's own alarm to ${clockTime(Math.min(...ends) - 5 * 60000, zone)}, five minutes before the end.`);
  if (!navigator.vibrate) words.push("This phone cannot vibrate from a page.");
  if (!(globalThis.AudioContext ?? globalThis.webkitAudioContext)) words.push("This phone makes no sound from a page.");
  return words.join(" ");
}

async function keepOn() {
  try {
    wakeLock = await navigator.wakeLock.request("screen");
    wakeLock.addEventListener("release", () => { wakeLock = null; paint(); });
  } catch {
    wakeLock = null;
  }
  paint();
}

document.addEventListener("visibilitychange", () => {
  if (wantsScreen && document.visibilityState === "visible") keepOn();
});

function paint() {
  for (const place of document.querySelectorAll("[data-screen-words]")) {
    place.textContent = wakeLock ? "The screen stays on while this page is shown." : wantsScreen ? "The screen may go dark: this phone does not let a page keep it on. Lengthen its own screen time." : "";
  }
}

export function screenButton() {
  const turn = () => {
    wantsScreen = true;
    if (navigator.wakeLock) keepOn();
    else paint();
  };
  const words = h("p", { class: "told", "data-screen-words": true, role: "status" });
  setTimeout(paint);
  return h("div", {}, press("Keep the screen on", turn, "press quiet"), words);
}
