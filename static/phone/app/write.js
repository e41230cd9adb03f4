/* From a screen to the outbox: one op with all that the protocol asks for. */
import * as clock from "./clock.js";
import { isoWithOffset, uuid7 } from "./canon.js";
import { save } from "./outbox.js";
import { nudge } from "./sender.js";
import { run } from "./store.js";
import { painted } from "./ui.js";

export const newId = () => uuid7();
export const lastSaved = { at: 0, words: "", op: null };
const listeners = new Set();
export const onSaved = (tell) => listeners.add(tell);

/* Who writes, with what key, on which phone: read together. */
const writer = () => run(["meta", "keys"], "readonly", async (tx) => {
  const [who, device] = await Promise.all(["person", "device"].map((key) => tx.objectStore("meta").get(key)));
  const known = who.value.key_id ? await tx.objectStore("keys").get(who.value.key_id) : null;
  return [who.value, device.value, known?.key ?? null];
});

/* `entry`: {op_id, pour, kind, body, happened (ms by this phone, or null for now), deps, replaces, reason, draft, label} */
export async function write(entry) {
  const at = Date.now();
  const found = writer();
  found.catch(() => {}); // save() tells it, when it comes to it
  const make = async () => {
    const [who, device, key] = await found;
    return [opOf(entry, at, who, device, key), key];
  };
  const row = await save(entry.op_id, make, { draft: entry.draft ?? null, label: entry.label ?? "" });
  Object.assign(lastSaved, { at, words: entry.label ?? "", op: row.op_id, record_id: entry.pour.id, kind: entry.kind });
  listeners.forEach((tell) => tell()); // it stands in the store and was read back: the words come first, then all else
  painted().then(nudge);
  return row;
}

function opOf(entry, at, who, device, key) {
  return {
    v: 1, op_id: entry.op_id, device_id: device.id, record_id: entry.pour.id, kind: entry.kind, base_rev: entry.pour.rev ?? 0,
    deps: [...new Set(entry.deps ?? [])].slice(0, 20), replaces: entry.replaces ?? null, reason: entry.reason ?? "",
    author_id: who.author_id, author_key: key ? who.key_id : null,
    happened_at: isoWithOffset(entry.happened ?? at), entered_at: isoWithOffset(at),
    clock: clock.state(), build: document.documentElement.dataset.build ?? "", body: entry.body,
  };
}

/* Taking back what was just entered is an entry of its own, with its reason. */
export async function undo(pour, id) {
  return write({
    op_id: newId(), pour, kind: "struck", body: {}, replaces: id, deps: [id],
    reason: "Taken back at once by the person who entered it", label: "Taken back",
  });
}
