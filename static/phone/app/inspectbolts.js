/* Bolt tightening: pass by pass, bolt by bolt, in the order drawn. The values to set come from the server. */
import { endFields, isPlaced, plan, readTool, refuse, send, toolErrors, toolFields, watch } from "./inspect.js";
import { numberField } from "./pad.js";
import { system } from "./model.js";
import { fromSi, preferred, readNumber, shown, toSi } from "./units.js";
import { h, mainAction, press, told } from "./ui.js";

export const fresh = () => ({ method: "torque", friction: "", rounds: [], final: "" });
const WAYS = [["torque", "Torque"], ["stretch", "Stretch"]];

export function begin(job) {
  const { state, told: given } = job;
  if (!given.bolts.length) return job.put(h("p", {}, "No anchor bolt is entered for this machine. Enter them at the desk."));
  if (!isPlaced(job.pour)) return job.put(h("p", {}, "Bolts are tensioned after the pour was declared complete and has cured."));
  if (!state.friction) state.friction = Object.keys(given.targets)[0];
  if (!state.rounds.length) state.rounds = given.shares.map((share) => ({ share_ratio: share, values: [] }));
  job.paint = () => (state.step === 0 ? setStep(job) : state.step <= state.rounds.length ? passStep(job, state.step - 1) : endStep(job));
  return job.paint();
}

const unitOf = (job) => preferred(job.told[job.state.method].units, system());
const targetOf = (job, label) => job.told.targets[job.state.friction][label]?.[job.state.method === "torque" ? 0 : 1] ?? null;

/* What the tool is set to: as shown, in the unit of the reader. */
function setOf(job, label, share) {
  const [full, unit] = [targetOf(job, label), unitOf(job)];
  if (full === null) return null;
  const text = fromSi(full * share, unit).toFixed(job.state.method === "torque" ? unit.decimals : Math.max(unit.decimals, 3));
  return { text, words: `${text} ${unit.label}`, si: toSi(Number(text), unit) };
}

function picks(name, options, value, change) {
  return options.map(([key, words]) => h("label", { class: "press pick" }, h("input", { type: "radio", name, value: key, checked: key === value, onchange: () => change(key) }), h("span", {}, words)));
}

function setStep(job) {
  const { state, told: given } = job;
  const isBegun = state.rounds.some((one) => one.values.length);
  const form = h("form", { id: "inspection", novalidate: true, onsubmit: (event) => { event.preventDefault(); next(); } },
    isBegun ? told(`By ${state.method}, threads ${state.friction}; bolts are entered already.`) : [
      h("div", { class: "control" }, h("fieldset", {}, h("legend", {}, "How the bolts are measured"), picks("way", WAYS, state.method, (key) => { state.method = key; job.keep(); }))),
      h("div", { class: "control" }, h("fieldset", {}, h("legend", {}, "Threads and nut faces"), picks("friction", Object.keys(given.targets).map((name) => [name, name]), state.friction, (key) => { state.friction = key; job.keep(); })))],
    toolFields(job));
  watch(job, form);
  return job.put(h("p", { class: "caution" }, h("strong", {}, "Caution."), ` ${given.caution}`), h("p", {}, `Target: ${given.stress}.`), form, mainAction(h("button", { class: "press main", form: "inspection" }, "Start the first pass")));

  function next() {
    readTool(job, form);
    const errors = toolErrors(state);
    return errors.length ? refuse(job, errors) : job.go(1);
  }
}

function passStep(job, number) {
  const { state, told: given } = job;
  const round = state.rounds[number];
  const done = new Map(round.values.map((value) => [value[0], value]));
  const left = given.bolts.filter((bolt) => !done.has(bolt.label));
  const bolt = given.bolts.find((one) => one.label === job.chosen && !done.has(one.label)) ?? left[0];
  const places = new Map(job.drawing.bolts.map(([label, x, y]) => [label, [x, y]]));
  const marks = given.bolts.filter((one) => places.has(one.label)).map((one) => ({ x: places.get(one.label)[0], y: places.get(one.label)[1], label: String(one.turn ?? "–"), inside: true, full: done.has(one.label), ring: one.label === bolt?.label }));
  const unit = unitOf(job);
  const set = bolt ? setOf(job, bolt.label, round.share_ratio) : null;
  const picture = plan(job.drawing, marks, "Bolts with their order of tightening; a full mark is done, a thick ring is next");
  const head = [h("h2", {}, `Pass ${number + 1} of ${state.rounds.length}, ${Math.round(round.share_ratio * 100)} %`), picture];
  const last = number + 1 === state.rounds.length;
  const back = h("div", { class: "grid" }, press("Undo", takeBack, "press quiet"), press(number ? "Pass before" : "Tool and threads", () => job.go(number), "press quiet"));
  if (!bolt) return job.put(head, told(`All ${given.bolts.length} bolts are done in this pass.`), list(), back, mainAction(press(last ? "Final round" : `Start pass ${number + 2}`, () => job.go(number + 2), "press main")));
  const field = numberField({ id: "value", text: "", unit, other: null, whole: false });
  const say = h("p", { class: "error", role: "alert" });
  return job.put(head, h("p", { class: "next" }, `Bolt ${bolt.label}, number ${bolt.turn ?? "–"}, ${bolt.thread}`), bolt.problem && told(bolt.problem),
    set && h("p", { class: "set" }, set.words), say,
    h("details", { open: !set }, h("summary", { class: "press quiet" }, "Another value was read"), h("div", { class: "control" }, h("label", { for: "value" }, `Value at ${bolt.label}`), field), press("Enter this value", other)),
    list(), back, left.length < given.bolts.length && press(last ? "Go to the final round with bolts missing" : "Next pass with bolts missing", () => job.go(number + 2), "press quiet"),
    set && mainAction(press(`${bolt.label} done at ${set.words}`, () => enter(set.si, set.text), "press main")));

  function enter(si, text) {
    round.values.push([bolt.label, si, text]);
    job.chosen = "";
    job.keep();
    job.paint();
  }

  function other() {
    const value = readNumber(field.querySelector("input").value);
    const { low, high, source } = given[state.method].limit;
    const si = value === null ? null : toSi(value, unit);
    if (si === null) say.textContent = "The value is not a number; write digits such as 12.5.";
    else if (si < low || si > high) say.textContent = `${value} ${unit.label} is outside ${shown(low, unit)} to ${shown(high, unit)} [${source}].`;
    else enter(si, field.querySelector("input").value.trim());
  }

  function takeBack() {
    round.values.pop();
    job.keep();
    job.paint();
  }

  function list() {
    return [h("h2", {}, "Bolts in order"), given.bolts.map((one) => (done.has(one.label)
      ? h("p", {}, `✓ ${one.turn ?? "–"}. ${one.label}: ${done.get(one.label)[2]} ${unit.label}`)
      : press(`${one.turn ?? "–"}. ${one.label}${one.label === bolt.label ? ", in hand" : ""}`, () => { job.chosen = one.label; job.paint(); }, "press quiet")))];
  }
}

function endStep(job) {
  const { state, told: given } = job;
  const missing = state.rounds.map((round, number) => [number + 1, given.bolts.filter((bolt) => !round.values.some((value) => value[0] === bolt.label)).map((bolt) => bolt.label)]).filter(([, labels]) => labels.length);
  const form = h("form", { id: "inspection", novalidate: true, onsubmit: (event) => { event.preventDefault(); save(); } },
    h("div", { class: "control" }, h("fieldset", {}, h("legend", {}, "Final round, bolt by bolt at the full value"), picks("final", [["yes", "Made; no nut turned"], ["no", "Not made"]], state.final, (key) => { state.final = key; job.keep(); }))), endFields(job));
  watch(job, form);
  return job.put(missing.length ? h("ul", { class: "findings" }, missing.map(([number, labels]) => h("li", { class: "warning" }, h("span", { class: "word" }, "Missing:"), ` pass ${number}: ${labels.join(", ")}`))) : told("Every bolt is entered in every pass."),
    press("Back to the last pass", () => job.go(state.rounds.length), "press quiet"), form, mainAction(h("button", { class: "press main", form: "inspection" }, "Save")));

  function save() {
    const errors = toolErrors(state);
    if (!state.final) errors.push({ name: "", words: "Final round: pick whether it was made." });
    return send(job, { method: state.method, friction: state.friction, rounds: state.rounds, unit: unitOf(job).key, final_round: state.final === "yes" }, errors, `${state.rounds.at(-1).values.length} of ${given.bolts.length} bolts`);
  }
}
