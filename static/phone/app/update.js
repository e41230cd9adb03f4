/* A new build waits until nobody is in the middle of anything, and then until it is asked for. */
import { counts } from "./outbox.js";
import { pours } from "./model.js";
import { h, press, told } from "./ui.js";

/* A page that stays open for days asks now and then; else the browser asks at each opening. */
const ASK_MS = 30 * 60000;
const REST_MS = 5000;
let waiting = null;

export function watch() {
  if (!navigator.serviceWorker) return;
  navigator.serviceWorker.register("/phone/worker.js", { scope: "/" }).then((made) => {
    waiting = made.waiting;
    setInterval(() => made.update().catch(() => {}), ASK_MS);
    made.addEventListener("updatefound", () => {
      const fresh = made.installing;
      fresh.addEventListener("statechange", () => { if (fresh.state === "installed" && navigator.serviceWorker.controller) waiting = fresh; });
    });
  }).catch(() => {});
  setTimeout(() => navigator.serviceWorker.ready.then((made) => made.active?.postMessage("keep the rest")), REST_MS);
  let isAsked = false;
  navigator.serviceWorker.addEventListener("controllerchange", () => { if (isAsked) location.reload(); });
  takeOver = () => { isAsked = true; waiting?.postMessage("take over"); };
}

let takeOver = () => {};

export async function whyNot() {
  const { unsent, sending, help } = await counts();
  if (unsent + sending + help) return "Entries still wait to be sent.";
  return (await pours()).some((pour) => pour.log.state === "poured" || pour.log.open_batches.length) ? "A pour is going on." : "";
}

export async function updateButton() {
  if (!waiting) return null;
  const reason = await whyNot();
  return h("div", {}, told(`A new version of this page is here.${reason ? ` ${reason} It can wait.` : ""}`), !reason && press("Take the new version", () => takeOver(), "press quiet"));
}
