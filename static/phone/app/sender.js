/* One sender for all tabs, held by a lock that a killed tab lets go of. It never ends and never gives up. */
import { bytesOf, digestHeader } from "./canon.js";
import * as outbox from "./outbox.js";
import { regain, tellKey } from "./prove.js";
import { pull } from "./pull.js";
import { get, meta, setMeta } from "./store.js";
import { NoServer, call, hello } from "./wire.js";

const FIRST_S = 2;
const MOST_S = 300;
const IDLE_S = 60;
const BATCH = 50;
const BATCH_BYTES = 240000;
const HASH_TRIES = 2;
const MOST_TRIES = 3;
const MINUTE_MS = 60000;
const tried = new Map();
const channel = new BroadcastChannel("groutjobs-sender");
let isWanted = false;
let wake = () => { isWanted = true; };
let failures = 0;
export const link = { words: "", at: 0, code: "" };
const listeners = new Set();
export const onLink = (tell) => listeners.add(tell);

channel.onmessage = (event) => {
  if (event.data === "now") wake();
  else tellLink(event.data, false);
};

function tellLink(next, isMine = true) {
  Object.assign(link, next);
  if (isMine) channel.postMessage({ ...link });
  listeners.forEach((tell) => tell(link));
}

/* Try at once: after a save, on waking up, when the network says it is back, at a tap. */
export function nudge() {
  failures = 0;
  channel.postMessage("now");
  wake();
}

export function backoffS(tries, chance = Math.random()) {
  return chance * Math.min(MOST_S, FIRST_S * 2 ** Math.max(0, tries - 1));
}

/* The same bytes go out at most three times within a minute, whatever wakes the sender: the time that an entry rests. */
function restMs(id, now) {
  const times = (tried.get(id) ?? []).filter((at) => now - at < MINUTE_MS);
  return times.length < MOST_TRIES ? 0 : times.at(-MOST_TRIES) + MINUTE_MS - now;
}

function noteTries(ids, now) {
  for (const id of ids) tried.set(id, [...(tried.get(id) ?? []), now].slice(-MOST_TRIES));
}

/* A tap on "Send now": what rests goes out too. */
export function sendNow() {
  tried.clear();
  nudge();
}

/* A wish that comes in the middle of a turn is not lost: the next turn follows at once. */
function pause(seconds) {
  return new Promise((done) => {
    const timer = setTimeout(done, isWanted ? 0 : seconds * 1000);
    isWanted = false;
    wake = () => { clearTimeout(timer); isWanted = false; done(); };
  });
}

export function start() {
  navigator.locks.request("groutjobs-sender", async () => {
    for (;;) {
      wake = () => { isWanted = true; };
      await pause(await turn());
    }
  });
  for (const event of ["online", "pageshow", "focus"]) addEventListener(event, nudge);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && nudge());
}

/* One turn; returns how many seconds to wait for the next. */
async function turn() {
  try {
    if (!(await meta("device"))) return IDLE_S;
    await round();
    failures = 0;
    const now = performance.now();
    const rests = (await outbox.waiting()).map((row) => restMs(row.op_id, now) / 1000);
    return Math.min(IDLE_S, ...rests.map((rest) => rest + 1));
  } catch (error) {
    await outbox.backToSaved((await outbox.waiting()).map((row) => row.op_id)).catch(() => {});
    failures += 1;
    if (!(error instanceof NoServer)) tellLink({ words: String(error.message), code: "fault" });
    else tellLink({ words: WORDS[error.kind], code: error.kind });
    return Math.max(error.retryS ?? 0, backoffS(failures));
  }
}

const WORDS = {
  unknown: "No connection to the server.",
  not_ours: "No real connection: another page answered in place of the server. Sign in to that network, or leave it.",
  wait: "The server is busy; it will be tried again.",
  device: "The server does not know this phone any more. Entries stay here: enrol it again, or save the rescue file.",
};

export async function round() {
  await outbox.backToSaved((await outbox.waiting()).map((row) => row.op_id));
  let answer = await hello(await told());
  if (answer.status === 401 && (await regain())) answer = await hello(await told());
  if (answer.status === 401 || answer.status === 403) {
    tellLink({ words: WORDS.device, code: "device" });
    // what was entered before a phone was revoked is still taken, for a decision at the desk
    if (answer.data?.error?.code === "device_revoked") await sendOps().then(sendBlobs);
    return;
  }
  if (answer.status !== 200) throw new NoServer("unknown", `HTTP ${answer.status}`);
  const said = answer.data;
  await outbox.newEpoch(said.epoch, said.epoch_head);
  await raiseSeq(said.device.highest_seq);
  await setMeta("device", said.device);
  await tellKey(said.device);
  await outbox.offerAgain(said.device.missing_seqs ?? []);
  await sendOps();
  await sendBlobs();
  await outbox.markSafe(said.safe_seq);
  await outbox.forget(Date.parse(said.time));
  await pull();
  await setMeta("contact", Date.now());
  tellLink({ words: "", code: "", at: Date.now() });
}

/* A phone that joined by the page without script, or whose store was wiped, is known by its cookie. */
export async function claim() {
  try {
    if (await meta("device")) return;
    let answer = await hello({});
    if (answer.status === 401 && (await regain())) answer = await hello({});
    if (answer.status === 200) await setMeta("device", answer.data.device);
  } catch { /* the screen for joining is shown then */ }
}

/* A phone whose store was wiped must not count from one again. */
async function raiseSeq(highest) {
  await navigator.locks.request("groutjobs-save", async () => {
    if (highest > (await meta("seq", 0))) await setMeta("seq", highest);
  });
}

async function told() {
  const { by_record: pending } = await outbox.counts();
  const list = Object.entries(pending).map(([id, count]) => `${id}=${count}`).join(",");
  return { "X-Device-Seq": String(await meta("seq", 0)), "X-Pending": list || "none" };
}

async function sendOps() {
  for (;;) {
    const now = performance.now();
    const batch = fitting((await outbox.waiting()).filter((row) => !restMs(row.op_id, now)));
    if (!batch.length) return;
    await outbox.markSending(batch.map((row) => row.op_id));
    noteTries(batch.map((row) => row.op_id), now);
    const body = JSON.stringify({ ops: batch.map(({ op_id, sha256, text }) => ({ op_id, sha256, text })) });
    const bytes = bytesOf(body);
    const headers = { ...(await told()), "Content-Type": "application/json", "Content-Digest": await digestHeader(bytes) };
    const answer = await call("POST", "/sync/v1/ops", { bytes, headers });
    if (answer.status !== 200 || !Array.isArray(answer.data?.answers)) throw new NoServer("unknown", `HTTP ${answer.status}`);
    await settle(batch, answer.data.answers);
  }
}

function fitting(rows) {
  const batch = [];
  let size = 0;
  for (const row of rows) {
    size += 2 * row.text.length + 200;
    if (batch.length === BATCH || (batch.length && size > BATCH_BYTES)) break;
    batch.push(row);
  }
  return batch;
}

/* What the server said of each op. An op about which it said nothing that fits stays ours. */
async function settle(batch, answers) {
  const byId = new Map(answers.map((answer) => [answer?.op_id, answer]));
  let unclear = 0;
  for (const row of batch) {
    const answer = byId.get(row.op_id);
    if (outbox.fits(row, answer?.receipt)) await outbox.receive(row.op_id, answer.receipt, answer.now);
    else if (answer?.error && isFinal(answer.error, row)) await outbox.needHelp(row.op_id, answer.error);
    else unclear += 1;
  }
  const left = new Set((await outbox.waiting()).map((row) => row.op_id));
  batch.forEach((row) => left.has(row.op_id) || tried.delete(row.op_id));
  await outbox.backToSaved(batch.map((row) => row.op_id));
  if (unclear) throw new NoServer("unknown", `${unclear} entries without a receipt that fits`);
}

const FINAL = new Set(["other_bytes", "malformed", "op_too_big", "other_device", "device_revoked"]);

function isFinal(error, row) {
  return FINAL.has(error.code) || (error.code === "hash_wrong" && row.tries >= HASH_TRIES - 1);
}

async function sendBlobs() {
  for (const id of await outbox.blobsWaiting()) {
    const shot = await get("blobs", id);
    const answer = await call("PUT", `/sync/v1/blobs/${id}`, { bytes: shot.bytes, headers: { "Content-Type": shot.type }, isPhoto: true });
    if ((answer.status === 200 || answer.status === 201) && answer.data?.sha256 === id) await outbox.blobReceived(id, answer.data.received_at ?? new Date().toISOString());
    else if ([413, 415, 422].includes(answer.status)) await outbox.blobProblem(id, answer.data?.error ?? { code: "refused", message: "" });
    else throw new NoServer("unknown", `HTTP ${answer.status} to a photo`);
  }
}
