/* Who is writing. The key of a shift cannot be read out again, not even by this page; it can only sign. */
import { get, meta, put, setMeta } from "./store.js";
import { call } from "./wire.js";

const SHIFT_MS = 16 * 3600 * 1000;

function fromBase64Url(text) {
  const plain = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
  return Uint8Array.from(plain, (letter) => letter.charCodeAt(0));
}

export async function keep(answer) {
  const bytes = fromBase64Url(answer.key);
  const key = await crypto.subtle.importKey("raw", bytes, { name: "HMAC", hash: "SHA-256" }, false, ["sign"]);
  bytes.fill(0);
  const { key_id, author_id, name, ends_at } = answer;
  await put("keys", { key_id, author_id, name, ends_at, key });
  await setMeta("person", { key_id, author_id, name, ends_at, since: Date.now() });
}

/* Returns "" or the sentence that says why not. */
export async function signIn(who, secret) {
  const answer = await call("POST", "/sync/v1/shift-keys", { json: { ...who, secret } });
  if (answer.status !== 201) return answer.data?.error?.message ?? `The server answered ${answer.status}.`;
  await keep(answer.data);
  return "";
}

export const person = () => meta("person");
export const isStale = (one) => Boolean(one) && Date.now() - one.since > SHIFT_MS;
export const stillHere = async (one) => setMeta("person", { ...one, since: Date.now() });

/* Without a key the entry is kept all the same; the desk then asks who wrote it. */
export const unproven = (one) => setMeta("person", { key_id: null, author_id: one.id, name: one.name, ends_at: null, since: Date.now() });

export async function signOut() {
  const one = await person();
  await setMeta("person", null);
  if (one?.key_id) await call("POST", `/sync/v1/shift-keys/${one.key_id}/end`, { json: {} }).catch(() => {});
}

export async function keyOf(one) {
  return one?.key_id ? ((await get("keys", one.key_id))?.key ?? null) : null;
}
