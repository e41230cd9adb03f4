/* Photos of other phones: a small copy, fetched when it comes into view and there is a connection, and kept for later. */
import { NoServer, call } from "./wire.js";
import { h } from "./ui.js";

const SHELF = "groutjobs-small-photos";
const MOST = 100;

async function kept(place) {
  const found = await (await caches.open(SHELF)).match(place).catch(() => null);
  return found ? found.blob() : null;
}

async function keep(place, bytes) {
  const shelf = await caches.open(SHELF);
  await shelf.put(place, new Response(bytes, { headers: { "Content-Type": "image/jpeg" } }));
  const places = await shelf.keys();
  for (const old of places.slice(0, Math.max(0, places.length - MOST))) await shelf.delete(old);
}

/* The small copy, or the sentence that says why it is not here. */
async function fetched(id) {
  const place = `/sync/v1/blobs/${id}/small`;
  const known = await kept(place).catch(() => null);
  if (known) return known;
  try {
    const answer = await call("GET", place, { wantsBytes: true });
    if (answer.status === 404) return "has not reached the server yet; it is still on the phone that took it.";
    if (answer.status !== 200) return `could not be fetched: the server answered ${answer.status}.`;
    await keep(place, answer.data).catch(() => {});
    return new Blob([answer.data], { type: "image/jpeg" });
  } catch (error) {
    if (error instanceof NoServer) return "was taken on another phone. There is no connection to fetch it now.";
    throw error;
  }
}

const watcher = new IntersectionObserver((seen) => {
  for (const one of seen) {
    if (!one.isIntersecting) continue;
    watcher.unobserve(one.target);
    one.target.dispatchEvent(new Event("wanted"));
  }
});

export function otherPhoto(id, number) {
  const place = h("p", { class: "snap-place" }, `Photo ${number} was taken on another phone.`);
  place.addEventListener("wanted", async () => {
    const found = await fetched(id);
    if (typeof found === "string") place.textContent = `Photo ${number} ${found}`;
    else place.replaceChildren(h("img", { class: "snap", src: URL.createObjectURL(found), alt: `Photo ${number}, taken on another phone`, width: 120, height: 90 }));
  }, { once: true });
  watcher.observe(place);
  return place;
}
