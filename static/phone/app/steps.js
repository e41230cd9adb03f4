/* What to do next on a pour, in one sentence, as pours/steps.py says it. */
import { fillInHand, titleOf } from "./fold.js";

export function nextStep(log, at, soonMin = 10) {
  const step = openBatch(log, at, soonMin) ?? stoppage(log) ?? openLeak(log) ?? release(log) ?? nextBatch(log) ?? closeOut(log);
  if (step) return { kind: "", button: "", about: {}, is_urgent: false, ...step };
  const left = log.points.filter((point) => !point.is_closed).length;
  const later = left > 1 ? `${left} later hold points are open; answer` : "One later hold point is open; answer";
  const more = left ? ` ${later} each when its step is done.` : "";
  return { kind: "", button: "", about: {}, is_urgent: false, sentence: `The record of this pour is complete. Cure readings and inspections follow.${more}` };
}

function openBatch(log, at, soonMin) {
  if (!log.open_batches.length) return null;
  const batch = [...log.open_batches].sort((a, b) => a.clock_from - b.clock_from || a.number - b.number)[0];
  const left = batch.ends_at === null ? null : (batch.ends_at - at) / 60000;
  const about = { batch: batch.number };
  const isUrgent = left !== null && left < soonMin;
  if (left !== null && left <= 0) {
    return { kind: "discarded", sentence: `Batch ${batch.number} is past its working life. Do not place it.`, button: `Discard batch ${batch.number}`, about, is_urgent: true };
  }
  for (const [kind, done] of [["aggregate_in", batch.aggregate_at], ["wetted_out", batch.wetted_at]]) {
    if (done === null) {
      const title = titleOf(kind, log.grout);
      return { kind, sentence: `Batch ${batch.number}: say when “${title}” is done.`, button: `Batch ${batch.number}: ${title.toLowerCase()}`, about, is_urgent: isUrgent };
    }
  }
  const place = fillInHand(log).name;
  const where = log.open_fills.length ? ` in compartment ${place}.` : ".";
  return { kind: "placed", sentence: `Place batch ${batch.number}${where}`, button: `Batch ${batch.number} placed`, about: { ...about, compartment: place }, is_urgent: isUrgent };
}

function stoppage(log) {
  if (!log.open_stoppage) return null;
  return { kind: "resumed", sentence: `Work is stopped: ${log.open_stoppage.why}. Say when it goes on.`, button: "Work goes on", is_urgent: true };
}

function openLeak(log) {
  const leak = log.open_leaks[0];
  return leak ? { kind: "leak_closed", sentence: `Close the leak at ${leak.where} before more grout goes in.`, button: "Leak closed", about: { leak: leak.id }, is_urgent: true } : null;
}

function release(log) {
  const open = log.points.filter((point) => point.holds_the_pour && !point.is_closed);
  if (!open.length) return null;
  const [point] = open;
  const sentence = open.length > 1
    ? `${open.length} hold points are open before the pour. Next: ${point.position}. ${point.step}.`
    : `One hold point is open before the pour: ${point.position}. ${point.step}.`;
  return { kind: "point_answer", sentence, button: `Answer hold point ${point.position}`, about: { point: point.id } };
}

function nextBatch(log) {
  if (!log.open_fills.length || log.declared_at !== null) return null;
  const [fill] = log.open_fills;
  if (fill.takeoff_l - fill.placed_l <= fill.sd_l) {
    return { kind: "compartment_full", sentence: `Compartment ${fill.name} has its volume. Look at every vent: is it full and bleeding?`, button: `Compartment ${fill.name} is full`, about: { compartment: fill.name } };
  }
  return { kind: "liquids_started", sentence: `Start batch ${log.next_batch} for compartment ${fill.name}.`, button: `Start batch ${log.next_batch}`, about: { batch: log.next_batch } };
}

function closeOut(log) {
  if (log.state === "settled") return null;
  if (log.declared_at !== null) return { sentence: "The pour was declared complete, but the record is not. See what is missing." };
  if (!log.samples.length) return { kind: "sample", sentence: "No sample was cast yet. Cast one, or go on to “Check and finish”.", button: "Enter a sample" };
  return { kind: "declared_complete", sentence: "All compartments are full. Check what was entered and declare the pour complete.", button: "Check and finish" };
}
