/* What a screen says before it asks, what it fills in, and what it asks twice. */
import { fillInHand } from "./fold.js";
import * as clock from "./clock.js";
import { system } from "./model.js";
import { preferred, shown } from "./units.js";
import { clockTime, h } from "./ui.js";

export function carried(pour, kind, query, me) {
  const { log, snapshot } = pour;
  const last = log.batches.at(-1);
  const number = query.get("batch") ? Number(query.get("batch")) : kind === "liquids_started" || !last ? log.next_batch : (log.open_batches[0] ?? last).number;
  const batch = log.batches.find((one) => one.number === number);
  const mine = log.readings.filter((reading) => reading.author_id === me.author_id && reading.body.instrument);
  return {
    batch: number, kits: last?.kits ?? snapshot.grout.kits_per_batch, lot: last?.lot || snapshot.first_lot || "",
    bags: log.batches.findLast((one) => one.bags !== null)?.bags ?? null,
    compartment: query.get("compartment") ?? fillInHand(log)?.name,
    volume_l: (batch ? Math.max(batch.volume_l - batch.placed_l, 0) : snapshot.grout.batch_l) || null,
    left: "none", instrument: mine.at(-1)?.body.instrument ?? "", what: query.get("what") ?? "",
    label: `${snapshot.machine.tag}-${snapshot.label.match(/(\d+)$/)?.[1] ?? 1}-${log.samples.length + 1}`,
    leak: query.get("leak") ?? log.open_leaks[0]?.id ?? null,
  };
}

export const cautionOf = (made) => made.caution || "";

export function toldOf(pour, kind, fixedValues) {
  const { log, snapshot } = pour;
  const said = [];
  if (fixedValues.batch) {
    said.push(`Batch ${fixedValues.batch}`);
    const batch = log.batches.find((one) => one.number === fixedValues.batch);
    if (batch?.ends_at && (kind === "wetted_out" || kind === "placed")) {
      const [left, ends] = [(batch.ends_at - clock.now()) / 60000, clockTime(batch.ends_at, snapshot.site.zone)];
      said.push(left > 0 ? `${left.toFixed(0)} min of working life left, until ${ends}` : `Past its working life since ${ends}. Do not place it: discard it.`);
    }
  }
  if (fixedValues.point_id) {
    const point = log.points.find((one) => one.id === fixedValues.point_id);
    if (point) said.push(`${point.position}. ${point.step}`, point.checked, `Acceptable: ${point.acceptance}`, `Record: ${point.recorded}`, point.witness_role && `Witness by the plan: ${point.witness_role}`);
  }
  if (kind === "reading") said.push(lastReading(log, snapshot));
  return said.filter(Boolean).map((words, at) => h("p", { class: `told${at ? "" : " first"}` }, words));
}

function lastReading(log, snapshot) {
  const last = log.readings.at(-1);
  if (!last) return "";
  const slot = snapshot.kinds.reading.slots.find((one) => one.name === "temp_c");
  const what = snapshot.kinds.reading.slots.find((one) => one.name === "what").choices.find(([key]) => key === last.body.what)?.[1];
  return `Last reading: ${what} ${shown(last.body.temp_c, preferred(slot.units, system()))} at ${clockTime(last.at, snapshot.site.zone)}`;
}

/* Steps that are asked about once more; none is made impossible. */
export function extraChecks(pour, kind) {
  const { log } = pour;
  if (kind === "liquids_started" && !log.is_released) {
    const open = log.points.filter((point) => point.holds_the_pour && !point.is_closed).map((point) => point.position).join(", ");
    return [{ label: "Start although the pour is not released", wrong: `The pour is not released: hold points ${open} are open. Close them, or tick below.` }];
  }
  if (kind !== "declared_complete") return [];
  const ticks = [{ label: "I have read this, and it is right", wrong: "Read what is above and tick that it is right." }];
  if (log.missing_before_complete.some((one) => one.level === "blocker")) {
    ticks.push({ label: "Placing is over, although things are missing", wrong: "Things are missing, see above. Enter them first, or tick that placing is over." });
  }
  return ticks;
}
