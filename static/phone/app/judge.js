/* What the facts mean: what is missing, the state, and those findings that need no engineering. The server judges the
   rest (levels, pauses, dew point) when the entries arrive, and says so at the desk. */
import { shown } from "./units.js";

const AFTER_THE_END = new Set(["point_answer", "reading", "note", "declared_complete"]);
const ONCE = ["aggregate_in", "discarded", "liquids_started", "wetted_out"];
const SURFACES = { plate: "Plate", concrete: "Concrete", material: "Material before mixing" };
const finding = (level, code, message, hint = "", source = "GROUTJOBS") => ({ level, code, message, hint, source });

export function judged(log, snapshot, units) {
  const openPoints = log.points.filter((point) => point.holds_the_pour && !point.is_closed);
  const beforeRelease = openPoints.map((point) => finding(
    "blocker", "point.open", `Hold point ${point.position}, ${point.step}: ${point.what_is_open}.`,
    `Acceptable is: ${point.acceptance}. A second person must have seen it.`, point.source));
  const beforeComplete = [...beforeRelease, ...openWork(log), ...sheetsMissing(log), ...asked(log)];
  const isOver = log.declared_at !== null || !(log.open_fills.length || log.open_batches.length);
  const last = Math.max(...log.batches.flatMap((batch) => batch.portions.map((portion) => portion.at)));
  const findings = [
    ...beforeReleaseFindings(log), ...batchFindings(log, snapshot, units), ...storeFindings(log, snapshot),
    ...surfaceFindings(log, snapshot, units), ...doubleFindings(log), ...lateFindings(log), ...conflictFindings(log),
  ];
  findings.sort((one, other) => LEVELS.indexOf(one.level) - LEVELS.indexOf(other.level));
  const found = {
    ...log, findings, missing_before_release: beforeRelease, missing_before_complete: beforeComplete,
    placed_at: log.poured_at !== null && isOver ? last : null,
  };
  return { ...found, state: stateOf(found), is_released: log.released_at !== null };
}

const LEVELS = ["blocker", "warning", "note"];
export const WORDS_OF_STATE = { prepared: "In preparation", released: "Released to pour", poured: "Pouring", placed: "Placed, curing", settled: "Record complete" };

function stateOf(log) {
  const blocked = log.missing_before_complete.some((one) => one.level === "blocker");
  if (log.declared_at !== null && log.poured_at !== null && !blocked) return "settled";
  if (log.placed_at !== null) return "placed";
  if (log.poured_at !== null) return "poured";
  return log.released_at !== null ? "released" : "prepared";
}

function openWork(log) {
  const found = [];
  if (log.poured_at === null) found.push(finding("blocker", "pour.nothing_placed", "No batch has been placed.", "Enter where each batch was placed."));
  for (const batch of log.open_batches) found.push(finding("blocker", "batch.open", `Batch ${batch.number} is neither placed to the end nor discarded.`, "Say where it went."));
  for (const fill of log.open_fills) found.push(finding("blocker", "fill.not_full", `Compartment ${fill.name} has not been seen full.`, "Look at every vent; when grout bleeds from it, say so.", "PRACTICE"));
  for (const leak of log.open_leaks) found.push(finding("blocker", "leak.open", `The leak at ${leak.where} (compartment ${leak.compartment}) is not closed.`, "Leaks do not seal themselves, and each leaves a void.", "BLOCH-MPE"));
  if (log.open_stoppage) found.push(finding("blocker", "pour.stopped", `Work is stopped: ${log.open_stoppage.why}.`, "Say when work goes on."));
  return found;
}

function sheetsMissing(log) {
  const count = log.effective.filter((fact) => fact.body.from_paper && !(fact.body.blobs ?? fact.body.photos)?.length).length;
  return count ? [finding("blocker", "entry.sheet_missing", `Transcribed from paper without a photo of the sheet: ${count} ${count === 1 ? "entry" : "entries"}.`, "Correct each of them and add the photo; the paper is the first record.")] : [];
}

function asked(log) {
  const found = [];
  if (!log.samples.length) found.push(finding("warning", "sample.none", "No sample was cast.", "A set of cubes for each pour is usual; the plan or the owner may ask for more.", log.grout === "epoxy" ? "ASTMC579" : "ASTMC1107"));
  for (const point of log.points) {
    if (point.before_pour && point.code === "W" && !point.latest) found.push(finding("warning", "point.witness_open", `Witness point ${point.position}, ${point.step}: not answered.`, "Answer it, or say why it does not apply.", point.source));
  }
  return found;
}

function beforeReleaseFindings(log) {
  const held = log.points.filter((point) => point.holds_the_pour);
  return log.batches.flatMap((batch) => {
    const open = held.filter((point) => !point.wasClosed(batch.clock_from)).map((point) => point.position);
    return open.length ? [finding("blocker", "batch.before_release", `Batch ${batch.number} was started while hold points were open: ${open.join(", ")}.`, "Tell the engineer; the entry is kept, and the report names it as a deviation.")] : [];
  });
}

function batchFindings(log, snapshot, units) {
  const { placing_min_c: low, placing_max_c: high, data_sheet: sheet } = snapshot.grout;
  const more = snapshot.rules?.more_than_a_batch ?? 1.05;
  const found = [];
  for (const batch of log.batches) {
    const late = batch.ends_at === null ? [] : batch.portions.filter((portion) => portion.at > batch.ends_at);
    if (late.length) found.push(finding("blocker", "batch.past_life", `Batch ${batch.number} was placed ${((late.at(-1).at - batch.ends_at) / 60000).toFixed(0)} min after its working life of ${batch.life_min.toFixed(0)} min had ended.`, "Tell the engineer: such grout flows and bonds badly. Sound that place with care.", "DATASHEET"));
    if (batch.life_min === null) found.push(finding("warning", "batch.life_unknown", `Batch ${batch.number}: the data sheet says nothing about working life at its temperature.`, "Ask the engineer how long it may be placed.", "DATASHEET"));
    if (batch.grout_c === null && batch.portions.length) found.push(finding("warning", "batch.not_measured", `Batch ${batch.number} was placed without a temperature of the grout.`, "Measure each batch when it is mixed; its working life depends on it."));
    if (batch.grout_c !== null && !(low <= batch.grout_c && batch.grout_c <= high)) found.push(finding("warning", "batch.temperature", `Grout of batch ${batch.number} had ${shown(batch.grout_c, units.c)}, outside ${shown(low, units.c)} to ${shown(high, units.c)} of ${sheet}.`, "Tell the engineer before more is mixed; condition the material.", "DATASHEET"));
    if (batch.placed_l > more * batch.volume_l) found.push(finding("warning", "batch.volume", `${shown(batch.placed_l, units.l)} of batch ${batch.number} were placed; its kits yield ${shown(batch.volume_l, units.l)}.`, "Look for an entry made twice, and strike it out.", "DATASHEET"));
    for (const portion of batch.portions) {
      if (!log.fills.some((fill) => fill.name === portion.compartment)) found.push(finding("warning", "fill.unknown_place", `Batch ${batch.number} was placed in ${portion.compartment}, which the plan does not have.`, "Correct the entry; its volume counts nowhere until then."));
    }
  }
  return found;
}

function storeFindings(log, snapshot) {
  const expiry = new Map(snapshot.lots.map((lot) => [lot.lot_no, lot.expires_on]));
  const used = new Map();
  for (const batch of log.batches) if (batch.lot) used.set(batch.lot, Math.max(batch.clock_from, used.get(batch.lot) ?? 0));
  const found = [];
  for (const lot of [...used.keys()].sort()) {
    const day = new Date(used.get(lot)).toLocaleDateString("sv-SE", { timeZone: snapshot.site?.zone });
    if (!expiry.has(lot)) found.push(finding("warning", "lot.unknown", `Lot ${lot} is not among the lots of this grout in the store.`, "Check the label, or add the lot to the data sheet page."));
    else if (day > expiry.get(lot)) found.push(finding("blocker", "lot.expired", `Lot ${lot} was used after its shelf life ended on ${expiry.get(lot)}.`, "Tell the engineer; the supplier decides whether it may stay.", "DATASHEET"));
  }
  if (log.kits_used > snapshot.grout.kits_total) found.push(finding("note", "kits.more", `${log.kits_used} kits were mixed; the plan has ${snapshot.grout.kits_total}.`));
  return found;
}

function surfaceFindings(log, snapshot, units) {
  const { placing_min_c: low, placing_max_c: high, data_sheet: sheet } = snapshot.grout;
  return Object.entries(SURFACES).flatMap(([what, words]) => {
    const last = log.readings.findLast((reading) => reading.body.what === what);
    if (!last || (low <= last.body.temp_c && last.body.temp_c <= high)) return [];
    return [finding("warning", "reading.temperature", `${words}: ${shown(last.body.temp_c, units.c)} at the last reading, outside ${shown(low, units.c)} to ${shown(high, units.c)} of ${sheet}.`, "Warm, cool or shade it, and read again.", "DATASHEET")];
  });
}

function doubleFindings(log) {
  const found = [];
  for (const batch of log.batches) for (const kind of ONCE) {
    const count = log.effective.filter((fact) => fact.kind === kind && fact.body.batch === batch.number).length;
    if (count > 1) found.push(finding("warning", "entry.double", `A step of batch ${batch.number} (${kind.replaceAll("_", " ")}) stands ${count} times; the first counts.`, "Strike out what is wrong."));
  }
  const standing = new Map();
  for (const line of log.lines) {
    const older = line.fact.replaces;
    if (older && !line.by.length && !line.lost) standing.set(older, (standing.get(older) ?? 0) + 1);
  }
  for (const count of standing.values()) if (count > 1) found.push(finding("warning", "entry.corrected_twice", `An entry was corrected by ${count} entries that all stand.`, "Strike out the one that is wrong."));
  return found;
}

function lateFindings(log) {
  if (log.declared_at === null) return [];
  const late = log.effective.filter((fact) => !AFTER_THE_END.has(fact.kind) && fact.kind !== "resolved" && fact.at > log.declared_at);
  return late.map(() => finding("warning", "entry.after_end", "An entry happened after the pour was declared complete.", "Strike out the declaration and declare again, or correct the time."));
}

function conflictFindings(log) {
  return log.conflicts.map((one) => finding("blocker", "entry.conflict", `${one.what}: ${one.sides.length} entries differ, by people who did not see each other's.`, "All are kept. A crew lead or an engineer says which one counts, with a reason."));
}
