/* Three times are kept apart: what this phone says, how far it is off, and when the server heard of it. */
import { meta, setMeta } from "./store.js";

const JUMP_MS = 2000;
export const OFF_MS = 60000;
const BOOT = crypto.randomUUID();
let base = Date.now() - performance.now();
let sample = null;

export async function load() {
  sample = await meta("clock");
}

/* Keep the sample whose way was shortest; one of this run that is older than a quarter of an hour gives way. */
export async function take(serverMs, sentMs, gotMs) {
  const trip = gotMs - sentMs;
  if (trip < 0 || !Number.isFinite(serverMs)) return;
  const isNewer = !sample || sample.boot !== BOOT || hasJumped() || gotMs - sample.at > 15 * 60000 || gotMs < sample.at;
  if (!isNewer && trip > sample.trip) return;
  sample = { offset_ms: Math.round(serverMs - (sentMs + gotMs) / 2), trip, at: gotMs, boot: BOOT };
  base = Date.now() - performance.now();
  await setMeta("clock", sample);
}

function hasJumped() {
  return Math.abs(Date.now() - performance.now() - base) > JUMP_MS;
}

/* What an op says about the clock that stamped it. */
export function state() {
  const age = sample ? Math.round((Date.now() - sample.at) / 1000) : null;
  if (!sample) return { offset_ms: null, age_s: null, boot: hasJumped() ? "jump" : "same" };
  if (age < 0) return { offset_ms: sample.offset_ms, age_s: null, boot: "jump" };
  const boot = hasJumped() ? "jump" : sample.boot === BOOT ? "same" : "other";
  return { offset_ms: sample.offset_ms, age_s: age, boot };
}

/* A moment of this phone by the server's clock, as the server works it out from the same words. */
export function corrected(ms, clock) {
  return clock && clock.offset_ms !== null && clock.boot !== "jump" ? ms + clock.offset_ms : ms;
}

export const now = () => corrected(Date.now(), state());
export const offsetMs = () => sample?.offset_ms ?? null;
