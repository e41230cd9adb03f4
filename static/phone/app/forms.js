/* The fields of an entry, from the table of slots that the snapshot brings. Wrong entries come back with a sentence. */
import { fixed, fromSi, inBoth, preferred, readNumber, shown, toSi } from "./units.js";
import { numberField } from "./pad.js";
import { h } from "./ui.js";

const mayBeEmpty = (slot) => (slot.required ? "" : " (may be empty)");
const idOf = (slot) => `f-${slot.name}`;

export function picks(slot, pour, me) {
  const { snapshot, log } = pour;
  if (slot.shape === "choice") return slot.choices;
  if (slot.shape === "place") return log.fills.map((fill) => [fill.name, fill.name]);
  if (slot.shape === "point") return log.points.map((point) => [String(point.id), `${point.position}. ${point.step}`]);
  if (slot.shape === "person") return [...(slot.required ? [] : [["", "Nobody"]]), ...snapshot.people.filter((one) => one.id !== me).map((one) => [String(one.id), one.name])];
  if (slot.shape === "entry") return log.leaks.map((leak) => [leak.id, `${leak.where} (${leak.compartment})`]);
  if (slot.name === "lot" && snapshot.lots.length) return snapshot.lots.map((lot) => [lot.lot_no, lot.lot_no]);
  return null;
}

export function field(slot, pour, value, { system, me }) {
  const options = picks(slot, pour, me);
  if (options) return pickField(slot, options, String(value ?? ""));
  const id = idOf(slot);
  const label = h("label", { for: id }, slot.label + mayBeEmpty(slot));
  const help = slot.help && h("p", { class: "help" }, slot.help);
  if (slot.shape === "number") {
    const unit = preferred(slot.units, system);
    const other = preferred(slot.units, system === "us" ? "metric" : "us");
    return h("div", { class: "control", "data-slot": slot.name }, label, help, numberField({ id, text: String(value ?? ""), unit, other, whole: slot.whole }));
  }
  const input = slot.max_length > 200 ? h("textarea", { id, rows: 4, value: value ?? "" }) : h("input", { type: "text", id, autocomplete: "off", value: value ?? "" });
  return h("div", { class: "control", "data-slot": slot.name }, label, help, input);
}

function pickField(slot, options, value) {
  const all = options.map(([key, words]) => h("label", { class: "press pick" },
    h("input", { type: "radio", name: slot.name, value: key, checked: String(key) === value }), h("span", {}, words)));
  return h("div", { class: "control", "data-slot": slot.name }, h("fieldset", {}, h("legend", {}, slot.label + mayBeEmpty(slot)), slot.help && h("p", { class: "help" }, slot.help), all));
}

/* What stands in the fields now, as text. */
export function typed(form) {
  const values = {};
  for (const place of form.querySelectorAll("[data-slot]")) {
    const radio = place.querySelector("input[type=radio]");
    values[place.dataset.slot] = radio ? (place.querySelector("input:checked")?.value ?? "") : place.querySelector("input[type=text], textarea").value;
  }
  return values;
}

/* Typed text → body in SI, or sentences for what is wrong. `sure` names numbers that the person said are right. */
export function bodyOf(slots, values, { system, sure, fixedValues = {} }) {
  const [body, entered, errors] = [{}, {}, []];
  for (const slot of slots) {
    if (slot.name in fixedValues) {
      body[slot.name] = fixedValues[slot.name];
      continue;
    }
    const text = (values[slot.name] ?? "").trim();
    if (!text) {
      if (slot.required) errors.push({ name: slot.name, words: `${slot.label} is empty; ${slot.shape === "number" || slot.shape === "text" ? "enter it" : "pick one"}.` });
    } else if (slot.shape === "number") readSlot(slot, text, { system, sure, body, entered, errors });
    else if (slot.shape === "person" || slot.shape === "point") body[slot.name] = Number(text);
    else if (slot.shape === "text" && text.length > slot.max_length) errors.push({ name: slot.name, words: `${slot.label} has ${text.length} signs; ${slot.max_length} are the limit. Make it shorter.` });
    else body[slot.name] = text;
  }
  if (Object.keys(entered).length) body.as_entered = entered;
  return { body, errors };
}

function readSlot(slot, text, { system, sure, body, entered, errors }) {
  const unit = preferred(slot.units, system);
  const value = readNumber(text);
  const say = (words, more = {}) => errors.push({ name: slot.name, words, ...more });
  if (value === null) return say(`${slot.label} “${text}” is not a number; write digits such as 12.5.`);
  if (slot.whole && !Number.isInteger(value)) return say(`${slot.label} ${text} is not a whole number.`);
  const si = unit ? toSi(value, unit) : value;
  const { low, high, likely_low: likelyLow, likely_high: likelyHigh, source } = slot.limit;
  const range = (from, to) => `${shown(from, unit)} to ${shown(to, unit)}`;
  if (si < low || si > high) return say(`${slot.label} ${text} ${unit?.label ?? ""} is outside ${range(low, high)} [${source}].`);
  if ((si < likelyLow || si > likelyHigh) && !sure.has(slot.name)) {
    return say(`${slot.label} ${text} ${unit?.label ?? ""} is unusual: ${range(likelyLow, likelyHigh)} is expected [${source}]. Is the unit right?`, { may_be_right: true });
  }
  body[slot.name] = si;
  entered[slot.name] = { text, unit: unit?.key ?? "" };
  return null;
}

export function textOf(slot, value, entered, system) {
  if (value === null || value === undefined) return "";
  if (slot.shape !== "number") return String(value);
  const unit = preferred(slot.units, system);
  if (entered && (!unit || entered.unit === unit.key)) return entered.text;
  return unit ? fixed(fromSi(value, unit), unit.decimals).replace("\u2212", "-").replaceAll("\u202f", "") : String(value);
}

/* One value of a body in words, for lists and for the read-back. */
export function words(slot, value, pour, system) {
  if (slot.shape === "number") return slot.units?.length ? shown(value, preferred(slot.units, system)) : String(value);
  const option = picks(slot, pour, 0)?.find(([key]) => String(key) === String(value));
  return option ? option[1] : String(value);
}

export function readAloud(slots, body) {
  const said = slots.filter((slot) => slot.shape === "number" && slot.name in body);
  return said.map((slot) => `${slot.label.toLowerCase()} ${slot.units?.length ? inBoth(body[slot.name], slot.units) : body[slot.name]}`);
}
