/* Small pieces that all screens are made of. Text goes in as text, never as markup. */
export function h(name, more = {}, ...children) {
  const made = name.startsWith("svg:") ? document.createElementNS("http://www.w3.org/2000/svg", name.slice(4)) : document.createElement(name);
  for (const [key, value] of Object.entries(more ?? {})) {
    if (value === false || value === null || value === undefined) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key === "value" || key === "checked") made[key] = value;
    else made.setAttribute(key, value === true ? "" : value);
  }
  made.append(...children.flat(3).filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

export const link = (words, href, kind = "press") => h("a", { class: kind, href }, words);
export const press = (words, act, kind = "press") => h("button", { type: "button", class: kind, onclick: act }, words);
export const told = (words) => h("p", { class: "told" }, words);

export function clockTime(ms, zone) {
  if (ms === null || ms === undefined) return "–";
  return new Date(ms).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit", timeZone: zone });
}

export function dayAndTime(ms, zone) {
  const day = new Date(ms).toLocaleDateString("sv-SE", { timeZone: zone });
  return `${day} ${clockTime(ms, zone)}`;
}

export function findings(list) {
  if (!list.length) return null;
  const words = { blocker: "Stands in the way:", warning: "Decide:", note: "Note:" };
  return h("ul", { class: "findings" }, list.map((one) => h("li", { class: one.level },
    h("span", { class: "word" }, words[one.level]), ` ${one.message} `, one.hint && h("span", { class: "hint" }, one.hint), ` [${one.source}]`)));
}

export function mainAction(...children) {
  return h("div", { class: "main-action" }, children);
}

/* When the screen has been painted once more; in a page that is out of sight, soon. */
export const painted = () => new Promise((done) => {
  const late = setTimeout(done, 150);
  requestAnimationFrame(() => setTimeout(() => { clearTimeout(late); done(); }));
});

/* A button that must be held for a second, with finger, pen, mouse or key; act on purpose, not by a brush of a sleeve.
   It acts when it is let go, so that whoever slides off it has changed his mind. */
export function hold(words, act, kind = "press main") {
  let timer = null;
  let isDue = false;
  const say = h("small", {}, "Hold for a second");
  const button = h("button", { type: "button", class: `${kind} hold` }, words, say);
  const start = (event) => {
    if (event.type === "keydown" && (event.repeat || !["Enter", " "].includes(event.key))) return;
    if (event.type === "keydown") event.preventDefault();
    clearTimeout(timer);
    button.classList.add("held");
    timer = setTimeout(() => { isDue = true; say.textContent = "Now let go"; }, 1000);
  };
  const stop = (event) => {
    const acts = isDue && ["pointerup", "keyup"].includes(event.type);
    clearTimeout(timer);
    isDue = false;
    say.textContent = "Hold for a second";
    button.classList.remove("held");
    if (acts) act();
  };
  for (const event of ["pointerdown", "keydown"]) button.addEventListener(event, start);
  for (const event of ["pointerup", "pointerleave", "pointercancel", "keyup", "blur"]) button.addEventListener(event, stop);
  button.addEventListener("contextmenu", (event) => event.preventDefault());
  return button;
}
