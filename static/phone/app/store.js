/* The phone's own store. Everything that is written goes through run(): one transaction, on disk before it returns.
   A connection that died in the background is opened again once; after that the phone cannot save, and says so. */
import { openDB } from "./idb.js";

export const NAME = "groutjobs-phone";
export const VERSION = 1;
/* Stores are only ever added here. One that exists is never made again: its entries would be gone. Bytes of photos lie in
   blobs, what became of each in shots, so that counting reads no pictures. */
const STORES = { ops: "op_id", blobs: "sha256", shots: "sha256", drafts: "key", meta: "key", keys: "key_id", snaps: "record_id" };
const NOT_DEATH = new Set(["QuotaExceededError", "ConstraintError", "DataError", "DataCloneError", "Refused"]);

export class StoreDead extends Error {
  constructor(cause) {
    super("This phone cannot save.", { cause });
    this.name = "StoreDead";
  }
}

let handle = null;

async function open() {
  if (handle) return handle;
  const db = await openDB(NAME, VERSION, {
    upgrade(fresh) {
      for (const [name, keyPath] of Object.entries(STORES)) {
        if (!fresh.objectStoreNames.contains(name)) fresh.createObjectStore(name, { keyPath });
      }
    },
    blocking() { drop(); },
    terminated() { handle = null; },
  });
  db.addEventListener("close", () => { handle = null; });
  handle = db;
  return db;
}

function drop() {
  try { handle?.close(); } catch { /* it was closed already */ }
  handle = null;
}

function isDeath(error) {
  return !NOT_DEATH.has(error?.name);
}

async function once(stores, mode, work) {
  const tx = (await open()).transaction(stores, mode, { durability: "strict" });
  tx.done.catch(() => {});
  try {
    const result = await work(tx);
    await tx.done;
    return result;
  } catch (error) {
    try { tx.abort(); } catch { /* it ended by itself */ }
    throw tx.error ?? error;
  }
}

/* Work may await requests of its transaction only, and must be able to run twice. */
export async function run(stores, mode, work) {
  try {
    return await once(stores, mode, work);
  } catch (error) {
    if (!isDeath(error)) throw error;
    drop();
  }
  try {
    return await once(stores, mode, work);
  } catch (error) {
    throw isDeath(error) ? new StoreDead(error) : error;
  }
}

export const get = (store, key) => run([store], "readonly", (tx) => tx.objectStore(store).get(key));
export const all = (store) => run([store], "readonly", (tx) => tx.objectStore(store).getAll());
export const put = (store, row) => run([store], "readwrite", (tx) => tx.objectStore(store).put(row));

export async function meta(key, otherwise = null) {
  return (await get("meta", key))?.value ?? otherwise;
}

export const setMeta = (key, value) => put("meta", { key, value });
