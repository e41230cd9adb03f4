/* Three small things for forms in gloves: a keypad with a sign under the number that is asked for, the number read back in the other
   unit, and one press that counts once. Without script the fields are plain text fields and do the same work. */
const KEYS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", "±", "0", "."];
const NUMBER = /^[+-]?(\d+([.,]\d*)?|[.,]\d+)$/;

function withKey(text, key) {
  if (key === "±") return text.startsWith("-") ? text.slice(1) : `-${text}`;
  if (key === ".") return /[.,]/.test(text) ? text : `${text}.`;
  return text + key;
}

function button(label, spoken, press) {
  const key = document.createElement("button");
  key.type = "button";
  key.className = "press";
  key.textContent = label;
  if (spoken) key.setAttribute("aria-label", spoken);
  key.addEventListener("click", press);
  return key;
}

function readBack(place, text) {
  const { scale, offset, unit, other } = place.dataset;
  if (!scale || !NUMBER.test(text)) return "";
  const value = Number(text.replace(",", "."));
  const converted = value * Number(scale) + Number(offset);
  return `${value} ${unit} = ${converted.toPrecision(4).replace(/\.?0+$/, "")} ${other}`;
}

function putKeypad(place) {
  const input = place.querySelector("input[type=text]");
  const echo = document.createElement("p");
  echo.className = "readback";
  echo.setAttribute("aria-live", "polite");
  const tell = () => { echo.textContent = readBack(place, input.value.trim()); };
  const set = (text) => { input.value = text; tell(); };
  const pad = document.createElement("div");
  pad.className = "keypad";
  const spoken = { "±": "change the sign", ".": "point" };
  for (const key of KEYS) {
    if ("whole" in place.dataset && (key === "±" || key === ".")) continue;
    pad.append(button(key, spoken[key], () => set(withKey(input.value, key))));
  }
  pad.append(button("⌫", "take back one digit", () => set(input.value.slice(0, -1))));
  pad.append(button("Clear", "", () => set("")));
  input.inputMode = "none";
  input.addEventListener("input", tell);
  input.addEventListener("focus", () => openOnly(pad));
  pad.hidden = true;
  place.append(echo, pad);
  tell();
}

function openOnly(pad) {
  for (const other of document.querySelectorAll(".keypad")) other.hidden = other !== pad;
}

function openFirst() {
  const places = [...document.querySelectorAll("[data-keypad]")];
  const asked = places.find((place) => !place.querySelector("input[type=text]").value);
  if (asked && "needed" in asked.dataset) openOnly(asked.querySelector(".keypad"));
}

function sendOnce(form) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    const press = document.querySelector(`button[form="${form.id}"]`);
    press.textContent = press.dataset.wait;
  });
  window.addEventListener("pageshow", () => delete form.dataset.sent);
}

document.querySelectorAll("[data-keypad]").forEach(putKeypad);
openFirst();
document.querySelectorAll("form[data-once]").forEach(sendOnce);
document.querySelector(".error-summary")?.focus();
