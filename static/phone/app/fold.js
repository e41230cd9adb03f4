/* From entries to the pour log, as pours/fold.py does it: both are held to fixtures/golden/fold.json. The entries are a set; order
   of arrival and repetition change nothing. Times are milliseconds. */
import { judged } from "./judge.js";
import { METRIC } from "./units.js";

export const BATCH_KINDS = new Set(["liquids_started", "aggregate_in", "wetted_out", "placed", "discarded"]);
const CEMENT = { liquids_started: "Water in, mixing started", aggregate_in: "Powder in", wetted_out: "Mixed" };
const TITLES = {
  point_answer: "Hold point answered", reading: "Reading", liquids_started: "Resin and hardener started",
  aggregate_in: "Aggregate in", wetted_out: "Wetted out", placed: "Batch placed", discarded: "Batch discarded",
  compartment_full: "Compartment full, vent bleeding", leak: "Leak", leak_closed: "Leak closed", stopped: "Work stopped",
  resumed: "Work resumed", sample: "Sample cast", note: "Note", declared_complete: "Pour declared complete",
  struck: "Entry struck out", resolved: "Conflict settled",
  level_survey: "Level survey", sounding: "Sounding", bolt_tightening: "Bolt tightening",
};

export const titleOf = (kind, grout) => (grout === "cement" && CEMENT[kind]) || TITLES[kind] || kind;
const order = (one, other) => one.at - other.at || one.entered - other.entered || (one.id < other.id ? -1 : one.id > other.id ? 1 : 0);
export const minutes = (ms) => ms / 60000;

/* Facts: {id, kind, body, at, entered, author_id, author, replaces, reason}. */
export function fold(snapshot, facts, units = METRIC) {
  const ordered = [...new Map(facts.map((fact) => [fact.id, fact])).values()].sort(order);
  const struck = new Set(ordered.map((fact) => fact.replaces).filter(Boolean));
  const standing = ordered.filter((fact) => !struck.has(fact.id) && fact.kind !== "struck");
  const lost = setAside(standing);
  const effective = standing.filter((fact) => !lost.has(fact.id));
  const of = (...kinds) => effective.filter((fact) => kinds.includes(fact.kind));
  const conflicts = openConflicts(snapshot, effective);
  const points = snapshot.points.map((point) => holdPoint(point, of("point_answer"), conflicts, snapshot));
  const batches = allBatches(snapshot, effective.filter((fact) => BATCH_KINDS.has(fact.kind)));
  const portions = batches.flatMap((batch) => batch.portions);
  const declared = of("declared_complete").at(-1) ?? null;
  const log = {
    lines: ordered.map((fact) => ({ fact, by: ordered.filter((newer) => newer.replaces === fact.id), lost: lost.get(fact.id) ?? null })),
    effective, points, batches, conflicts,
    fills: snapshot.takeoff.compartments.map((planned) => fillOf(planned, batches, of("compartment_full"))),
    readings: of("reading"),
    samples: of("sample"),
    leaks: allLeaks(ordered, of("leak"), of("leak_closed")),
    stoppages: allStoppages(of("stopped", "resumed")),
    grout: snapshot.grout.kind,
    released_at: releasedAt(points),
    poured_at: portions.length ? Math.min(...portions.map((portion) => portion.at)) : null,
    declared_at: declared?.at ?? null,
    kits_used: batches.reduce((sum, batch) => sum + (batch.kits ?? 0), 0),
  };
  log.open_batches = log.batches.filter((batch) => batch.is_open);
  log.open_leaks = log.leaks.filter((leak) => leak.closed_at === null);
  log.open_stoppage = log.stoppages.find((stop) => stop.resumed_at === null) ?? null;
  log.open_fills = log.fills.filter((fill) => fill.full_at === null);
  log.next_batch = Math.max(0, ...log.batches.map((batch) => batch.number)) + 1;
  log.placed_l = log.fills.reduce((sum, fill) => sum + fill.placed_l, 0);
  return judged(log, snapshot, units);
}

/* Where grout goes next: the first compartment that lacks volume, else the first that was not seen full. */
export function fillInHand(log) {
  return log.open_fills.find((fill) => fill.takeoff_l - fill.placed_l > fill.sd_l) ?? (log.open_fills.length ? log.open_fills : log.fills)[0];
}

function setAside(facts) {
  const lost = new Map();
  for (const fact of facts) if (fact.kind === "resolved") for (const id of fact.body.over) lost.set(id, fact);
  return lost;
}

/* Who knew of whom is for the server to say; what a decision here has settled is settled here at once. */
function openConflicts(snapshot, effective) {
  const standing = new Set(effective.map((fact) => fact.id));
  const found = snapshot.log?.conflicts ?? [];
  return found.filter((one) => !one.resolved_by && one.sides.filter((id) => standing.has(id)).length > 1);
}

function holdPoint(point, all, conflicts, snapshot) {
  const names = new Map((snapshot.people ?? []).map((person) => [person.id, person.name]));
  const answers = all.filter((fact) => fact.body.point_id === point.id).map((fact) => ({
    id: fact.id, at: fact.at, answer: fact.body.answer, measured: fact.body.measured ?? "", author_id: fact.author_id, author: fact.author,
    witness_id: fact.body.witness_id ?? null, witness: fact.body.witness_id ? (names.get(fact.body.witness_id) ?? `person ${fact.body.witness_id}`) : "",
  }));
  const sides = new Set(conflicts.filter((one) => one.key === `point ${point.id}`).flatMap((one) => one.sides));
  const moments = answers.filter((answer) => sides.has(answer.id)).map((answer) => answer.at).sort((a, b) => a - b);
  const conflictFrom = moments.length > 1 ? moments[1] : null;
  const closes = (answer) => Boolean(answer) && answer.answer !== "not_accepted"
    && (point.code !== "H" || (answer.witness_id !== null && answer.witness_id !== answer.author_id));
  const latest = answers.at(-1) ?? null;
  const isClosed = conflictFrom === null && closes(latest);
  return {
    ...point, answers, latest,
    holds_the_pour: point.code === "H" && point.before_pour,
    is_closed: isClosed,
    wasClosed: (at) => !(conflictFrom !== null && at >= conflictFrom) && closes(answers.filter((answer) => answer.at <= at).at(-1)),
    what_is_open: isClosed ? "" : whatIsOpen(latest, conflictFrom),
  };
}

function whatIsOpen(latest, conflictFrom) {
  if (conflictFrom !== null) return "answered in two ways by people who did not see each other's answer";
  if (!latest) return "not answered";
  if (latest.answer === "not_accepted") return "not accepted";
  return latest.witness_id === null ? "no witness named" : "the witness is the person who answered";
}

function releasedAt(points) {
  const held = points.filter((point) => point.holds_the_pour);
  if (!held.every((point) => point.is_closed)) return null;
  const moments = [...new Set(held.flatMap((point) => point.answers.map((answer) => answer.at)))].sort((a, b) => b - a);
  let since = null;
  for (const at of moments) {
    if (!held.every((point) => point.wasClosed(at))) break;
    since = at;
  }
  return since;
}

function allBatches(snapshot, facts) {
  const byNumber = new Map();
  for (const fact of facts) byNumber.set(fact.body.batch, [...(byNumber.get(fact.body.batch) ?? []), fact]);
  return [...byNumber.keys()].sort((a, b) => a - b).map((number) => batchOf(snapshot, number, byNumber.get(number)));
}

function batchOf(snapshot, number, facts) {
  const first = (kind) => facts.find((fact) => fact.kind === kind) ?? null;
  const [liquids, aggregate, wetted, gone] = ["liquids_started", "aggregate_in", "wetted_out", "discarded"].map(first);
  const placed = facts.filter((fact) => fact.kind === "placed");
  const portions = placed.map((fact) => ({ id: fact.id, at: fact.at, compartment: fact.body.compartment, volume_l: fact.body.volume_l, filled_ratio: fact.body.filled_ratio ?? null }));
  const kits = liquids?.body.kits ?? null;
  const groutC = wetted?.body.grout_c ?? null;
  const life = lifeMin(snapshot.grout, groutC ?? snapshot.grout.planned_grout_c);
  const from = (liquids ?? facts[0]).at;
  const hasSomeLeft = placed.at(-1)?.body.left === "some";
  return {
    number, kits, portions, grout_c: groutC, lot: liquids?.body.lot ?? "", bags: aggregate?.body.bags ?? null,
    volume_l: (kits || snapshot.grout.kits_per_batch) * snapshot.grout.kit_yield_l,
    placed_l: portions.reduce((sum, portion) => sum + portion.volume_l, 0),
    liquids_at: liquids?.at ?? null, aggregate_at: aggregate?.at ?? null, wetted_at: wetted?.at ?? null,
    discarded_at: gone?.at ?? null, discarded_why: gone?.body.why ?? "", clock_from: from, life_min: life,
    ends_at: life === null ? null : from + life * 60000,
    is_open: gone === null && (!portions.length || hasSomeLeft),
  };
}

/* Minutes of working life at this temperature; null where the data sheet does not reach. A straight line in the logarithm
   between the rows of the data sheet, half as long for each 10 K with one row only, as engineering/materials.py has it. */
export function lifeMin(grout, tempC) {
  const rows = [...grout.working_life].sort((one, other) => one[0] - other[0]);
  const reach = rows.length === 1 ? 15 : 0;
  if (!rows.length || tempC < rows[0][0] - reach || tempC > rows.at(-1)[0] + reach) return null;
  if (rows.length === 1) return rows[0][1] * 2 ** ((rows[0][0] - tempC) / 10);
  const above = Math.max(1, rows.findIndex((row) => row[0] >= tempC));
  const [[coldC, coldMin], [warmC, warmMin]] = [rows[above - 1], rows[above]];
  const part = (tempC - coldC) / (warmC - coldC);
  return Math.exp(Math.log(coldMin) + part * (Math.log(warmMin) - Math.log(coldMin)));
}

function fillOf(planned, batches, full) {
  const here = batches.flatMap((batch) => batch.portions.filter((portion) => portion.compartment === planned.name));
  const fullAt = full.find((fact) => fact.body.compartment === planned.name)?.at ?? null;
  const levels = here.filter((portion) => portion.filled_ratio !== null).sort((a, b) => a.at - b.at || a.filled_ratio - b.filled_ratio);
  return { ...planned, placed_l: here.reduce((sum, portion) => sum + portion.volume_l, 0), full_at: fullAt, filled_ratio: fullAt !== null ? 1 : (levels.at(-1)?.filled_ratio ?? null) };
}

/* A closing names any version of the leak; all versions share their first id. */
function allLeaks(ordered, leaks, closings) {
  const older = new Map(ordered.filter((fact) => fact.replaces).map((fact) => [fact.id, fact.replaces]));
  const firstVersion = (id) => {
    const seen = new Set([id]);
    while (older.has(id) && !seen.has(older.get(id))) {
      id = older.get(id);
      seen.add(id);
    }
    return id;
  };
  const closed = new Map();
  for (const fact of closings) if (!closed.has(firstVersion(fact.body.leak))) closed.set(firstVersion(fact.body.leak), fact);
  return leaks.map((fact) => {
    const closing = closed.get(firstVersion(fact.id));
    return { id: fact.id, key: firstVersion(fact.id), at: fact.at, compartment: fact.body.compartment, where: fact.body.where, closed_at: closing?.at ?? null };
  });
}

function allStoppages(facts) {
  const stops = [];
  for (const fact of facts) {
    const isStopped = stops.length > 0 && stops.at(-1).resumed_at === null;
    if (fact.kind === "stopped" && !isStopped) stops.push({ at: fact.at, why: fact.body.why, resumed_at: null });
    if (fact.kind === "resumed" && isStopped) stops.at(-1).resumed_at = fact.at;
  }
  return stops;
}
