/* What is being typed, kept at least every two seconds and whenever the page goes out of sight. One draft for each
   record, kind and thing; saving the entry takes the draft away in the same transaction. */
import { get, put, run } from "./store.js";

export const EVERY_MS = 1000;

export function draftOf(key, read) {
  let last = "";
  let isOver = false;
  const marks = {};
  async function keep(more = {}) {
    if (isOver) return;
    Object.assign(marks, more);
    const values = { ...read(), ...marks };
    const text = JSON.stringify(values);
    if (text === last) return;
    last = text;
    await put("drafts", { key, values, kept_at: Date.now() });
  }
  const tick = () => keep().catch(() => {});
  const timer = setInterval(tick, EVERY_MS);
  const hide = () => document.visibilityState === "hidden" && tick();
  document.addEventListener("visibilitychange", hide);
  addEventListener("pagehide", tick);
  return {
    key,
    keep,
    end() {
      isOver = true;
      clearInterval(timer);
      document.removeEventListener("visibilitychange", hide);
      removeEventListener("pagehide", tick);
    },
  };
}

export const load = async (key) => (await get("drafts", key))?.values ?? null;
export const drop = (key) => run(["drafts"], "readwrite", (tx) => tx.objectStore("drafts").delete(key));
