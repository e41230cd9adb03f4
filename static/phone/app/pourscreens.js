/* The screens of one pour: its log with the batch clock, hold points, what is missing, all entries, check and finish. */
import * as clock from "./clock.js";
import { honestWords, screenButton } from "./alerts.js";
import { otherPhoto } from "./otherphotos.js";
import { picture } from "./photos.js";
import { WORDS_OF_STATE } from "./judge.js";
import { fillInHand, titleOf } from "./fold.js";
import { words as valueWords } from "./forms.js";
import { system } from "./model.js";
import { nextStep } from "./steps.js";
import { lastSaved, newId, undo, write } from "./write.js";
import { unitsOf, shown } from "./units.js";
import { clockTime, dayAndTime, findings, h, hold, link, mainAction, press, told } from "./ui.js";

const ALWAYS = [["reading", "Reading"], ["leak", "Leak"], ["stopped", "Stop work"], ["compartment_full", "Vent bleeds, full"], ["sample", "Sample"], ["note", "Note"]];
const UNDO_MS = 10 * 60000;
const enter = (pour, kind, about = {}) => `#pour/${pour.id}/enter/${kind}?${new URLSearchParams(about)}`;

export function logScreen(show, pour, { mayRecord, access, again }) {
  const { log, snapshot } = pour;
  const step = nextStep(log, clock.now(), snapshot.rules?.soon_min);
  const href = step.kind === "declared_complete" ? `#pour/${pour.id}/finish` : enter(pour, step.kind, step.about);
  show({ title: snapshot.label, up: "#" },
    h("h1", {}, snapshot.label),
    h("p", {}, h("span", { class: "state" }, WORDS_OF_STATE[log.state]), ` ${snapshot.grout.data_sheet}`),
    access, savedLine(pour, again),
    log.open_batches.map((batch) => batchClock(batch, snapshot)),
    h("p", { class: `next${step.is_urgent ? " urgent" : ""}` }, step.sentence),
    findings(log.findings), fillPicture(log, snapshot),
    h("h2", {}, "More"),
    h("nav", { class: "grid", "aria-label": "More" },
      mayRecord && menu(pour),
      link("Hold points", `#pour/${pour.id}/points`), link(`What is missing: ${log.missing_before_complete.length}`, `#pour/${pour.id}/missing`),
      link(`All entries: ${log.lines.length}`, `#pour/${pour.id}/entries`), link("Inspections", `#pour/${pour.id}/inspect`),
      mayRecord && log.poured_at !== null && log.declared_at === null && link("Check and finish", `#pour/${pour.id}/finish`)),
    screenButton(), log.open_batches.length > 0 && told(honestWords(log.open_batches, snapshot.site.zone)),
    snapshot.site.emergency_contact && h("p", {}, `Emergency: ${snapshot.site.emergency_contact}`),
    h("p", {}, `Entries of other phones as of ${dayAndTime(pour.pulled_at, snapshot.site.zone)}.`),
    mayRecord && step.kind && mainAction(link(step.button, href, "press main")));
}

/* Right after a save: what was saved, in both units, and one tap to take it back. */
function savedLine(pour, again) {
  const isFresh = lastSaved.record_id === pour.id && Date.now() - lastSaved.at < UNDO_MS && lastSaved.op;
  if (!isFresh) return null;
  const mayUndo = lastSaved.kind !== "struck" && !pour.log.lines.some((line) => line.fact.replaces === lastSaved.op);
  const take = async (event) => {
    event.target.disabled = true;
    await undo(pour, lastSaved.op);
    again();
  };
  return h("div", { class: "saved" }, h("p", {}, `Saved on this phone: ${lastSaved.words}.`), mayUndo && press("Undo this entry", take, "press quiet"));
}

function batchClock(batch, snapshot) {
  const about = `Batch ${batch.number}${batch.grout_c === null ? "" : `, grout ${shown(batch.grout_c, unitsOf(snapshot, system()).c)}`}`;
  if (batch.ends_at === null) return h("section", { class: "clock" }, h("p", {}, about), h("p", {}, "Working life not known: the data sheet does not reach this temperature. Ask the engineer."));
  return h("section", { class: "clock", "data-ends-at": String(batch.ends_at), "data-batch": String(batch.number), "data-from": String(batch.clock_from), "aria-label": `Working life of batch ${batch.number}` },
    h("p", {}, about), h("p", { class: "timer", "data-left": true }), h("p", {}, "Working life ends at ", h("strong", {}, clockTime(batch.ends_at, snapshot.site.zone))));
}

/* Minutes are worked out from the wall clock at each paint, so a phone that slept is right as soon as it is looked at. */
export function paintClocks(ring) {
  for (const place of document.querySelectorAll("[data-ends-at]")) {
    const [ends, now] = [Number(place.dataset.endsAt), clock.now()];
    const left = (ends - now) / 60000;
    const text = left > 0 ? `${Math.ceil(left)} min` : `${Math.floor(-left)} min over`;
    const shownIn = place.querySelector("[data-left]");
    if (shownIn.textContent !== text) shownIn.textContent = text;
    place.classList.toggle("over", left <= 0);
    place.classList.toggle("soon", left > 0 && left < 10);
    ring({ number: place.dataset.batch, ends_at: ends, clock_from: Number(place.dataset.from) }, now);
  }
}

function fillPicture(log, snapshot) {
  const unit = unitsOf(snapshot, system()).l;
  const most = Math.max(...log.fills.map((fill) => Math.max(fill.takeoff_l + 3 * fill.sd_l, fill.placed_l)));
  const rows = log.fills.map((fill) => {
    const words = `${fill.name}: ${shown(fill.placed_l, unit)} of ${shown(fill.takeoff_l, unit)}${fill.full_at === null ? "" : ", full"}`;
    const at = (litres) => 340 * litres / most;
    return h("div", { class: "fill" }, h("p", {}, words), h("svg:svg", { viewBox: "0 0 340 44", role: "img", "aria-label": words },
      h("svg:rect", { x: at(fill.takeoff_l - 2 * fill.sd_l), y: 4, width: at(4 * fill.sd_l), height: 36, fill: "none", stroke: "currentColor", "stroke-dasharray": "4 3" }),
      h("svg:rect", { x: 0, y: 8, width: at(fill.placed_l), height: 28, fill: "currentColor" }),
      h("svg:line", { x1: at(fill.takeoff_l), x2: at(fill.takeoff_l), y1: 0, y2: 44, stroke: "currentColor", "stroke-width": 3 }),
      h("svg:rect", { x: 1, y: 8, width: at(fill.takeoff_l), height: 28, fill: "none", stroke: "currentColor", "stroke-width": 2 })));
  });
  return [h("h2", {}, "Placed against takeoff"), rows, h("p", {}, "The upright line is the takeoff; the dashed box is what it may be off.")];
}

function menu(pour) {
  const { log } = pour;
  if (log.state === "settled") return ALWAYS.filter(([kind]) => kind === "reading" || kind === "note").map(([kind, words]) => link(words, enter(pour, kind)));
  const found = ALWAYS.filter(([kind]) => kind !== "stopped" || !log.open_stoppage).map(([kind, words]) => link(words, enter(pour, kind)));
  for (const batch of log.open_batches) {
    for (const [kind, done] of [["aggregate_in", batch.aggregate_at], ["wetted_out", batch.wetted_at]]) {
      if (done === null) found.push(link(`${titleOf(kind, log.grout)}, batch ${batch.number}`, enter(pour, kind, { batch: batch.number })));
    }
    for (const [kind, words] of [["placed", "Place"], ["discarded", "Discard"]]) found.push(link(`${words} batch ${batch.number}`, enter(pour, kind, { batch: batch.number })));
  }
  for (const leak of log.open_leaks) found.push(link("Leak closed", enter(pour, "leak_closed", { leak: leak.id })));
  if (log.is_released || log.poured_at !== null) found.push(link(`Start batch ${log.next_batch}`, enter(pour, "liquids_started", { batch: log.next_batch })));
  return found;
}

export function pointScreen(show, pour, { mayRecord }) {
  const { log, snapshot } = pour;
  const answers = { accepted: "Accepted", not_accepted: "Not accepted", not_applicable: "Does not apply" };
  const cards = log.points.map((point) => {
    const latest = point.latest;
    const inside = [h("strong", {}, `${point.position}. ${point.step} (${point.code})`),
      h("span", { class: `state${point.what_is_open && point.holds_the_pour ? " stop" : ""}` }, point.what_is_open || answers[latest.answer]),
      latest && h("span", {}, `${latest.author}${latest.witness ? `, seen by ${latest.witness}` : ""}, ${dayAndTime(latest.at, snapshot.site.zone)}`)];
    return mayRecord ? h("a", { class: "press card", href: enter(pour, "point_answer", { point: point.id }) }, inside) : h("div", { class: "press card" }, inside);
  });
  show({ title: "Hold points", up: `#pour/${pour.id}` }, h("h1", {}, "Hold points"), h("p", {}, "H holds the work until a second person has seen it. The order is that of the work."), cards);
}

export function missingScreen(show, pour) {
  const { log } = pour;
  const part = (list, words) => (list.length ? findings(list) : h("p", {}, words));
  show({ title: "What is missing", up: `#pour/${pour.id}` }, h("h1", {}, "What is missing"),
    h("h2", {}, "Before grout is mixed"), part(log.missing_before_release, "Nothing. The pour is released."),
    h("h2", {}, "Before the record is complete"), part(log.missing_before_complete, "Nothing."));
}

export async function entryScreen(show, pour, { mayRecord }) {
  const articles = await Promise.all([...pour.log.lines].reverse().map((line) => entryLine(line, pour, mayRecord)));
  show({ title: "All entries", up: `#pour/${pour.id}` }, h("h1", {}, "All entries"),
    h("p", {}, "Newest first. Nothing is changed or deleted: a correction takes the place of an entry, and the old one stays, struck through."),
    articles.length ? articles : h("p", {}, "No entry yet."));
}

const WHERE = { saved: "Not sent yet, safe on this phone", sending: "Being sent", sent: "Received", safe: "Received, in the backup", needs_help: "Needs help" };

async function entryLine(line, pour, mayRecord) {
  const { fact, by } = line;
  const struck = by.length > 0 || Boolean(line.lost);
  const mark = (words) => (struck ? h("s", {}, words) : words);
  const slots = pour.snapshot.kinds[fact.kind]?.slots ?? [];
  const row = pour.rows.get(fact.id);
  const shots = await Promise.all((fact.body.blobs ?? []).map(async (id) => [id, await picture(id)]));
  return h("article", { class: "entry-line" },
    h("p", {}, h("strong", {}, mark(titleOf(fact.kind, pour.log.grout))), h("br"), `${dayAndTime(fact.at, pour.snapshot.site.zone)}, ${fact.author}`, row && h("br"), row && WHERE[row.state]),
    h("p", {}, slots.filter((slot) => slot.name in fact.body).map((slot) => [mark(`${slot.label}: ${valueWords(slot, fact.body[slot.name], pour, system())}`), h("br")]),
      fact.body.from_paper && ["Transcribed from paper", h("br")], struck ? `Struck through: ${(by[0] ?? line.lost).reason}` : fact.reason && `Reason: ${fact.reason}`),
    shots.map(([id, url], at) => url ? h("img", { class: "snap", src: url, alt: `Photo ${at + 1}`, width: 120, height: 90 }) : otherPhoto(id, at + 1)),
    mayRecord && !struck && !["struck", "resolved"].includes(fact.kind) && [
      fact.kind !== "declared_complete" && link("Correct", `#pour/${pour.id}/correct/${fact.id}`, "press quiet"), link("Strike out", `#pour/${pour.id}/strike/${fact.id}`, "press quiet")]);
}

export function strikeScreen(show, pour, fact) {
  const reason = h("input", { type: "text", id: "reason", autocomplete: "off", maxlength: 300 });
  const problem = h("p", { class: "error", role: "alert" });
  const id = newId();
  const strike = async () => {
    if (!reason.value.trim()) {
      problem.textContent = "Error: say why it is struck out.";
      return;
    }
    await write({ op_id: id, pour, kind: "struck", body: {}, replaces: fact.id, deps: [fact.id], reason: reason.value.trim(), label: "Struck out" });
    location.hash = `#pour/${pour.id}/entries`;
  };
  show({ title: "Strike out", up: `#pour/${pour.id}/entries` }, h("h1", {}, "Strike out an entry"),
    h("p", {}, `${titleOf(fact.kind, pour.log.grout)}, ${dayAndTime(fact.at, pour.snapshot.site.zone)}. It stays on record, struck through, and counts no more.`), problem,
    h("div", { class: "control" }, h("label", { for: "reason" }, "Why it is struck out"), reason), mainAction(hold("Strike it out", strike)));
}

export function summary(pour) {
  const { log, snapshot } = pour;
  const units = unitsOf(snapshot, system());
  const pair = (term, words) => [h("dt", {}, term), h("dd", {}, words)];
  return [
    log.missing_before_complete.length > 0 && [h("h2", {}, "Missing"), findings(log.missing_before_complete)],
    log.findings.length > 0 && [h("h2", {}, "Findings"), findings(log.findings)],
    h("h2", {}, "Compartments"),
    h("dl", {}, log.fills.map((fill) => pair(fill.name, `${shown(fill.placed_l, units.l)} of ${shown(fill.takeoff_l, units.l)}, ${fill.full_at === null ? "not seen full" : `full at ${clockTime(fill.full_at, snapshot.site.zone)}`}`))),
    h("h2", {}, "Batches"),
    h("dl", {}, log.batches.length ? log.batches.map((batch) => pair(`${batch.number}, lot ${batch.lot || "–"}`, batchWords(batch, units))) : pair("None", "No batch was started.")),
    h("h2", {}, "Samples"),
    h("dl", {}, log.samples.length ? log.samples.map((sample) => pair(sample.body.label, `batch ${sample.body.batch}`)) : pair("None", "No sample was cast.")),
    h("p", {}, link("Correct an entry", `#pour/${pour.id}/entries`, "press quiet")),
  ];
}

function batchWords(batch, units) {
  const said = [shown(batch.grout_c, units.c)];
  if (batch.portions.length) said.push(`${shown(batch.placed_l, units.l)} placed`);
  else if (batch.discarded_at === null) said.push("not placed");
  if (batch.discarded_at !== null) said.push(`discarded: ${batch.discarded_why}`);
  return said.join("; ");
}

export { fillInHand };
