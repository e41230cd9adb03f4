/* Level survey: one number for each point, with the keypad of this page. */
import { bodyOf, field, typed } from "./forms.js";
import { system } from "./model.js";
import { endFields, plan, readTool, send, toolErrors, toolFields, watch } from "./inspect.js";
import { h, mainAction } from "./ui.js";

export const fresh = () => ({ typed: {} });

export function begin(job) {
  const { told, state, pour } = job;
  const slots = [
    { name: "occasion", label: "Occasion", shape: "choice", required: true, choices: told.occasions },
    { ...told.resolution },
    ...told.points.map(([label], number) => ({ ...told.reading, name: `p${number}`, label: `Reading at ${label}` })),
  ];
  const picture = h("div", {});
  const form = h("form", { id: "inspection", novalidate: true, onsubmit: (event) => { event.preventDefault(); save(); } },
    slots.map((slot) => field(slot, pour, state.typed[slot.name] ?? "", { system: system(), me: 0 })), toolFields(job), endFields(job));
  const paint = () => picture.replaceChildren(plan(job.drawing, told.points.map(([label, x, y], number) => ({ x, y, label, full: Boolean(state.typed[`p${number}`]) })), "Points to read; a full mark has its reading") ?? "");
  form.addEventListener("input", () => { state.typed = typed(form); paint(); });
  watch(job, form);
  job.paint = () => job.put(h("p", {}, "Read the height at each point against one level line, higher as positive, all with one instrument. A point left empty was not read; three or more are needed."),
    h("p", {}, told.limit), picture, form, mainAction(h("button", { class: "press main", form: "inspection" }, "Save")));
  paint();
  return job.paint();

  function save() {
    const sure = new Set([...form.querySelectorAll("[data-sure]")].filter((box) => box.checked).map((box) => box.dataset.sure));
    const { body, errors } = bodyOf(slots, typed(form), { system: system(), sure });
    const entered = body.as_entered ?? {};
    const points = told.points.map(([label, x, y], number) => ({ label, x_mm: x, y_mm: y, reading_mm: body[`p${number}`], entered: entered[`p${number}`] ?? null })).filter((point) => point.reading_mm !== undefined);
    if (points.length < 3) errors.push({ name: "", words: `${points.length} readings are entered; three or more are needed.` });
    readTool(job, form);
    errors.push(...toolErrors(state));
    return send(job, { occasion: body.occasion, resolution_mm: body.resolution_mm, resolution_entered: entered.resolution_mm ?? null, points }, errors, `${points.length} points`);
  }
}
