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

let connection = null;

function upgrade(fresh) {
  for (const [name, keyPath] of Object.entries(STORES)) {
    if (!fresh.objectStoreNames.contains(name)) fresh.createObjectStore(name, { keyPath });
  }
}

/* The promise of one connection, shared by all who ask while it lives. */
function open() {
  if (connection) return connection;
  const made = (async () => openDB(NAME, VERSION, { upgrade, blocking() { drop(made); }, terminated() { drop(made); } }))();
  connection = made;
  made.then((db) => db.addEventListener("close", () => drop(made)), () => {});
  return made;
}

/* Give up this connection and no other: whoever finds it dead later must not close the one that was opened since. */
function drop(dead) {
  if (connection === dead) connection = null;
  dead.then((db) => db.close()).catch(() => { /* it never was, or was closed already */ });
}

function isDeath(error) {
  return !NOT_DEATH.has(error?.name);
}

async function once(db, stores, mode, work) {
  const tx = db.transaction(stores, mode, { durability: "strict" });
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
  for (let isAgain = false; ; isAgain = true) {
    const opened = open();
    try {
      return await once(await opened, stores, mode, work);
    } catch (error) {
      if (!isDeath(error)) throw error;
      drop(opened);
      if (isAgain) throw new StoreDead(error);
    }
  }
}

export const get = (store, key) => run([store], "readonly", (tx) => tx.objectStore(store).get(key));
export const all = (store) => run([store], "readonly", (tx) => tx.objectStore(store).getAll());
export const put = (store, row) => run([store], "readwrite", (tx) => tx.objectStore(store).put(row));

export async function meta(key, otherwise = null) {
  return (await get("meta", key))?.value ?? otherwise;
}

export const setMeta = (key, value) => put("meta", { key, value });
