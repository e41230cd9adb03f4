/* A browser writes cookies down only now and then; one that is killed right after joining may have lost this phone's.
   The key made here lies in the store, cannot be read out, and brings the cookie back: it signs the server's question. */
import { bytesOf, sha256 } from "./canon.js";
import { meta, setMeta } from "./store.js";
import { call } from "./wire.js";

const KIND = { name: "ECDSA", namedCurve: "P-256" };

function base64Url(buffer) {
  return btoa(String.fromCharCode(...new Uint8Array(buffer))).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

/* The public half, made once and kept before anybody is told of it. */
export async function publicKey() {
  const known = await meta("proof");
  if (known) return known.public_key;
  const pair = await crypto.subtle.generateKey(KIND, false, ["sign", "verify"]);
  const der = await crypto.subtle.exportKey("spki", pair.publicKey);
  const made = { key: pair.privateKey, public_key: base64Url(der), thumbprint: await sha256(der), told: "" };
  await setMeta("proof", made);
  return made.public_key;
}

/* Tell the server by which key this phone will prove itself; again where it has joined anew. */
export async function tellKey(device) {
  const public_key = await publicKey();
  const proof = await meta("proof");
  if (proof.told === device.id) return;
  const answer = await call("POST", "/sync/v1/device-key", { json: { public_key } });
  if (answer.status === 201 && answer.data?.thumbprint === proof.thumbprint) await setMeta("proof", { ...proof, told: device.id });
}

/* The phone that the server knows by this key, with its cookie back in the browser; null where it knows none. */
export async function regain() {
  const proof = await meta("proof");
  if (!proof) return null;
  const { thumbprint } = proof;
  const asked = await call("POST", "/sync/v1/cookie", { json: { thumbprint } });
  if (asked.status !== 200 || typeof asked.data?.question !== "string") return null;
  const { question } = asked.data;
  const words = bytesOf(`groutjobs phone asks for its cookie\n${question}`);
  const signature = base64Url(await crypto.subtle.sign({ name: "ECDSA", hash: "SHA-256" }, proof.key, words));
  const answer = await call("POST", "/sync/v1/cookie", { json: { thumbprint, question, signature } });
  return answer.status === 201 && answer.data?.device ? answer.data.device : null;
}
