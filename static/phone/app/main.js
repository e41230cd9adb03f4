/* The way around: one screen at a time, by the part of the address after #. */
import { ring } from "./alerts.js";
import * as ballast from "./ballast.js";
import * as clock from "./clock.js";
import { enterScreen, stopScreen } from "./enter.js";
import * as keys from "./keys.js";
import { recordLock } from "./locks.js";
import { pour as pourOf, pours as allPours, system } from "./model.js";
import { homeScreen, joinScreen, machineScreen, personScreen, waitingScreen } from "./otherscreens.js";
import * as outbox from "./outbox.js";
import { entryScreen, logScreen, missingScreen, paintClocks, pointScreen, strikeScreen, summary } from "./pourscreens.js";
import { onPull } from "./pull.js";
import * as sender from "./sender.js";
import { DAY_MS, isOverdue, phrase } from "./status.js";
import { StoreDead, meta } from "./store.js";
import { updateButton, watch } from "./update.js";
import { h, hold, press, told } from "./ui.js";
import { lastSaved, onSaved } from "./write.js";

const JUST_SAVED_MS = 4000;
const LIFTED_MS = 350; // a click may come this long after its finger
let painting = { at: 0, isStale: true, counts: null };
const work = document.getElementById("work");
const statusLine = document.getElementById("status");
let leave = () => {};
let place = "";
let drawn = 0;
let isPressed = false;

/* Put one screen on the page. The main action stands at its foot, outside the content that scrolls. */
function show({ title, up = null, leave: leaving = () => {} }, ...children) {
  leave();
  leave = leaving;
  const flat = children.flat(3).filter(Boolean);
  const action = flat.find((child) => child.classList?.contains("main-action")) ?? null;
  document.body.classList.add("drawn");
  work.replaceChildren(...flat.filter((child) => child !== action));
  document.getElementById("action").replaceChildren(...(action ? [action] : []));
  document.getElementById("up").replaceChildren(...(up === null ? [] : [h("a", { class: "press quiet", href: up }, "Back")]));
  document.title = `${title} – GroutJobs`;
  paintClocks(ring);
  return true;
}

/* What comes by itself waits while a finger is on the glass: a button that is replaced under it would lose the tap. */
async function draw(words = "", waits = () => false) {
  const turn = ++drawn;
  const [path, query] = location.hash.slice(1).split("?");
  const isNewPlace = location.hash !== place;
  place = location.hash;
  try {
    await screen(path.split("/"), new URLSearchParams(query), (...all) => turn === drawn && !waits() && show(...all), words);
  } catch (error) {
    if (!(error instanceof StoreDead)) throw error;
    stopScreen("The store of this phone does not answer.", [], draw);
  }
  if (isNewPlace) {
    scrollTo(0, 0);
    work.focus({ preventScroll: true });
  }
  await paintStatus();
}

async function screen(parts, query, put, words) {
  const machine = location.pathname.match(/^\/machines\/(\d+)\/$/);
  if (machine) return machineScreen(put, await allPours(), Number(machine[1]));
  if (!(await meta("device")) || parts[0] === "join") return joinScreen(put, () => { location.hash = "#person"; draw(); });
  if (parts[0] === "waiting") return waitingScreen(put, draw, await updateButton());
  if (parts[0] === "person") return personScreen(put, (said) => { location.hash = "#"; draw(said); });
  if (parts[0] === "pour") return pourScreen(Number(parts[1]), parts.slice(2), query, put);
  await homeScreen(put, await allPours());
  if (words) work.prepend(told(words));
  return null;
}

async function pourScreen(id, [part = "", what = ""], query, put) {
  const [pour, me] = [await pourOf(id), await keys.person()];
  if (!pour) return put({ title: "Pour", up: "#" }, h("h1", {}, "This pour is not on this phone"), h("p", {}, "Go where there is signal; it comes by itself."));
  const lock = await recordLock.take(id);
  const mayRecord = Boolean(me) && !keys.isStale(me) && lock.isMine;
  const about = { mayRecord, again: draw, access: access(me, lock) };
  if (part === "points") return pointScreen(put, pour, about);
  if (part === "missing") return missingScreen(put, pour);
  if (part === "entries") return entryScreen(put, pour, about);
  if (part === "inspect") return inspect(put, pour, what, me, about);
  const fact = pour.log.lines.find((line) => line.fact.id === what)?.fact;
  if (mayRecord && part === "enter" && pour.snapshot.kinds[what]) return enterScreen(put, pour, what, query, me);
  if (mayRecord && part === "finish") {
    return enterScreen((head, ...all) => put(head, h("h1", {}, "Check and finish"), summary(pour), all.slice(1)), pour, "declared_complete", query, me);
  }
  if (mayRecord && part === "correct" && fact) return enterScreen(put, pour, fact.kind, query, me, { id: fact.id, body: fact.body, phone_at: fact.at - (clock.now() - Date.now()) });
  if (mayRecord && part === "strike" && fact) return strikeScreen(put, pour, fact);
  return logScreen(put, pour, about);
}

/* Fetched when it is first asked for; the worker has it on the phone by then. */
async function inspect(put, pour, ...rest) {
  const part = await import("./inspect.js").catch(() => null);
  if (part) return part.inspectScreen(put, pour, ...rest);
  return put({ title: "Inspections", up: `#pour/${pour.id}` }, h("h1", {}, "Inspections"), h("p", {}, "This part of the page is not on this phone yet. Go where there is signal, open it once, and try again."));
}

function access(me, lock) {
  if (!lock.isMine) return h("div", { class: "caution" }, h("p", {}, "This pour is open for writing in another tab of this phone."), press("Write here instead", async () => { await lock.steal(); draw(); }, "press quiet"));
  if (!me || keys.isStale(me)) return h("a", { class: "press", href: "#person" }, me ? `Are you still ${me.name}?` : "Say who is writing");
  return null;
}

async function paintStatus() {
  painting = { at: Date.now(), isStale: false, counts: await outbox.counts() };
  const { counts } = painting;
  sayStatus(counts);
  statusLine.classList.toggle("problem", counts.help > 0 || isOverdue(counts, Date.now()));
  const me = await keys.person();
  document.getElementById("writer").textContent = me ? `Writing: ${me.name}` : "Nobody is writing";
  await paintNote(counts);
}

function sayStatus(counts) {
  const fresh = Date.now() - lastSaved.at < JUST_SAVED_MS && Date.now() >= lastSaved.at;
  const words = phrase(counts, fresh);
  if (statusLine.textContent !== words) statusLine.textContent = words;
}

/* The store is read for the status line when something has changed, when “just saved” has run out, and now and then. */
function paintInTime() {
  const ranOut = painting.at - lastSaved.at < JUST_SAVED_MS && Date.now() - lastSaved.at >= JUST_SAVED_MS;
  if (painting.isStale || ranOut || Math.abs(Date.now() - painting.at) > 20000) paintStatus().catch(() => {});
}

async function paintNote(counts) {
  const off = clock.offsetMs();
  const contact = await meta("contact");
  const days = contact ? Math.floor((Date.now() - contact) / DAY_MS) : 0;
  const note = [];
  if (isOverdue(counts, Date.now())) note.push("Entries have waited for more than a day. Bring this phone to where there is signal.");
  else if (days >= 1) note.push(`No contact with the server for ${days === 1 ? "a day" : `${days} days`}.`);
  if (off !== null && Math.abs(off) >= clock.OFF_MS) note.push(`The clock of this phone is wrong by ${Math.round(Math.abs(off) / 60000)} min; times are corrected.`);
  if (["not_ours", "device", "fault"].includes(sender.link.code)) note.push(sender.link.words);
  const text = note.join(" ");
  const line = document.getElementById("note");
  if (line.textContent !== text) line.textContent = text;
}

/* A screen that is being written on is left alone; lists and the log show what is new. */
function refresh(again) {
  if (isPressed) return again();
  const waits = () => { if (isPressed) again(); return isPressed; };
  const hasNoNames = location.hash === "#person" && !work.querySelector("input[name=who]") && !work.querySelector("#secret")?.value;
  if (hasNoNames || !/\/(enter|correct|strike|finish|inspect\/)|^#(join|person)/.test(location.hash)) return draw("", waits);
  return paintStatus();
}

function soon(act, ms) {
  let timer = null;
  return () => { clearTimeout(timer); timer = setTimeout(act, ms); };
}

function switches() {
  const sun = document.getElementById("sun");
  const paint = () => {
    const isOn = localStorage.getItem("sun") === "1";
    document.body.classList.toggle("sun", isOn);
    sun.textContent = isOn ? "Sun mode off" : "Sun mode on";
    document.getElementById("units").textContent = system() === "us" ? "Units: °F, ft³" : "Units: °C, L";
  };
  sun.addEventListener("click", () => { localStorage.setItem("sun", localStorage.getItem("sun") === "1" ? "0" : "1"); paint(); });
  document.getElementById("units").addEventListener("click", () => { localStorage.setItem("units", system() === "us" ? "metric" : "us"); paint(); draw(); });
  paint();
}

/* In a pocket, or with a wet sleeve on the glass: a second finger presses nothing, and the screen can be locked. */
function guard() {
  let fingers = 0;
  let lifted = null;
  addEventListener("pointerdown", () => { clearTimeout(lifted); isPressed = true; }, { capture: true, passive: true });
  for (const end of ["pointerup", "pointercancel"]) {
    addEventListener(end, () => { clearTimeout(lifted); lifted = setTimeout(() => { isPressed = false; }, LIFTED_MS); }, { capture: true, passive: true });
  }
  addEventListener("touchstart", (event) => { fingers = event.touches.length; }, { capture: true, passive: true });
  addEventListener("touchend", () => setTimeout(() => { fingers = 0; }, LIFTED_MS), { capture: true, passive: true });
  addEventListener("click", (event) => {
    if (fingers > 1) { event.preventDefault(); event.stopPropagation(); }
  }, true);
  document.getElementById("pocket").addEventListener("click", () => {
    const cover = h("div", { class: "cover", role: "dialog", "aria-modal": "true", "aria-label": "Screen is locked" }, h("p", {}, "Locked for the pocket. The clock goes on."), hold("Hold to unlock", () => cover.remove()));
    document.body.append(cover);
    cover.querySelector("button").focus();
  });
}

async function begin() {
  switches();
  guard();
  addEventListener("hashchange", () => draw());
  const later = soon(() => refresh(later), 60);
  outbox.onChange(() => { painting.isStale = true; later(); });
  onSaved(() => painting.counts && sayStatus({ ...painting.counts, unsent: painting.counts.unsent + 1 }));
  onPull(later);
  recordLock.onLost(later);
  sender.onLink(soon(paintStatus, 60));
  setInterval(() => paintClocks(ring), 1000);
  setInterval(paintInTime, 1000);
  document.addEventListener("visibilitychange", () => paintClocks(ring));
  watch();
  try {
    await clock.load();
  } catch { /* the screen that is drawn next says it */ }
  await sender.claim();
  await draw();
  sender.start();
  ballast.load().catch(() => {});
}

begin();
