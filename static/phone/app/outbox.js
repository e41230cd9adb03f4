/* The outbox: draft → saved → sending → sent → safe → purged, and needs_help beside them.
   An op leaves no state on doubt. Its text is written once. Only forget() ever takes content away, and it asks for a
   receipt that names this very op and these very bytes, for the server's backup, and for thirty days. */
import * as ballast from "./ballast.js";
import { bytesOf, sealed, sha256 } from "./canon.js";
import { all, get, run, setMeta, meta } from "./store.js";

export const KEEP_DAYS = 30;
export const OP_BYTES = 16384;
const SEEN = new Set(["sent", "safe", "purged"]);
const channel = new BroadcastChannel("groutjobs-outbox");
const listeners = new Set();

export function onChange(tell) {
  listeners.add(tell);
  return () => listeners.delete(tell);
}

channel.onmessage = () => listeners.forEach((tell) => tell("other tab"));

function changed() {
  channel.postMessage("changed");
  listeners.forEach((tell) => tell("here"));
}

export class Refused extends Error {
  constructor(message) {
    super(message);
    this.name = "Refused";
  }
}

/* Write one entry. It returns only when the op stands in the store and was read back: then, and only then, may the
   screen say “Saved on this phone”. The same op_id again gives the row that is there. `make` gives the op and its key. */
export async function save(opId, make, { draft = null, label = "" } = {}) {
  return navigator.locks.request("groutjobs-save", async () => {
    const [there, last] = await run(["ops", "meta"], "readonly", (tx) => Promise.all([tx.objectStore("ops").get(opId), tx.objectStore("meta").get("seq")]));
    if (there) return there;
    const seq = (last?.value ?? 0) + 1;
    const [op, key] = await make();
    const text = await sealed({ ...op, device_seq: seq }, key);
    const bytes = bytesOf(text);
    if (bytes.length > OP_BYTES) throw new Refused(`This entry has ${bytes.length} bytes; ${OP_BYTES} are the limit.`);
    const row = {
      op_id: op.op_id, seq, record_id: op.record_id, kind: op.kind, text, sha256: await sha256(bytes), state: "saved",
      blobs: op.body.blobs ?? [], label, saved_at: Date.now(), tries: 0, receipt: null, now: "", problem: null,
    };
    await commit(row, draft);
    await readBack(row);
    setTimeout(changed);
    return row;
  });
}

/* When the phone is full, the ballast goes and the words are written in its place. */
async function commit(row, draft) {
  for (let turn = 0; ; turn += 1) {
    try {
      return await put(row, draft);
    } catch (error) {
      if (error?.name !== "QuotaExceededError" || turn > 5) throw error;
      if (!(await ballast.drop()) && turn === 0) throw error;
      await new Promise((done) => setTimeout(done, 50 * 2 ** turn));
    }
  }
}

async function put(row, draft) {
  await run(["ops", "meta", "drafts"], "readwrite", async (tx) => {
    await tx.objectStore("ops").put(row);
    await tx.objectStore("meta").put({ key: "seq", value: row.seq });
    if (draft) await tx.objectStore("drafts").delete(draft);
  });
}

async function readBack(row) {
  const stored = await get("ops", row.op_id);
  if (!stored || stored.text !== row.text || stored.sha256 !== row.sha256) { // the hash was made of this very text
    throw new Error("The entry was not found in the store after saving.");
  }
}

export const rows = () => all("ops");

export async function waiting() {
  const ops = (await rows()).filter((row) => row.state === "saved" || row.state === "sending");
  return ops.sort((one, other) => one.seq - other.seq);
}

async function change(ids, edit) {
  const wanted = [...ids];
  await run(["ops"], "readwrite", async (tx) => {
    const store = tx.objectStore("ops");
    for (const id of wanted) {
      const row = await store.get(id);
      const next = row && edit(row);
      if (next) await store.put(next);
    }
  });
  changed();
}

export const markSending = (ids) => change(ids, (row) => row.state === "saved" && { ...row, state: "sending", tries: row.tries + 1 });
export const backToSaved = (ids) => change(ids, (row) => row.state === "sending" && { ...row, state: "saved" });

/* A receipt counts where id and hash are ours; anything else changes nothing. */
export function fits(row, receipt) {
  return Boolean(receipt) && receipt.op_id === row.op_id && receipt.sha256 === row.sha256
    && Number.isInteger(receipt.ledger_seq) && typeof receipt.received_at === "string";
}

export const receive = (id, receipt, now = "") => change([id], (row) =>
  fits(row, receipt) && row.state !== "purged" && { ...row, state: row.state === "safe" ? "safe" : "sent", receipt, now, problem: null });

export const needHelp = (id, problem) => change([id], (row) =>
  !SEEN.has(row.state) && { ...row, state: "needs_help", problem });

export const tryAgain = (id) => change([id], (row) => row.state === "needs_help" && { ...row, state: "saved" });

/* Numbers that the server has never seen although we hold them: they go out again. */
export async function offerAgain(seqs) {
  const wanted = new Set(seqs);
  const ids = (await rows()).filter((row) => wanted.has(row.seq) && (row.state === "sent" || row.state === "safe"));
  if (ids.length) await change(ids.map((row) => row.op_id), (row) => ({ ...row, state: "saved" }));
}

export async function markSafe(safeSeq) {
  const due = (await rows()).filter((row) => row.state === "sent" && row.receipt.ledger_seq <= safeSeq);
  if (due.length) await change(due.map((row) => row.op_id), (row) => row.state === "sent" && { ...row, state: "safe" });
}

/* The server was restored from a backup: all that came after its head is offered once more, photos too. */
export async function newEpoch(epoch, head) {
  const known = await meta("epoch");
  if (known === epoch) return;
  if (known !== null) {
    const gone = (await rows()).filter((row) => (row.state === "sent" || row.state === "safe") && row.receipt.ledger_seq > head);
    await change(gone.map((row) => row.op_id), (row) => ({ ...row, state: "saved" }));
    const shots = new Set(gone.flatMap((row) => row.blobs));
    for (const id of shots) await changeShot(id, (shot) => ({ ...shot, received_at: null }));
  }
  await setMeta("epoch", epoch);
}

/* The one place where content goes. `serverMs` is the server's time of this very contact, not the phone's clock. */
export async function forget(serverMs) {
  const ops = await rows();
  const shots = new Map((await all("shots")).map((shot) => [shot.sha256, shot]));
  const isOld = (row) => serverMs - Date.parse(row.receipt.received_at) >= KEEP_DAYS * 86400000;
  const hasShots = (row) => row.blobs.every((id) => !shots.has(id) || shots.get(id).received_at);
  const due = ops.filter((row) => row.state === "safe" && fits(row, row.receipt) && isOld(row) && hasShots(row));
  const going = new Set(due.map((row) => row.op_id));
  const needed = new Set(ops.filter((row) => !going.has(row.op_id) && row.state !== "purged").flatMap((row) => row.blobs));
  const loose = due.flatMap((row) => row.blobs).filter((id) => !needed.has(id));
  if (!due.length) return 0;
  await run(["ops", "blobs", "shots"], "readwrite", async (tx) => {
    for (const row of due) await tx.objectStore("ops").put({ ...row, text: "", state: "purged" });
    for (const id of loose) await tx.objectStore("blobs").delete(id);
    for (const id of loose) await tx.objectStore("shots").delete(id);
  });
  changed();
  return due.length;
}

async function changeShot(id, edit) {
  await run(["shots"], "readwrite", async (tx) => {
    const shot = await tx.objectStore("shots").get(id);
    if (shot) await tx.objectStore("shots").put(edit(shot));
  });
  changed();
}

export const blobReceived = (id, receivedAt) => changeShot(id, (shot) => ({ ...shot, received_at: receivedAt, problem: null }));
export const blobProblem = (id, problem) => changeShot(id, (shot) => (shot.received_at ? shot : { ...shot, problem }));

/* Photos that an op names and the server has not confirmed, small ones first. */
export async function blobsWaiting() {
  const named = new Set((await rows()).filter((row) => row.state !== "purged").flatMap((row) => row.blobs));
  const shots = (await all("shots")).filter((shot) => named.has(shot.sha256) && !shot.received_at && !shot.problem);
  return shots.sort((one, other) => one.size - other.size).map((shot) => shot.sha256);
}

/* Entries by what has become of them. An entry is received when its op and all its photos are. */
export async function counts() {
  const shots = new Map((await all("shots")).map((shot) => [shot.sha256, shot.received_at]));
  const found = { unsent: 0, sending: 0, help: 0, received: 0, photos: 0, oldest: null, by_record: {} };
  for (const row of await rows()) {
    const open = row.blobs.filter((id) => shots.has(id) && !shots.get(id)).length;
    if (row.state === "needs_help") found.help += 1;
    else if (row.state === "sending") found.sending += 1;
    else if (row.state === "saved" || (row.state !== "purged" && open)) found.unsent += 1;
    else found.received += 1;
    if (row.state === "purged") continue;
    found.photos += open;
    if (!SEEN.has(row.state)) {
      found.by_record[row.record_id] = (found.by_record[row.record_id] ?? 0) + 1;
      found.oldest = Math.min(found.oldest ?? Infinity, row.saved_at);
    }
  }
  return found;
}

/* The very bytes of what is on this phone, for a file that the desk can read in. */
export async function rescue(deviceId, madeAt, encode) {
  const kept = (await rows()).filter((row) => row.text);
  const blobs = [];
  for (const shot of await all("shots")) {
    if (!shot.received_at) blobs.push({ sha256: shot.sha256, base64: encode((await get("blobs", shot.sha256)).bytes) });
  }
  const ops = kept.sort((one, other) => one.seq - other.seq).map((row) => ({ op_id: row.op_id, sha256: row.sha256, text: row.text }));
  return { rescue: 1, device_id: deviceId, made_at: madeAt, ops, blobs };
}
