/**
 * Keeps the app on the phone: opening it never needs the network. Caches exactly the lists that the build made; the
 * calculation and the scanner follow in the background. A newer worker waits until it is told to take over.
 */
const CACHE = `ashbook-${VERSION}`;
const SHELL = "/phone/";

/** @param {string[]} names */
async function keep(names) {
  const cache = await caches.open(CACHE);
  for (const name of names) {
    if (await cache.match(name)) continue;
    const old = name === SHELL ? undefined : await caches.match(name); // same hashed name, same content
    if (old) await cache.put(name, old);
    else await cache.add(new Request(name, { cache: "no-cache" }));
  }
}

const here = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

here.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    await keep(CORE);
    if ((await caches.keys()).some((name) => name.startsWith("ashbook-") && name !== CACHE)) await keep(LATER);
  })());
});

here.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name.startsWith("ashbook-") && name !== CACHE) await caches.delete(name);
    await here.clients.claim();
  })());
});

here.addEventListener("message", (event) => {
  if (event.data === "take over") here.skipWaiting();
  if (event.data === "fetch the rest") event.waitUntil(keep(LATER).catch(() => undefined));
});

here.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin || !url.pathname.startsWith(SHELL)) return;
  const name = request.mode === "navigate" ? SHELL : url.pathname;
  event.respondWith((async () => {
    const cache = await caches.open(CACHE);
    const kept = await cache.match(name);
    if (kept) return kept;
    const fresh = await fetch(request);
    if (fresh.ok && LATER.includes(name)) await cache.put(name, fresh.clone());
    return fresh;
  })());
});
