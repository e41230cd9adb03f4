/* The shell without a network. BUILD and FILES stand above, put there by the server. It takes over from an older one
   only when the page asks, and keeps the files of older builds, so that a page that is open never misses a part. */
const SHELL = "/phone/app/";
const KEPT = "/phone/app/files/";
const CACHE = `groutjobs-shell-${BUILD}`;
const KEPT_BUILDS = 5;
const TAG_MS = 5000;

self.addEventListener("install", (event) => {
  event.waitUntil(take());
});

/* A shell that speaks of another build came in the middle of a change of the server: not this one, then. */
async function take() {
  const cache = await caches.open(CACHE);
  // an address under files/ names its content, so what the page has just loaded is not loaded twice
  await cache.addAll(FILES.map((file) => new Request(file, { cache: file.startsWith(KEPT) ? "default" : "reload" })));
  const page = await (await cache.match(SHELL)).text();
  if (!page.includes(`data-build="${BUILD}"`)) throw new Error("the shell is of another build");
}

self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
  if (event.data === "keep the rest") event.waitUntil(takeRest().catch(() => {}));
});

/* Parts that the first screens do not need come when those are long there; the page asks at each start. */
async function takeRest() {
  const cache = await caches.open(CACHE);
  for (const file of REST) if (!(await cache.match(file))) await cache.add(file);
}

self.addEventListener("activate", (event) => event.waitUntil(tidy()));

async function tidy() {
  const own = (await caches.keys()).filter((name) => name.startsWith("groutjobs-shell-") && name !== CACHE);
  for (const name of own.slice(0, Math.max(0, own.length - KEPT_BUILDS))) await caches.delete(name);
  await self.clients.claim();
}

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith(KEPT) || url.pathname === "/phone/app.webmanifest") event.respondWith(kept(event.request));
  else if (event.request.mode !== "navigate") return;
  else if (url.pathname === SHELL) event.respondWith(shell());
  else if (url.pathname === "/phone/" || /^\/machines\/\d+\/$/.test(url.pathname)) event.respondWith(withoutNetwork(event.request));
});

async function kept(request) {
  return (await caches.match(request)) ?? fetch(request);
}

async function shell() {
  return (await (await caches.open(CACHE)).match(SHELL)) ?? fetch(SHELL);
}

/* A tag that is scanned opens its page; where there is no answer, the phone says what it knows. */
async function withoutNetwork(request) {
  const late = new Promise((_, fail) => setTimeout(() => fail(new Error("late")), TAG_MS));
  try {
    return await Promise.race([fetch(request), late]);
  } catch {
    return shell();
  }
}
