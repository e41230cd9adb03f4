/* The screen of one entry: ask, keep what is typed, check at “Save”, say what was saved and where. */
import * as drafts from "./drafts.js";
import * as photos from "./photos.js";
import { bodyOf, field, readAloud, textOf, typed, words } from "./forms.js";
import { carried, cautionOf, extraChecks, toldOf } from "./asking.js";
import { open } from "./pad.js";
import { titleOf } from "./fold.js";
import { system } from "./model.js";
import { StoreDead, meta, setMeta } from "./store.js";
import { newId, write } from "./write.js";
import { h, hold, mainAction, painted, press, told } from "./ui.js";

export async function enterScreen(show, pour, kind, query, me, correcting = null) {
  const made = pour.snapshot.kinds[kind];
  const slots = made.slots;
  const fixedValues = correcting ? {} : settled(kind, query);
  const draftKey = `${pour.id} ${me.author_id} ${kind} ${correcting?.id ?? query.toString()}`;
  const kept = await drafts.load(draftKey);
  const start = correcting ? { ...correcting.body } : carried(pour, kind, query, me);
  const entered = start.as_entered ?? {};
  const values = kept?.values ?? Object.fromEntries(slots.map((slot) => [slot.name, textOf(slot, start[slot.name], entered[slot.name], system())]));
  const state = {
    id: kept?.op_id ?? newId(), shots: kept?.shots ?? [...(correcting?.body.blobs ?? [])], sure: new Set(), isSaving: false,
    isPaper: kept?.isPaper ?? Boolean(correcting?.body.from_paper),
  };
  const title = correcting ? `Correct: ${titleOf(kind, pour.log.grout)}` : titleOf(kind, pour.log.grout);
  const problems = h("div", {});
  const shots = photoControl();
  const action = correcting ? "" : onPurpose(pour, kind);
  const form = h("form", { id: "entry", novalidate: true, onsubmit: (event) => { event.preventDefault(); if (!action) send(); } },
    slots.filter((slot) => !(slot.name in fixedValues)).map((slot) => field(slot, pour, values[slot.name], { system: system(), me: me.author_id })),
    shots.control, earlier(kept?.happened ?? "", correcting, paperTick()), correcting && reasonControl(kept?.reason ?? ""), ticks());
  const button = action ? hold(action, send) : h("button", { class: "press main", form: "entry" }, "Save");
  const say = (said) => { button.firstChild.data = said; };
  const draft = drafts.draftOf(draftKey, () => ({ op_id: state.id, values: typed(form), shots: state.shots, isPaper: state.isPaper, happened: happenedText(form), reason: reasonText(form) }));
  const caution = cautionOf(made);
  const isShown = show({ title, leave: () => draft.end(), up: `#pour/${pour.id}` },
    h("h1", {}, title), problems, toldOf(pour, kind, fixedValues),
    kept && told("What you had typed is still here."),
    kept?.camera_open && h("p", { class: "error" }, "The photo did not arrive. Take it again."),
    caution && h("p", { class: "caution" }, h("strong", {}, "Caution."), ` ${caution}`), form, mainAction(button));
  if (!isShown) return draft.end();
  if (kept?.camera_open) draft.keep({ camera_open: false }).catch(() => {});
  return openFirst(form);

  function photoControl() {
    const list = h("div", { class: "snaps" });
    const told = h("p", { class: "told", role: "status" });
    const input = h("input", { type: "file", id: "photo", accept: "image/*", capture: "environment", multiple: true });
    const paint = async () => {
      const urls = await Promise.all(state.shots.map((id) => photos.picture(id)));
      list.replaceChildren(...urls.map((url, at) => url ? h("img", { class: "snap", src: url, alt: `Photo ${at + 1} is kept`, width: 120, height: 90 }) : h("span", {}, `Photo ${at + 1}`)));
    };
    input.addEventListener("click", () => { draft.keep({ camera_open: true }).catch(() => {}); });
    input.addEventListener("cancel", () => { draft.keep({ camera_open: false }).catch(() => {}); });
    input.addEventListener("change", async () => {
      told.textContent = "Saving the photo...";
      const faults = [];
      for (const file of [...input.files]) {
        try {
          const id = await photos.keep(file);
          if (!state.shots.includes(id)) state.shots.push(id);
        } catch (error) {
          faults.push(error instanceof photos.NoPhoto ? error.message : "The photo could not be saved.");
        }
      }
      input.value = "";
      await draft.keep({ camera_open: false }).catch(() => {});
      await paint();
      told.textContent = faults.length ? `Error: ${faults.join(" ")}` : state.shots.length === 1 ? "1 photo is saved on this phone." : `${state.shots.length} photos are saved on this phone.`;
    });
    const label = h("label", { for: "photo" });
    const control = h("div", { class: "control" }, label, input, told, list);
    const fit = () => {
      control.hidden = !made.takes_photos && !state.isPaper;
      label.textContent = state.isPaper ? "Photo of the paper sheet" : "Photo";
    };
    fit();
    paint();
    return { control, fit, paint };
  }

  /* One sheet serves all entries that are copied from it: the photo is taken once and offered again. */
  function paperTick() {
    const box = h("input", { type: "checkbox", id: "paper", checked: state.isPaper });
    box.addEventListener("change", async () => {
      state.isPaper = box.checked;
      const sheet = box.checked && !state.shots.length ? await meta("sheet") : null;
      if (sheet?.pour === pour.id) state.shots.push(...sheet.shots);
      shots.fit();
      await shots.paint();
    });
    return h("label", { class: "press pick" }, box, h("span", {}, "Transcribed from paper: a photo of the sheet is needed"));
  }

  function ticks() {
    return extraChecks(pour, kind).map((words, at) => h("label", { class: "press pick" }, h("input", { type: "checkbox", name: `tick-${at}`, "data-tick": words.wrong }), h("span", {}, words.label)));
  }

  async function send() {
    if (state.isSaving) return;
    const { body, errors } = bodyOf(slots, typed(form), { system: system(), sure: surely(form, state.sure), fixedValues });
    errors.push(...ownErrors(form, kind, body, correcting));
    const happened = happenedMs(form, errors);
    if (state.isPaper && !state.shots.length) errors.push({ name: "", words: "Photo of the paper sheet is missing; take it, or leave “Transcribed from paper” empty." });
    if (state.isPaper && happened === null && !correcting) errors.push({ name: "", words: "When it happened is empty; enter the time that the paper sheet says." });
    if (errors.length) return refuse(errors);
    if (state.isPaper) body.from_paper = true;
    if (state.shots.length && !shots.control.hidden) body.blobs = [...state.shots];
    state.isSaving = true;
    say("Saving...");
    draft.end();
    const label = [titleOf(kind, pour.log.grout), ...readAloud(slots, body)].join(", ");
    try {
      await write({ op_id: state.id, pour, kind, body, happened: happened ?? correctedMoment(correcting), draft: draftKey, label,
        deps: depsOf(pour, kind, body, correcting), replaces: correcting?.id ?? null, reason: correcting ? reasonText(form).trim() : "" });
      say("Saved on this phone");
      if (state.isPaper) setMeta("sheet", { pour: pour.id, shots: [...state.shots] }).catch(() => {});
      await painted();
      location.hash = `#pour/${pour.id}`;
    } catch (error) {
      state.isSaving = false;
      say(action || "Save");
      if (error instanceof StoreDead || error?.name === "QuotaExceededError") stopScreen(label, slots.filter((slot) => slot.name in body).map((slot) => `${slot.label}: ${words(slot, body[slot.name], pour, system())}`), send);
      else refuse([{ name: "", words: `Not saved: ${error.message} Try again.` }]);
    }
    return null;
  }

  function refuse(errors) {
    for (const control of form.querySelectorAll("[data-slot]")) {
      const own = errors.filter((error) => error.name === control.dataset.slot);
      control.classList.toggle("refused", own.length > 0);
      control.querySelectorAll(".error, .sure").forEach((old) => old.remove());
      for (const error of own) {
        if (error.may_be_right) control.append(h("label", { class: "press pick sure" }, h("input", { type: "checkbox", "data-sure": error.name }), h("span", {}, "It is right")));
        control.append(h("p", { class: "error" }, error.words));
      }
    }
    problems.replaceChildren(h("div", { class: "error-summary", role: "alert", tabindex: -1 }, h("h2", {}, "Not saved yet"), errors.map((error) => h("p", { class: "error" }, error.words)), h("p", {}, "Everything you typed is still below.")));
    document.title = `Error: ${title}`;
    problems.firstChild.focus();
    return null;
  }
}

/* Steps that nobody should take by a brush of the sleeve: their button is held for a second. */
function onPurpose(pour, kind) {
  if (kind === "declared_complete") return "Declare the pour complete";
  if (kind === "liquids_started" && !pour.log.batches.length) return "Start the pour";
  return kind === "discarded" ? "Discard this batch" : "";
}

function settled(kind, query) {
  const fixedValues = {};
  if (query.get("batch") && kind !== "sample") fixedValues.batch = Number(query.get("batch"));
  if (query.get("point")) fixedValues.point_id = Number(query.get("point"));
  return fixedValues;
}

/* What the person had in front of him: the server then knows which entry knew of which. */
function depsOf(pour, kind, body, correcting) {
  const deps = correcting ? [correcting.id] : [];
  if (kind === "leak_closed") deps.push(body.leak);
  if (kind === "point_answer") deps.push(...(pour.log.points.find((point) => point.id === body.point_id)?.answers ?? []).slice(-5).map((answer) => answer.id));
  return deps;
}

function earlier(text, correcting, paper) {
  const input = h("input", { type: "datetime-local", id: "happened", value: text });
  const control = h("div", { class: "control" }, h("label", { for: "happened" }, "When it happened, if earlier (may be empty)"), h("p", { class: "help" }, "By the clock of this phone. Leave it empty for now."), input);
  return h("details", { open: Boolean(text) || paper.firstChild.checked }, h("summary", { class: "press quiet" }, correcting ? "The time was wrong" : "It happened earlier, or stands on paper"), control, paper);
}

const happenedText = (form) => form.querySelector("#happened")?.value ?? "";

function happenedMs(form, errors) {
  const text = happenedText(form);
  if (!text) return null;
  const at = new Date(text).getTime();
  if (Number.isNaN(at) || at > Date.now() + 5 * 60000) errors.push({ name: "", words: "When it happened is still to come; enter it when it has happened." });
  return at;
}

/* A correction keeps the moment of what it corrects; as this phone would have said it. */
const correctedMoment = (correcting) => (correcting ? correcting.phone_at : null);

function reasonControl(text) {
  return h("div", { class: "control" }, h("label", { for: "reason" }, "Reason for the correction"), h("input", { type: "text", id: "reason", autocomplete: "off", value: text, maxlength: 300 }));
}

const reasonText = (form) => form.querySelector("#reason")?.value ?? "";

function surely(form, sure) {
  for (const box of form.querySelectorAll("[data-sure]")) if (box.checked) sure.add(box.dataset.sure);
  return sure;
}

function ownErrors(form, kind, body, correcting) {
  const errors = [];
  const answer = body.answer ?? "accepted";
  if (kind === "point_answer" && answer !== "accepted" && !body.remark) errors.push({ name: "remark", words: "Remark is empty; say why the answer is not “Accepted”." });
  if (kind === "reading" && body.humidity_ratio !== undefined && body.what !== "air") errors.push({ name: "humidity_ratio", words: "Relative humidity is read on the air only; pick “Air”." });
  if (correcting && !reasonText(form).trim()) errors.push({ name: "", words: "Reason for the correction is empty; say why." });
  for (const box of form.querySelectorAll("[data-tick]")) if (!box.checked) errors.push({ name: "", words: box.dataset.tick });
  return errors;
}

function openFirst(form) {
  const first = [...form.querySelectorAll(".measure")].find((place) => !place.querySelector("input").value);
  if (first && form.querySelector("[data-slot]")?.contains(first)) open(first.querySelector(".keypad"));
}

/* Nothing is lost while this stands: the values are on it, to be written on paper. */
export function stopScreen(label, lines, again) {
  const place = h("div", { class: "stop-screen", role: "alertdialog", "aria-modal": "true", "aria-labelledby": "stop-title", tabindex: -1 },
    h("h1", { id: "stop-title" }, "This phone cannot save"),
    h("p", {}, "The entry is NOT saved. Write it on the paper sheet, or use another phone. Then close other apps, free some space, and try again."),
    h("p", { class: "values" }, label), lines.map((line) => h("p", { class: "values" }, line)),
    press("Try to save again", () => { place.remove(); again(); }, "press main"),
    press("Back to the form", () => place.remove(), "press quiet"));
  document.body.append(place);
  place.focus();
}
