/* One call to the server. An answer without our header or without its content is not our server's, whatever its
   number: a log-in page of some other network answers 200 too. Nothing is decided here but what kind of answer it was. */
import * as clock from "./clock.js";

const TEXT_MS = 30000;
const PHOTO_MS = 90000;
const WAITS = new Set([429, 503, 507]);

export class NoServer extends Error {
  constructor(kind, message, retryS = 0) {
    super(message);
    this.kind = kind; // "unknown": no answer; "not_ours": somebody else answered; "wait": told to wait
    this.retryS = retryS;
  }
}

export async function call(method, path, { json, bytes, headers = {}, isPhoto = false, wantsBytes = false } = {}) {
  const body = json === undefined ? bytes : JSON.stringify(json);
  const sent = { "X-Sync-Proto": "1", ...headers };
  if (json !== undefined) sent["Content-Type"] = "application/json";
  let response;
  try {
    response = await fetch(path, {
      method, body, headers: sent, credentials: "same-origin", redirect: "error", cache: "no-store",
      signal: AbortSignal.timeout(isPhoto ? PHOTO_MS : TEXT_MS),
    });
  } catch (error) {
    throw new NoServer("unknown", String(error?.message ?? error));
  }
  return read(response, wantsBytes);
}

async function read(response, wantsBytes) {
  if (response.headers.get("X-Sync-Proto") !== "1") throw new NoServer("not_ours", `HTTP ${response.status} without our mark`);
  if (response.status === 304) return { status: 304, data: null, headers: response.headers };
  let data;
  try {
    data = await (wantsBytes && response.ok ? response.arrayBuffer() : response.json());
  } catch {
    throw new NoServer(response.ok ? "not_ours" : "unknown", `HTTP ${response.status} without content`);
  }
  if (WAITS.has(response.status)) {
    throw new NoServer("wait", data?.error?.message ?? "", Number(response.headers.get("Retry-After")) || 0);
  }
  if (response.status >= 500) throw new NoServer("unknown", `HTTP ${response.status}`);
  return { status: response.status, data, headers: response.headers };
}

export async function hello(headers) {
  const sentAt = Date.now();
  const answer = await call("GET", "/sync/v1/hello", { headers });
  const gotAt = Date.now();
  if (answer.status === 200) {
    if (typeof answer.data?.epoch !== "string" || !answer.data.device) throw new NoServer("not_ours", "hello without epoch");
    await clock.take(Date.parse(answer.data.time), sentAt, gotAt);
  }
  return answer;
}
