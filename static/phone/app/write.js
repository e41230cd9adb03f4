/* From a screen to the outbox: one op with all that the protocol asks for. */
import * as clock from "./clock.js";
import { isoWithOffset, uuid7 } from "./canon.js";
import { keyOf, person } from "./keys.js";
import { save } from "./outbox.js";
import { nudge } from "./sender.js";
import { meta } from "./store.js";

export const newId = () => uuid7();
export const lastSaved = { at: 0, words: "", op: null };

/* `entry`: {op_id, pour, kind, body, happened (ms by this phone, or null for now), deps, replaces, reason, draft, label} */
export async function write(entry) {
  const [who, device, at] = [await person(), await meta("device"), Date.now()];
  const key = await keyOf(who);
  const op = {
    v: 1, op_id: entry.op_id, device_id: device.id, record_id: entry.pour.id, kind: entry.kind, base_rev: entry.pour.rev ?? 0,
    deps: [...new Set(entry.deps ?? [])].slice(0, 20), replaces: entry.replaces ?? null, reason: entry.reason ?? "",
    author_id: who.author_id, author_key: key ? who.key_id : null,
    happened_at: isoWithOffset(entry.happened ?? at), entered_at: isoWithOffset(at),
    clock: clock.state(), build: document.documentElement.dataset.build ?? "", body: entry.body,
  };
  const row = await save(op, { key, draft: entry.draft ?? null, label: entry.label ?? "" });
  Object.assign(lastSaved, { at, words: entry.label ?? "", op: row.op_id, record_id: entry.pour.id, kind: entry.kind });
  nudge();
  return row;
}

/* Taking back what was just entered is an entry of its own, with its reason. */
export async function undo(pour, id) {
  return write({
    op_id: newId(), pour, kind: "struck", body: {}, replaces: id, deps: [id],
    reason: "Taken back at once by the person who entered it", label: "Taken back",
  });
}
