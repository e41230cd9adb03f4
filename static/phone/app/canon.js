/* The bytes of an op, its hash, its id and its proof. Made once; nothing here ever touches a stored op. */
const encoder = new TextEncoder();
export const NO_PROOF = "0".repeat(64);

export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (value && typeof value === "object") {
    const names = Object.keys(value).sort();
    return `{${names.map((name) => `${JSON.stringify(name)}:${canonical(value[name])}`).join(",")}}`;
  }
  return JSON.stringify(typeof value === "string" ? wellFormed(value) : value);
}

/* A half of a pair that an old keyboard left behind is no text; it becomes the sign for “unreadable”. */
function wellFormed(text) {
  if (text.toWellFormed) return text.toWellFormed();
  return text.replace(/[\uD800-\uDBFF](?![\uDC00-\uDFFF])|(?<![\uD800-\uDBFF])[\uDC00-\uDFFF]/g, "\uFFFD");
}

export const bytesOf = (text) => encoder.encode(text);

export function hex(buffer) {
  return [...new Uint8Array(buffer)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

export async function sha256(bytes) {
  return hex(await crypto.subtle.digest("SHA-256", bytes));
}

export async function digestHeader(bytes) {
  const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return `sha-256=:${btoa(String.fromCharCode(...hash))}:`;
}

/* RFC 9562, version 7: 48 bits of time, then chance. */
export function uuid7(atMs = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  const time = Math.max(0, Math.floor(atMs));
  for (let place = 0; place < 6; place += 1) bytes[place] = Math.floor(time / 2 ** (8 * (5 - place))) % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const text = hex(bytes);
  return [text.slice(0, 8), text.slice(8, 12), text.slice(12, 16), text.slice(16, 20), text.slice(20)].join("-");
}

/* Local time with its offset, to the millisecond, as the phone's clock says it. */
export function isoWithOffset(ms) {
  const at = new Date(ms);
  const east = -at.getTimezoneOffset();
  const two = (number) => String(Math.floor(Math.abs(number))).padStart(2, "0");
  const local = new Date(ms + east * 60000).toISOString().slice(0, -1);
  return `${local}${east < 0 ? "-" : "+"}${two(east / 60)}:${two(east % 60)}`;
}

/* The text of an op with its author's proof in place; `key` is null where nobody has proved himself. */
export async function sealed(op, key) {
  const blank = canonical({ ...op, author_proof: NO_PROOF });
  if (!key) return blank;
  const proof = hex(await crypto.subtle.sign("HMAC", key, bytesOf(blank)));
  return blank.replace(`"author_proof":"${NO_PROOF}"`, `"author_proof":"${proof}"`);
}
