/* What others wrote: one snapshot for each pour, kept whole, so that the screens need no network. */
import { all, get, meta, put, setMeta } from "./store.js";
import { NoServer, call } from "./wire.js";

const listeners = new Set();
export const onPull = (tell) => listeners.add(tell);
const channel = new BroadcastChannel("groutjobs-pull");
channel.onmessage = () => listeners.forEach((tell) => tell());

export async function pull() {
  const records = await listing();
  let isNew = false;
  for (const row of records) isNew = (await pullOne(row)) || isNew;
  const listed = new Set(records.map((row) => row.record_id));
  for (const snap of await all("snaps")) {
    if (snap.is_listed && !listed.has(snap.record_id)) await put("snaps", { ...snap, is_listed: false });
  }
  if (isNew) {
    channel.postMessage("new");
    listeners.forEach((tell) => tell());
  }
}

/* The list of pours is kept with its tag; it comes again only when it is another. */
async function listing() {
  const known = await meta("listing");
  const list = await call("GET", "/sync/v1/records", { headers: known ? { "If-None-Match": known.etag } : {} });
  if (list.status === 304 && known) return known.records;
  if (list.status !== 200 || !Array.isArray(list.data?.records)) throw new NoServer("unknown", `HTTP ${list.status} to the list`);
  await setMeta("listing", { etag: list.headers.get("ETag"), records: list.data.records });
  return list.data.records;
}

/* A pour at the revision that is here already is asked for again only now and then, for what else may have changed. */
const ASK_AGAIN_MS = 10 * 60000;

async function pullOne(row) {
  const known = await get("snaps", row.record_id);
  const age = Date.now() - (known?.pulled_at ?? 0);
  const isSame = known?.is_listed && known.snapshot.log.rev === row.rev && known.row.state === row.state;
  if (isSame && age >= 0 && age < ASK_AGAIN_MS) return false;
  const headers = known?.etag ? { "If-None-Match": known.etag } : {};
  const answer = await call("GET", row.snapshot, { headers });
  const isWhole = answer.status === 200 && answer.data?.record_id === row.record_id && Array.isArray(answer.data.log?.entries);
  const snapshot = isWhole ? answer.data : known?.snapshot;
  if (!snapshot || (!isWhole && answer.status !== 304)) return false;
  const etag = isWhole ? answer.headers.get("ETag") : known.etag;
  await put("snaps", { record_id: row.record_id, row, snapshot, etag, is_listed: true, pulled_at: Date.now() });
  return isWhole;
}
