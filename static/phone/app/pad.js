/* The keypad under a number: large keys, a sign, and the number read back in the other unit. */
import { fromSi, readNumber, toSi } from "./units.js";
import { h } from "./ui.js";

const KEYS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", "±", "0", "."];
const SPOKEN = { "±": "change the sign", ".": "point" };

export function withKey(text, key) {
  if (key === "±") return text.startsWith("-") ? text.slice(1) : `-${text}`;
  if (key === ".") return /[.,]/.test(text) ? text : `${text}.`;
  return text + key;
}

export function readBack(text, unit, other) {
  const value = readNumber(text);
  if (value === null || !unit || !other || unit === other) return "";
  return `${value} ${unit.label} = ${fromSi(toSi(value, unit), other).toPrecision(4).replace(/(\.\d*?)0+$/, "$1").replace(/\.$/, "")} ${other.label}`;
}

export function numberField({ id, text, unit, other, whole }) {
  const input = h("input", { type: "text", id, autocomplete: "off", inputmode: "none", value: text });
  const echo = h("p", { class: "readback", "aria-live": "polite" });
  const pad = h("div", { class: "keypad", hidden: true });
  const tell = () => { echo.textContent = readBack(input.value, unit, other); };
  const set = (next) => {
    input.value = next;
    input.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const key = (label, spoken, act) => h("button", { type: "button", class: "press", "aria-label": spoken, onclick: act }, label);
  for (const one of KEYS) {
    if (whole && one in SPOKEN) continue;
    pad.append(key(one, SPOKEN[one], () => set(withKey(input.value, one))));
  }
  pad.append(key("⌫", "take back one digit", () => set(input.value.slice(0, -1))), key("Clear", null, () => set("")));
  input.addEventListener("input", tell);
  input.addEventListener("focus", () => {
    open(pad);
    input.scrollIntoView({ block: "nearest" }); // a keypad that closed above has moved it
  });
  tell();
  return h("div", { class: "measure" }, input, h("span", { class: "unit" }, unit?.label ?? ""), echo, pad);
}

export function open(pad) {
  for (const other of document.querySelectorAll(".keypad")) other.hidden = other !== pad;
}
