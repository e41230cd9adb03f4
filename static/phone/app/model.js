/* One pour as this phone knows it: the last snapshot, and the ops of this phone that are not in it yet. */
import * as clock from "./clock.js";
import { fold } from "./fold.js";
import { rows } from "./outbox.js";
import { all, get, meta } from "./store.js";
import { unitsOf } from "./units.js";

export const system = () => (localStorage.getItem("units") === "us" ? "us" : "metric");

export async function pours() {
  const snaps = (await all("snaps")).filter((snap) => snap.is_listed);
  return Promise.all(snaps.map((snap) => build(snap)));
}

export async function pour(id) {
  const snap = await get("snaps", id);
  return snap ? build(snap) : null;
}

async function build(snap) {
  const known = snap.snapshot.log.entries.map(factOfEntry);
  const names = new Map(snap.snapshot.people.map((person) => [person.id, person.name]));
  const mine = (await rows()).filter((row) => row.record_id === snap.record_id && row.text);
  const shots = new Map(mine.map((row) => [row.op_id, row]));
  const there = new Set(known.map((fact) => fact.id));
  const ours = mine.filter((row) => !there.has(row.op_id) && !isOut(row) && !INSPECTIONS.has(row.kind)).map((row) => factOfOp(row, names));
  const log = fold(snap.snapshot, [...known, ...ours], unitsOf(snap.snapshot, system()));
  const waiting = mine.filter((row) => ["saved", "sending", "needs_help"].includes(row.state)).length;
  const asOf = Math.max(snap.pulled_at, (await meta("contact")) ?? 0);
  return { id: snap.record_id, snapshot: snap.snapshot, log, pulled_at: asOf, rows: shots, waiting, rev: snap.snapshot.log.rev };
}

/* They are no entries of the log; inspect.js shows them. */
const INSPECTIONS = new Set(["level_survey", "sounding", "bolt_tightening"]);

/* Set aside by a decision at the desk: it stays here, and counts nowhere. */
const isOut = (row) => row.now === "set_aside";

function factOfEntry(entry) {
  return {
    id: entry.id, kind: entry.kind, body: entry.body, at: Date.parse(entry.happened_at), entered: Date.parse(entry.entered_at),
    author_id: entry.author_id, author: entry.author, replaces: entry.replaces, reason: entry.reason, grade: entry.clock_grade, is_here: false,
  };
}

function factOfOp(row, names) {
  const op = JSON.parse(row.text);
  return {
    id: op.op_id, kind: op.kind, body: op.body, at: clock.corrected(Date.parse(op.happened_at), op.clock),
    entered: clock.corrected(Date.parse(op.entered_at), op.clock), author_id: op.author_id,
    author: names.get(op.author_id) ?? `person ${op.author_id}`, replaces: op.replaces, reason: op.reason, grade: "", is_here: true,
  };
}
