/* Sounding: tap the drawing. The sound that is picked at the foot goes to each place that is tapped; the last ones can be
   taken back. Free spots lie anywhere on the deck: tapped, or put there by their measures. A row can be finished at once:
   the rest of it is solid. */
import { bodyOf, field, typed } from "./forms.js";
import { endFields, isPlaced, readTool, send, toolErrors, toolFields, watch } from "./inspect.js";
import { system } from "./model.js";
import { h, mainAction, press, told } from "./ui.js";
import { preferred, shown } from "./units.js";

const STEP = 84;
const EDGE = 60;
const SOUNDS = [["s", "Solid", "✓"], ["h", "Hollow", "○"], ["u", "Unsure", "?"]];
const SIGN = Object.fromEntries(SOUNDS.map(([key, , sign]) => [key, sign]));
const WORD = Object.fromEntries(SOUNDS.map(([key, word]) => [key, word.toLowerCase()]));
const UNDO_MOST = 60;
const APART_MM = 20;

export const fresh = () => ({ spacing: 0, marks: {}, free: [], undo: [], brush: "s", spot: {} });

export function begin(job) {
  const { state, told: given } = job;
  if (!given.grids.length) return job.put(h("p", {}, "The plate has no compartments yet, or too many taps for one survey. Ask at the desk."));
  if (!isPlaced(job.pour)) return job.put(h("p", {}, "The grout is sounded after the pour was declared complete and has cured."));
  if (!state.spacing) state.spacing = given.grids[0].spacing_mm;
  job.paint = () => [spacingStep, tapStep, endStep][state.step](job);
  return job.paint();
}

const gridOf = ({ state, told: given }) => given.grids.find((grid) => grid.spacing_mm === state.spacing) ?? given.grids[0];
const rowsOf = (grid) => grid.rows.map(([name, y, x, signs]) => {
  let number = 0;
  return { name, y, x, signs, taps: [...signs].map((sign, column) => (sign === "." ? null : { key: `${name}.${number += 1}`, x: x + column * grid.spacing_mm, y })).filter(Boolean) };
});

function spacingStep(job) {
  const { state, told: given } = job;
  const isBegun = Object.keys(state.marks).length > 0;
  const picks = given.grids.map((grid) => h("label", { class: "press pick" }, h("input", { type: "radio", name: "spacing", value: grid.spacing_mm, checked: grid.spacing_mm === state.spacing, onchange: () => { state.spacing = grid.spacing_mm; state.marks = {}; state.undo = []; job.keep(); } }), h("span", {}, `${grid.spacing_mm} mm, ${rowsOf(grid).reduce((sum, row) => sum + row.taps.length, 0)} taps`)));
  return job.put(h("p", {}, "Tap the deck with a light hammer at each place of the grid. A dull, hollow ring marks a void. Wear eye and ear protection."),
    h("fieldset", {}, h("legend", {}, "Spacing of the grid"), isBegun && told("Another spacing starts an empty survey."), picks),
    h("p", {}, `Repair is usual above ${given.single_void[0]} = ${given.single_void[1]} in one place, above ${given.total} in all, or under a machine foot [${given.source}]. The engineer decides.`),
    mainAction(press("Start to tap", () => job.go(1), "press main")));
}

function tapStep(job) {
  const { state } = job;
  const rows = rowsOf(gridOf(job));
  const [buttons, scale] = [new Map(), STEP / state.spacing];
  const all = rows.flatMap((row) => row.taps);
  const corners = job.drawing.compartments.flatMap((one) => one.outline);
  const [west, north] = [Math.min(...corners.map(([x]) => x)), Math.max(...corners.map(([, y]) => y))];
  const [east, south] = [Math.max(...corners.map(([x]) => x)), Math.min(...corners.map(([, y]) => y))];
  const at = ([x, y]) => [EDGE + (x - west) * scale, EDGE + (north - y) * scale];
  const size = [2 * EDGE + (east - west) * scale, 2 * EDGE + (north - south) * scale];
  const outlines = h("svg:svg", { viewBox: `0 0 ${size[0]} ${size[1]}`, "aria-hidden": "true" }, job.drawing.compartments.map((one) => h("svg:polygon", { points: one.outline.map((point) => at(point).join(",")).join(" "), fill: "none", stroke: "currentColor", "stroke-width": 3 })));
  const signs = new Map(all.map((tap) => {
    const [x, y] = at([tap.x, tap.y]);
    return [tap.key, h("svg:text", { x, y: y + 10, "font-size": 28, "text-anchor": "middle", fill: "currentColor" }, "+")];
  }));
  outlines.append(...signs.values());
  const sheet = h("div", { class: "sheet" }, outlines);
  [sheet.style.width, sheet.style.height] = size.map((value) => `${value}px`);
  const deck = h("div", { class: "deck", tabindex: 0, role: "region", "aria-label": "Deck, zoomed; it scrolls both ways" }, sheet);
  const map = h("div", { class: "plan" });
  const [count, lines, say] = [h("p", { role: "status" }), h("div", {}), h("p", { class: "error", role: "alert" })];
  const measures = job.told.spot && measuresForm();
  for (const tap of all) {
    const [x, y] = at([tap.x, tap.y]);
    const button = h("button", { type: "button", class: "tap", onclick: () => mark([[tap.key, state.brush]]) }, h("b", {}), h("span", {}, tap.key));
    [button.style.left, button.style.top] = [`${x - 38}px`, `${y - 38}px`];
    buttons.set(tap.key, button);
    sheet.append(button);
  }
  const length = preferred(job.told.spot?.[0].units, system());
  const said = (x, y) => `x ${shown(x, length)}, y ${shown(y, length)}`;
  const undo = press("Undo", takeBack);
  const brush = SOUNDS.map(([key, word, sign]) => press(`${sign} ${word}`, () => { state.brush = key; paint(); }));
  const free = press("Free spot", () => { deck.classList.toggle("spots"); say.textContent = ""; paint(); }, "press mode");
  sheet.addEventListener("click", (event) => deck.classList.contains("spots") && tapSpot(event));
  deck.addEventListener("scroll", () => paintWindow());
  const isUp = job.put(map, count, free, deck, say, measures, lines,
    mainAction(h("div", { class: "brush" }, brush, undo, press("Done", () => job.go(2), "press main wide"))));
  paint();
  return isUp;

  function mark(changes) {
    state.undo.push(changes.map(([key]) => [key, state.marks[key] ?? ""]));
    state.undo.splice(0, state.undo.length - UNDO_MOST);
    for (const [key, sound] of changes) state.marks[key] = sound;
    job.keep();
    paint();
  }

  function tapSpot(event) {
    const box = sheet.getBoundingClientRect();
    addSpot(Math.round(west + (event.clientX - box.left - EDGE) / scale), Math.round(north - (event.clientY - box.top - EDGE) / scale), say);
  }

  function addSpot(x, y, refusal) {
    say.textContent = "";
    refusal.textContent = notEmpty(x, y);
    if (refusal.textContent) return false;
    state.undo.push("spot");
    state.free.push([x, y, state.brush]);
    job.keep();
    paint();
    return true;
  }

  function notEmpty(x, y) {
    if (!job.drawing.compartments.some((one) => isInside(x, y, one.outline))) return `${said(x, y)} lies in no compartment; they go from ${said(west, south)} to ${said(east, north)} [GROUTJOBS].`;
    const [near] = [...all.map((tap) => [tap.key, tap.x, tap.y]), ...state.free.map((one, number) => [`free spot ${number + 1}`, ...one])].filter((one) => Math.hypot(one[1] - x, one[2] - y) < APART_MM);
    return near ? `${said(x, y)} is at ${near[0]}; a free spot lies ${shown(APART_MM, length)} or more beside it [GROUTJOBS].` : "";
  }

  /* The way for exact places and for keys: x and y as the drawing has them. */
  function measuresForm() {
    const refusal = h("p", { class: "error", role: "alert" });
    const form = h("form", { novalidate: true, onsubmit: (event) => { event.preventDefault(); place(); } },
      job.told.spot.map((slot) => field(slot, job.pour, state.spot?.[slot.name] ?? "", { system: system(), me: 0 })), refusal, h("button", { class: "press" }, "Put the spot there"));
    const whole = h("details", { open: Object.values(state.spot ?? {}).some(Boolean) }, h("summary", { class: "press quiet" }, "Free spot by its measures"), h("p", {}, "From the origin of the drawing, as on the Machine sheet. It gets the sound that is picked at the foot."), form);
    form.addEventListener("input", () => { state.spot = typed(form); job.keep(); });
    return whole;

    function place() {
      const { body, errors } = bodyOf(job.told.spot, typed(form), { system: system(), sure: new Set(job.told.spot.map((slot) => slot.name)) });
      refusal.textContent = errors.map((error) => error.words).join(" ");
      if (errors.length || !addSpot(Math.round(body.x_mm * 10) / 10, Math.round(body.y_mm * 10) / 10, refusal)) return;
      for (const input of form.querySelectorAll("input")) { input.value = ""; input.dispatchEvent(new Event("input", { bubbles: true })); }
      const [left, top] = at(state.free.at(-1));
      deck.scrollTo(left - deck.clientWidth / 2, top - deck.clientHeight / 2);
    }
  }

  function takeBack() {
    const last = state.undo.pop();
    if (last === "spot") state.free.pop();
    else for (const [key, old] of last ?? []) { if (old) state.marks[key] = old; else delete state.marks[key]; }
    job.keep();
    paint();
  }

  function paint() {
    for (const [key, button] of buttons) {
      const sound = state.marks[key] ?? "";
      if (button.dataset.sound === sound) continue;
      button.dataset.sound = sound;
      button.firstChild.textContent = SIGN[sound] ?? "";
      signs.get(key).textContent = SIGN[sound] ?? "+";
      button.setAttribute("aria-label", `${key}, ${WORD[sound] ?? "not tapped"}`);
    }
    sheet.querySelectorAll(".spot").forEach((old) => old.remove());
    state.free.forEach(([x, y, sound]) => {
      const spot = h("span", { class: "spot", "data-sound": sound }, SIGN[sound]);
      const [left, top] = at([x, y]);
      [spot.style.left, spot.style.top] = [`${left - 20}px`, `${top - 20}px`];
      sheet.append(spot);
    });
    brush.forEach((button, number) => button.setAttribute("aria-pressed", String(SOUNDS[number][0] === state.brush)));
    free.setAttribute("aria-pressed", String(deck.classList.contains("spots")));
    free.textContent = deck.classList.contains("spots") ? "Free spot: tap an empty place. Press here for the grid." : "Free spot between the places";
    undo.disabled = !state.undo.length;
    const of = (sound) => all.filter((tap) => state.marks[tap.key] === sound).length + state.free.filter((one) => one[2] === sound).length;
    count.textContent = `Tapped ${all.filter((tap) => state.marks[tap.key]).length} of ${all.length}: ${of("s")} solid, ${of("h")} hollow, ${of("u")} unsure.`;
    paintLines();
    paintMap();
  }

  function paintLines() {
    const open = rows.map((row) => [row, row.taps.filter((tap) => !state.marks[tap.key])]).filter(([, left]) => left.length);
    lines.replaceChildren(h("h2", {}, "Rows"), ...open.map(([row, left]) => press(`Row ${row.name}: ${left.length === row.taps.length ? "all" : "the rest"} solid (${left.length})`, () => mark(left.map((tap) => [tap.key, "s"])), "press quiet")),
      ...(open.length ? [] : [told("Every place was tapped.")]),
      ...(state.free.length ? [h("h2", {}, "Free spots"), h("ol", {}, state.free.map(([x, y, sound]) => h("li", {}, `${said(x, y)}: ${WORD[sound]}`)))] : []));
  }

  function paintMap() {
    const small = 360 / size[0];
    const dot = ([x, y], sound) => h("svg:circle", { cx: x * small, cy: y * small, r: Math.max(2, 26 * small), fill: sound === "h" || sound === "u" ? "currentColor" : "none", stroke: sound ? "currentColor" : "none", "stroke-width": 1.5 });
    map.replaceChildren(h("svg:svg", { viewBox: `0 0 366 ${size[1] * small}`, role: "img", "aria-label": "Whole deck; full marks are hollow or unsure, the frame is what the drawing below shows", onclick: (event) => {
      const box = map.getBoundingClientRect();
      deck.scrollTo((event.clientX - box.left) / box.width * 366 / small - deck.clientWidth / 2, (event.clientY - box.top) / box.height * size[1] - deck.clientHeight / 2);
    } }, job.drawing.compartments.map((one) => h("svg:polygon", { points: one.outline.map((point) => at(point).map((value) => value * small).join(",")).join(" "), fill: "none", stroke: "currentColor", "stroke-width": 1 })),
    all.map((tap) => dot(at([tap.x, tap.y]), state.marks[tap.key])), state.free.map(([x, y, sound]) => dot(at([x, y]), sound)),
    h("svg:rect", { class: "window", fill: "none", stroke: "currentColor", "stroke-width": 3 })));
    paintWindow();
  }

  function paintWindow() {
    const [frame, small] = [map.querySelector(".window"), 360 / size[0]];
    const values = { x: deck.scrollLeft, y: deck.scrollTop, width: Math.min(deck.clientWidth, size[0]), height: Math.min(deck.clientHeight, size[1]) };
    for (const [name, value] of Object.entries(values)) frame?.setAttribute(name, String(value * small));
  }
}

function isInside(x, y, outline) {
  let inside = false;
  outline.forEach(([x1, y1], number) => {
    const [x2, y2] = outline[(number + 1) % outline.length];
    if ((y1 > y) !== (y2 > y) && x < (x2 - x1) * (y - y1) / (y2 - y1) + x1) inside = !inside;
  });
  return inside;
}

function endStep(job) {
  const { state } = job;
  const grid = gridOf(job);
  const rows = rowsOf(grid);
  const sounds = Object.values(state.marks);
  const of = (sound) => sounds.filter((one) => one === sound).length + state.free.filter((one) => one[2] === sound).length;
  const left = rows.flatMap((row) => row.taps).filter((tap) => !state.marks[tap.key]).length;
  const form = h("form", { id: "inspection", novalidate: true, onsubmit: (event) => { event.preventDefault(); save(); } }, toolFields(job), endFields(job));
  watch(job, form);
  return job.put(h("p", {}, `${of("s")} solid, ${of("h")} hollow, ${of("u")} unsure, ${left} not tapped.`), left > 0 && told("Places without a mark are kept as not tapped."),
    press("Back to the deck", () => job.go(1), "press quiet"), form, mainAction(h("button", { class: "press main", form: "inspection" }, "Save")));

  function save() {
    const signs = (row) => { const taps = [...row.taps]; return [...row.signs].map((sign) => (sign === "." ? "." : state.marks[taps.shift().key] ?? "n")).join(""); };
    readTool(job, form);
    const errors = toolErrors(state);
    if (!sounds.length && !state.free.length) errors.push({ name: "", words: "No place was tapped." });
    return send(job, { spacing_mm: grid.spacing_mm, rows: rows.map((row) => [row.name, row.y, row.x, signs(row)]), free: state.free }, errors, `${sounds.length + state.free.length} taps, ${of("h")} hollow`);
  }
}
