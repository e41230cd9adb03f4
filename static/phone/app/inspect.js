/* Inspections without signal: which there are, and what the three have in common. The phone records; the server works
   out what the records say. This file and its three parts are fetched when they are first needed, or by the worker. */
import * as drafts from "./drafts.js";
import * as photos from "./photos.js";
import { stopScreen } from "./enter.js";
import { StoreDead } from "./store.js";
import { newId, write } from "./write.js";
import { dayAndTime, h, link, told } from "./ui.js";

export const KINDS = { level: ["level_survey", "Level survey"], sounding: ["sounding", "Sounding"], bolts: ["bolt_tightening", "Bolt tightening"] };
const PARTS = { level: () => import("./inspectlevel.js"), sounding: () => import("./inspectsound.js"), bolts: () => import("./inspectbolts.js") };
const WHERE = { saved: "Not sent yet, safe on this phone", sending: "Being sent", sent: "Received", safe: "Received, in the backup", needs_help: "Needs help" };
const NOW = { held: "waits at the server for another entry", quarantined: "waits for a decision at the desk", set_aside: "set aside at the desk" };

function styled() {
  if (document.getElementById("inspect-css")) return;
  const href = document.querySelector('link[href$="app.css"]').href.replace("app.css", "inspect.css");
  document.head.append(h("link", { id: "inspect-css", rel: "stylesheet", href }));
}

export async function inspectScreen(put, pour, what, me, { mayRecord, access }) {
  styled();
  if (!pour.snapshot.inspections) return put({ title: "Inspections", up: `#pour/${pour.id}` }, h("h1", {}, "Inspections"), h("p", {}, "What an inspection needs is not on this phone yet. Go where there is signal; it comes by itself."));
  if (!KINDS[what] || !mayRecord) return listScreen(put, pour, me, access, mayRecord);
  const part = await PARTS[what]();
  return part.begin(await jobOf(put, pour, what, me, part.fresh));
}

export const isPlaced = (pour) => pour.snapshot.inspections.is_placed || ["placed", "settled"].includes(pour.log.state);

const ownRows = (pour, kind) => [...pour.rows.values()].filter((row) => row.kind === kind && row.now !== "set_aside").sort((a, b) => b.seq - a.seq);

function listScreen(put, pour, me, access, mayRecord) {
  const { inspections, site } = pour.snapshot;
  const cards = Object.entries(KINDS).map(([what, [kind, title]]) => {
    const counts = inspections[what].counts;
    const [own] = ownRows(pour, kind);
    return h("section", {}, h("h2", {}, title),
      counts && h("p", {}, `At the server: made ${dayAndTime(Date.parse(counts.made_at), site.zone)} by ${counts.made_by}.`),
      own && h("p", {}, h("span", { class: "state" }, NOW[own.now] && own.state !== "saved" ? NOW[own.now] : WHERE[own.state] ?? "Received"), ` ${own.label}`, own.receipt?.reason ? `: ${own.receipt.reason}` : ""),
      !counts && !own && h("p", {}, "Not made yet."),
      mayRecord && link(counts || own ? `${title}: inspect again` : `Record: ${title.toLowerCase()}`, `#pour/${pour.id}/inspect/${what}`));
  });
  const roles = pour.snapshot.people.find((one) => one.id === me?.author_id)?.roles ?? [];
  const isInspector = !me || roles.some((role) => inspections.inspectors.includes(role));
  return put({ title: "Inspections", up: `#pour/${pour.id}` }, h("h1", {}, "Inspections"), access,
    h("p", {}, "This phone keeps what you read; the server works out what it says, and the verdict is given at the desk."),
    !isInspector && h("p", { class: "caution" }, `You may record here. An inspection counts once ${inspections.inspectors.join(" or ").toLowerCase()} has decided about it at the desk.`), cards);
}

/* One inspection in hand: what was entered so far, kept as a draft, and the ways on. */
async function jobOf(put, pour, what, me, fresh) {
  const [kind, title] = KINDS[what];
  const key = `${pour.id} ${me.author_id} inspect ${what}`;
  const kept = await drafts.load(key);
  const [own] = ownRows(pour, kind);
  const state = kept ?? { op_id: newId(), step: 0, values: {}, shots: [], reason: "", ...fresh(pour) };
  const job = { pour, what, kind, title, state, kept, told: pour.snapshot.inspections[what], drawing: pour.snapshot.inspections.drawing, replaced: replacedBy(own, pour.snapshot.inspections[what].counts) };
  job.draft = drafts.draftOf(key, () => ({ ...state }));
  let isMoving = false;
  job.put = (...all) => {
    isMoving = true;
    const done = put({ title, up: `#pour/${pour.id}/inspect`, leave: () => !isMoving && job.draft.end() }, h("h1", {}, title), job.problems = h("div", {}), kept && told("What you had entered is still here."), ...all);
    isMoving = false;
    if (!done) job.draft.end();
    return done;
  };
  job.keep = () => job.draft.keep().catch(() => {});
  job.go = (step) => {
    state.step = step;
    job.keep();
    job.paint();
    scrollTo(0, 0);
    document.getElementById("work").focus({ preventScroll: true });
  };
  return job;
}

/* What a new one takes the place of: the last one of this phone, or the one that counts at the server. */
function replacedBy(own, counts) {
  const at = own && Date.parse(JSON.parse(own.text).happened_at);
  const isOwn = own && !(counts && counts.op_id !== own.op_id && Date.parse(counts.made_at) > at);
  if (isOwn) return { op: own.op_id, id: null };
  return counts ? { op: counts.op_id, id: counts.op_id ? null : counts.id } : null;
}

const tool = (what) => { try { return JSON.parse(localStorage.getItem(`tool ${what}`)) ?? {}; } catch { return {}; } };

export function toolFields(job) {
  const before = tool(job.what);
  const { counts } = job.told;
  const values = job.state.values;
  const name = h("input", { type: "text", id: "instrument", autocomplete: "off", maxlength: 80, value: values.instrument ?? before.instrument ?? counts?.instrument ?? "" });
  const listed = (job.told.tools ?? []).find(([words]) => words === name.value);
  const due = h("input", { type: "date", id: "due", value: values.due ?? ((listed && dueOf(job, listed)) || (before.due ?? counts?.calibration_due_on ?? "")) });
  return [toolPicks(job, name, due), h("div", { class: "control" }, h("label", { for: "instrument" }, "Instrument and serial number"), name), h("div", { class: "control" }, h("label", { for: "due" }, "Its calibration is due on"), due)];
}

const todayAt = (job) => new Date().toLocaleDateString("sv-SE", { timeZone: job.pour.snapshot.site.zone });
const dueOf = (job, [, dueOn, isNeeded]) => (isNeeded ? dueOn : todayAt(job));

/* The list of the site, for fingers in gloves; what is picked is written into the two fields, where it can be changed. */
function toolPicks(job, name, due) {
  const tools = job.told.tools ?? [];
  if (!tools.length) return null;
  const today = todayAt(job);
  const standing = (dueOn, isNeeded) => (!isNeeded ? "needs no calibration" : !dueOn ? "no calibration on the list" : dueOn < today ? `calibration overdue since ${dueOn}` : `calibrated until ${dueOn}`);
  const pick = (one) => () => {
    name.value = one[0];
    due.value = dueOf(job, one);
    name.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const picks = tools.map((one) => h("label", { class: "press pick" }, h("input", { type: "radio", name: "tool", checked: one[0] === name.value, onchange: pick(one) }), h("span", {}, `${one[0]}, ${standing(one[1], one[2])}`)));
  name.addEventListener("input", () => { tools.forEach(([words], at) => { picks[at].firstChild.checked = words === name.value; }); });
  return h("div", { class: "control" }, h("fieldset", {}, h("legend", {}, "Instruments of the site"), h("p", { class: "help" }, "Pick one, or write another below."), picks));
}

export function endFields(job) {
  const { values } = job.state;
  const area = (id, label, value) => h("div", { class: "control" }, h("label", { for: id }, label), h("textarea", { id, rows: 3, maxlength: 2000, value }));
  return [job.replaced && area("reason", "An inspection is there already. Why is this one made?", values.reason ?? ""), area("remarks", "Remarks (may be empty)", values.remarks ?? ""), photoField(job)];
}

/* What stands in the fields of the head goes into the draft with each key. */
export function watch(job, form) {
  form.addEventListener("input", () => {
    for (const id of ["instrument", "due", "reason", "remarks"]) {
      const field = form.querySelector(`#${id}`);
      if (field) job.state.values[id] = field.value;
    }
  });
}

function photoField(job) {
  const { state } = job;
  const [say, list] = [h("p", { class: "told", role: "status" }), h("div", {})];
  const input = h("input", { type: "file", id: "photo", accept: "image/*", capture: "environment", multiple: true });
  const paint = async () => {
    const urls = await Promise.all(state.shots.map((id) => photos.picture(id)));
    list.replaceChildren(...urls.filter(Boolean).map((url, at) => h("img", { class: "snap", src: url, alt: `Photo ${at + 1} is kept`, width: 120, height: 90 })));
  };
  input.addEventListener("change", async () => {
    say.textContent = "Saving the photo...";
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
    job.keep();
    await paint();
    say.textContent = faults.length ? `Error: ${faults.join(" ")}` : state.shots.length === 1 ? "1 photo is saved on this phone." : `${state.shots.length} photos are saved on this phone.`;
  });
  paint();
  return h("div", { class: "control" }, h("label", { for: "photo" }, "Photo"), input, say, list);
}

/* The head of a body; sentences for what is missing go into `errors`. */
export function toolErrors({ values }) {
  const errors = [];
  if (!values.instrument?.trim()) errors.push({ name: "", words: "Instrument and serial number is empty; enter it." });
  if (!values.due) errors.push({ name: "", words: "Its calibration is due on: pick the day that stands on the instrument." });
  return errors;
}

export function readTool(job, form) {
  for (const [id, name] of [["instrument", "instrument"], ["due", "due"]]) job.state.values[name] = form.querySelector(`#${id}`).value;
}

export async function send(job, body, errors, label) {
  const { state, pour } = job;
  const reason = (state.values.reason ?? "").trim();
  if (job.replaced && !reason) errors.push({ name: "", words: "Say why the inspection is made again." });
  if (errors.length) return refuse(job, errors);
  if (job.isSaving) return null;
  job.isSaving = true;
  const { instrument, due, remarks } = state.values;
  const whole = { ...body, instrument: instrument.trim(), calibration_due_on: due, remarks: (remarks ?? "").trim(), replaces_id: job.replaced?.id ?? null };
  if (state.shots.length) whole.blobs = [...state.shots];
  localStorage.setItem(`tool ${job.what}`, JSON.stringify({ instrument, due }));
  job.draft.end();
  try {
    await write({ op_id: state.op_id, pour, kind: job.kind, body: whole, happened: null, draft: job.draft.key, label, deps: [], replaces: job.replaced?.op ?? null, reason: reason.slice(0, 300) });
    location.hash = `#pour/${pour.id}/inspect`;
  } catch (error) {
    job.isSaving = false;
    if (error instanceof StoreDead || error?.name === "QuotaExceededError") stopScreen(`${job.title}, ${label}`, [JSON.stringify(body)], () => send(job, body, [], label));
    else refuse(job, [{ name: "", words: `Not saved: ${error.message} Try again.` }]);
  }
  return null;
}

export function refuse(job, errors) {
  for (const control of document.querySelectorAll("#work [data-slot]")) {
    const own = errors.filter((error) => error.name === control.dataset.slot);
    control.classList.toggle("refused", own.length > 0);
    control.querySelectorAll(".error, .sure").forEach((old) => old.remove());
    for (const error of own) {
      if (error.may_be_right) control.append(h("label", { class: "press pick sure" }, h("input", { type: "checkbox", "data-sure": error.name }), h("span", {}, "It is right")));
      control.append(h("p", { class: "error" }, error.words));
    }
  }
  job.problems.replaceChildren(h("div", { class: "error-summary", role: "alert", tabindex: -1 }, h("h2", {}, "Not saved yet"), errors.map((error) => h("p", { class: "error" }, error.words)), h("p", {}, "Everything you entered is still here.")));
  job.problems.firstChild.focus();
  return null;
}

/* The plan in small, with marks {x, y, label, full}; `tall` is the most that it takes of the screen. */
export function plan(drawing, marks, label, tall = 260) {
  const all = [...drawing.outline, ...drawing.compartments.flatMap((one) => one.outline), ...marks.map((mark) => [mark.x, mark.y])];
  if (!all.length) return null;
  const [xs, ys] = [all.map((one) => one[0]), all.map((one) => one[1])];
  const [west, east, south, north] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const scale = Math.min(300 / Math.max(east - west, 1), (tall - 70) / Math.max(north - south, 1));
  const at = ([x, y]) => [33 + (x - west) * scale, 35 + (north - y) * scale];
  const points = (outline) => outline.map((one) => at(one).map((value) => value.toFixed(1)).join(",")).join(" ");
  const line = (outline, more) => h("svg:polygon", { points: points(outline), fill: "none", stroke: "currentColor", "stroke-width": 2, ...more });
  return h("div", { class: "plan" }, h("svg:svg", { viewBox: `0 0 366 ${(north - south) * scale + 70}`, role: "img", "aria-label": label },
    drawing.outline.length > 2 && line(drawing.outline), drawing.compartments.map((one) => line(one.outline, { "stroke-dasharray": "6 4", "stroke-width": 1 })),
    drawing.pads.map(([, x, y, length, width]) => line([[x - length / 2, y - width / 2], [x + length / 2, y - width / 2], [x + length / 2, y + width / 2], [x - length / 2, y + width / 2]], { "stroke-width": 1 })),
    marks.map((mark) => {
      const [x, y] = at([mark.x, mark.y]);
      return [h("svg:circle", { cx: x, cy: y, r: mark.ring ? 17 : 13, fill: mark.full ? "currentColor" : "#ffffff", stroke: "currentColor", "stroke-width": mark.ring ? 5 : 2 }),
        h("svg:text", { x: mark.inside ? x : x + 18, y: y + 6, "font-size": 18, "text-anchor": mark.inside ? "middle" : "start", "font-weight": 700, fill: mark.inside && mark.full ? "#ffffff" : "currentColor" }, mark.label)];
    })));
}
