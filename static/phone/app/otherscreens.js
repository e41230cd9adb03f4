/* Screens that belong to the phone: the pours, who is writing, joining, what waits and needs help, a machine's tag. */
import * as keys from "./keys.js";
import * as outbox from "./outbox.js";
import { KEEP_DAYS } from "./outbox.js";
import { titleOf } from "./fold.js";
import { WORDS_OF_STATE } from "./judge.js";
import { nextStep } from "./steps.js";
import * as clock from "./clock.js";
import { link as network, nudge, sendNow } from "./sender.js";
import { POUR_BYTES, room } from "./photos.js";
import { publicKey, regain } from "./prove.js";
import { all, meta, setMeta } from "./store.js";
import { call } from "./wire.js";
import { h, link, mainAction, press, told } from "./ui.js";

export async function homeScreen(show, pours) {
  const device = await meta("device");
  const free = await room();
  show({ title: "Pours" }, h("h1", {}, "Pours"),
    pours.some((pour) => pour.snapshot.site.is_demo) && h("p", { class: "invented" }, "Invented demonstration data."),
    await tabBanner(),
    free < POUR_BYTES && told(`Little room on this phone: ${Math.round(free / 1e6)} MB are free, 150 MB are good for a pour. Words are still saved; photos may not be.`),
    pours.map((pour) => h("a", { class: "press card", href: `#pour/${pour.id}` }, h("strong", {}, pour.snapshot.label), h("span", {}, pour.snapshot.site.name),
      h("span", { class: "state" }, WORDS_OF_STATE[pour.log.state]), h("span", {}, nextStep(pour.log, clock.now()).sentence), clockLeft(pour),
      pour.waiting > 0 && h("span", {}, `Not sent yet: ${pour.waiting}`))),
    !pours.length && h("p", {}, device ? "No pour is on this phone yet. Where there is signal, the pours of the site come by themselves." : "This phone has not joined a site yet."),
    link("What waits on this phone", "#waiting", "press quiet"), link("Pages that need a connection", "/phone/", "press quiet"));
}

function clockLeft(pour) {
  const ends = pour.log.open_batches.map((batch) => batch.ends_at).filter(Boolean);
  return ends.length ? h("strong", {}, `Working life left: ${Math.max(0, Math.ceil((Math.min(...ends) - clock.now()) / 60000))} min`) : null;
}

/* A tab of this system forgets all after a week without a visit; an icon on the home screen does not. */
export async function tabBanner() {
  const isApple = /iPhone|iPad|iPod/.test(navigator.userAgent) || (navigator.platform === "MacIntel" && navigator.maxTouchPoints > 1);
  if (!isApple || navigator.standalone) return null;
  return h("div", { class: "caution", role: "note" }, h("strong", {}, "Not safe without signal in this tab."),
    h("p", {}, "This browser may delete what a tab has saved after 7 days. Tap Share, then “Add to Home Screen”, open it from there, and join the site from there. System 18.4 or later keeps the screen on."));
}

export async function personScreen(show, again) {
  const me = await keys.person();
  const snaps = await all("snaps");
  const people = [...new Map(snaps.flatMap((snap) => snap.snapshot.people).filter((one) => one.may_record).map((one) => [one.id, one])).values()];
  const problem = h("p", { class: "error", role: "alert" });
  const secret = h("input", { type: "password", id: "secret", autocomplete: "current-password" });
  const email = h("input", { type: "text", id: "email", autocomplete: "username", inputmode: "email" });
  const picked = () => people.find((one) => String(one.id) === document.querySelector("input[name=who]:checked")?.value);
  const who = () => (picked() ? { person_id: picked().id } : { email: email.value.trim() });
  const enter = async () => {
    try {
      const wrong = await keys.signIn(who(), secret.value);
      problem.textContent = wrong && `Error: ${wrong}`;
      if (!wrong) again();
    } catch {
      problem.textContent = "Error: no connection, so nobody can be asked. You can go on without proof; the desk will ask who wrote it.";
      if (picked()) problem.after(press("Go on without proof", async () => { await keys.unproven(picked()); again(); }, "press quiet"));
    }
  };
  show({ title: "Who is writing?", up: "#" }, h("h1", {}, "Who is writing?"),
    me && [told(`Now: ${me.name}${me.key_id ? "" : ", without proof"}.`), keys.isStale(me) && press(`I am still ${me.name}`, async () => { await keys.stillHere(me); again(); }), press("Sign out on this phone", async () => { await signOut(again); }, "press quiet")],
    problem,
    h("form", { id: "who", onsubmit: (event) => { event.preventDefault(); enter(); } },
      people.length > 0 && h("div", { class: "control" }, h("fieldset", {}, h("legend", {}, "Person"), people.map((one) => h("label", { class: "press pick" }, h("input", { type: "radio", name: "who", value: one.id }), h("span", {}, one.name))))),
      h("div", { class: "control" }, h("label", { for: "email" }, people.length ? "Not in the list: your e-mail address (may be empty)" : "Your e-mail address"), email),
      h("div", { class: "control" }, h("label", { for: "secret" }, "Your PIN for phones, or your password"), secret)),
    mainAction(h("button", { class: "press main", form: "who" }, "Write as this person")));
}

async function signOut(again) {
  const { unsent, help } = await outbox.counts();
  await keys.signOut();
  again(unsent + help ? `Signed out. ${unsent + help} entries still wait here and will be sent.` : "Signed out.");
}

export async function joinScreen(show, again) {
  const code = h("input", { type: "text", id: "code", name: "code", autocomplete: "off", autocapitalize: "characters", value: decodeURIComponent(location.hash.match(/^#join\/(.+)/)?.[1] ?? "") });
  const problem = h("p", { class: "error", role: "alert" });
  const join = async () => {
    try {
      const answer = await call("POST", "/sync/v1/enrol", { json: { code: code.value, public_key: await publicKey() } });
      // the code may be used up because the answer to this very phone was lost on its way
      const device = answer.status === 201 ? answer.data.device : answer.status === 410 ? await regain() : null;
      if (!device) throw new Error(answer.data?.error?.message ?? `The server answered ${answer.status}.`);
      await setMeta("device", { highest_seq: 0, ...device });
      await navigator.storage?.persist?.();
      nudge();
      again();
    } catch (error) {
      problem.textContent = `Error: ${error.message}`;
    }
  };
  show({ title: "Join the site" }, h("h1", {}, "Join the site"),
    h("p", {}, "An administrator of the site makes a code at the desk, under “Devices”. Then this phone can keep the pour log without signal."), await tabBanner(), problem,
    h("form", { id: "join", onsubmit: (event) => { event.preventDefault(); join(); } }, h("div", { class: "control" }, h("label", { for: "code" }, "Code from the desk"), code)),
    link("Go on without joining: pages that need a connection", "/phone/", "press quiet"),
    mainAction(h("button", { class: "press main", form: "join" }, "Join")));
}

export async function waitingScreen(show, again, update) {
  const rows = (await outbox.rows()).filter((row) => row.state !== "purged").sort((a, b) => b.seq - a.seq);
  const counts = await outbox.counts();
  const shots = (await all("shots")).filter((shot) => shot.problem);
  const help = rows.filter((row) => row.state === "needs_help");
  const odd = rows.filter((row) => row.now === "held" || row.now === "quarantined");
  show({ title: "On this phone", up: "#" }, h("h1", {}, "On this phone"),
    h("p", {}, network.words || (network.at ? "Connected." : "Not connected yet.")),
    h("dl", {}, [["Received by the server", counts.received], ["Not sent yet", counts.unsent + counts.sending], ["Need help", counts.help], ["Photos not sent yet", counts.photos]].map(([term, number]) => [h("dt", {}, term), h("dd", {}, String(number))])),
    h("p", {}, `Nothing is deleted here before the server has it in its backup and ${KEEP_DAYS} days have passed.`),
    help.map((row) => h("article", { class: "entry-line" }, h("p", {}, h("strong", {}, titleOf(row.kind)), ` ${row.label}`), h("p", { class: "error" }, row.problem?.message ?? ""), press("Try this one again", async () => { await outbox.tryAgain(row.op_id); nudge(); again(); }, "press quiet"))),
    odd.map((row) => h("p", { class: "caution" }, h("strong", {}, titleOf(row.kind)), ` ${row.now === "held" ? "waits at the server for an entry of another phone" : "waits for a decision at the desk"}${row.receipt.reason ? `: ${row.receipt.reason}` : ""}`)),
    shots.map((shot) => h("p", { class: "error" }, `A photo was not taken by the server: ${shot.problem.message}. It stays here and in the rescue file.`)),
    press("Send now", () => { sendNow(); again(); }), press("Save a rescue file", exportFile, "press quiet"), update);
}

async function exportFile() {
  const device = await meta("device");
  const encode = (buffer) => {
    const bytes = new Uint8Array(buffer);
    let text = "";
    for (let at = 0; at < bytes.length; at += 32768) text += String.fromCharCode(...bytes.subarray(at, at + 32768));
    return btoa(text);
  };
  const content = await outbox.rescue(device?.id ?? "", new Date().toISOString(), encode);
  const url = URL.createObjectURL(new Blob([JSON.stringify(content)], { type: "application/json" }));
  const file = h("a", { href: url, download: `rescue-${new Date().toISOString().slice(0, 10)}.json` });
  document.body.append(file);
  file.click();
  file.remove();
}

export function machineScreen(show, pours, id) {
  const here = pours.filter((pour) => pour.snapshot.machine.id === id);
  show({ title: here[0]?.snapshot.machine.tag ?? "Machine", up: "/phone/app/#" },
    h("h1", {}, here[0]?.snapshot.machine.tag ?? "This machine is not on this phone"),
    here.length ? [h("p", {}, here[0].snapshot.machine.service), told("There is no connection; this is what the phone knows.")] : h("p", {}, "There is no connection. Go where there is signal and scan the tag again."),
    here.map((pour) => h("a", { class: "press card", href: `/phone/app/#pour/${pour.id}` }, h("strong", {}, pour.snapshot.label), h("span", { class: "state" }, WORDS_OF_STATE[pour.log.state]), h("span", {}, nextStep(pour.log, clock.now()).sentence))),
    link("All pours on this phone", "/phone/app/#", "press quiet"));
}
