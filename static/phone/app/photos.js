/* A photo: made small, decoded once more, stored as plain bytes under their hash, and read back before it counts. */
import { sha256 } from "./canon.js";
import { get, run } from "./store.js";

export const LONG_SIDE = 1600;
export const MOST_BYTES = 1572864;
const GOOD_BYTES = 400000;
/* Room that photos leave where the browser tells how much there is; ballast.js holds some in any case [GROUTJOBS]. */
export const WORDS_BYTES = 8 * 1024 * 1024;
export const POUR_BYTES = 150 * 1024 * 1024;

export class NoPhoto extends Error {}

export async function room() {
  const { quota = Infinity, usage = 0 } = (await navigator.storage?.estimate?.()) ?? {};
  return quota - usage;
}

/* Where the browser can draw beside the page, it does: the fingers are not kept waiting. */
async function drawn(picture, scale, quality) {
  const [width, height] = [picture.width, picture.height].map((side) => Math.max(1, Math.round(side * scale)));
  const isBeside = typeof OffscreenCanvas !== "undefined";
  const canvas = isBeside ? new OffscreenCanvas(width, height) : Object.assign(document.createElement("canvas"), { width, height });
  canvas.getContext("2d").drawImage(picture, 0, 0, width, height);
  const blob = isBeside ? await canvas.convertToBlob({ type: "image/jpeg", quality }).catch(() => null) : await new Promise((done) => canvas.toBlob(done, "image/jpeg", quality));
  if (!blob) throw new NoPhoto("The picture could not be made smaller. Take it again.");
  return { blob, width, height };
}

export async function shrink(file) {
  let picture;
  try {
    picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    throw new NoPhoto("This file is no picture that this phone can read. Take it again.");
  }
  const scale = Math.min(1, LONG_SIDE / Math.max(picture.width, picture.height));
  let small = await drawn(picture, scale, 0.82);
  for (let quality = 0.7; small.blob.size > GOOD_BYTES && quality > 0.4; quality -= 0.1) small = await drawn(picture, scale, quality);
  for (let part = 0.7; small.blob.size > MOST_BYTES && part > 0.1; part *= 0.7) small = await drawn(picture, scale * part, 0.6);
  picture.close();
  const again = await createImageBitmap(small.blob).catch(() => null);
  if (!again || again.width !== small.width || again.height !== small.height) throw new NoPhoto("The smaller picture cannot be read. Take it again.");
  again.close();
  return small.blob;
}

/* Returns the hash under which it is kept. Throws NoPhoto with a sentence where it is not. */
export async function keep(file) {
  const blob = await shrink(file);
  const bytes = await blob.arrayBuffer();
  if ((await room()) - bytes.byteLength < WORDS_BYTES) {
    throw new NoPhoto("No room for this photo: the phone is nearly full. Your words are still saved. Free some space, then take it again.");
  }
  const id = await sha256(bytes);
  try {
    await run(["blobs", "shots"], "readwrite", async (tx) => {
      if (await tx.objectStore("blobs").get(id)) return;
      await tx.objectStore("blobs").put({ sha256: id, type: "image/jpeg", bytes });
      await tx.objectStore("shots").put({ sha256: id, size: bytes.byteLength, taken_at: Date.now(), received_at: null, problem: null });
    });
  } catch (error) {
    if (error?.name === "QuotaExceededError") throw new NoPhoto("No room for this photo on the phone. Your words are still saved.");
    throw error;
  }
  const stored = await get("blobs", id);
  if (!(stored?.bytes instanceof ArrayBuffer) || (await sha256(stored.bytes)) !== id) throw new NoPhoto("The photo did not arrive in the store. Take it again.");
  return id;
}

export async function picture(id) {
  const shot = await get("blobs", id);
  return shot ? URL.createObjectURL(new Blob([shot.bytes], { type: shot.type })) : null;
}
