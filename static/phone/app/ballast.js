/* Room held back for words. What a browser says about free room is no promise, so a block of bytes lies in the store from
   the start; when the phone is full it is thrown out, and the words go in its place. Photos never get it. */
import { get, run } from "./store.js";

export const BYTES = 4 * 1024 * 1024;
const KEY = "ballast";

export async function load() {
  if (await get("meta", KEY)) return true;
  const value = new Uint8Array(BYTES);
  for (let at = 0; at < BYTES; at += 65536) crypto.getRandomValues(value.subarray(at, at + 65536));
  try {
    await run(["meta"], "readwrite", (tx) => tx.objectStore("meta").put({ key: KEY, value: value.buffer }));
    return true;
  } catch {
    return false; // no room for it now; it is tried again at the next start
  }
}

/* Returns whether there was anything to throw out. */
export function drop() {
  return run(["meta"], "readwrite", async (tx) => {
    const there = await tx.objectStore("meta").getKey(KEY);
    await tx.objectStore("meta").delete(KEY);
    return there !== undefined;
  });
}
