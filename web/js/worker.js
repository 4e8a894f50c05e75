// @ts-check
/// <reference lib="webworker" />
/** Keeps the page at hand when the service is away: the network first, else what was seen last. */

const CACHE = "leatline-page-1";
const MOST_TILES = 800;
/** Where the service begins: the root of the host, or a path of its own below it. */
const ROOT = new URL("./", self.location.href).pathname;
const KEPT = /^($|js\/|css\/|vendor\/|words\/|guide)|^api\/terrains(\/[0-9a-f]+(\/(relief|contours)\/.*)?)?$|^api\/studies(\/[0-9a-f]+)?$/;
const TILE = /\/(relief|contours)\//;

const worker = /** @type {any} */ (self);

worker.addEventListener("install", (/** @type {any} */ event) => {
  // A line being dragged asks many times a second: where the browser can, it goes straight past here.
  event.addRoutes?.({ condition: { urlPattern: { pathname: `${ROOT}api/preview` } }, source: "network" });
  worker.skipWaiting();
});
worker.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(worker.clients.claim()));

worker.addEventListener("fetch", (/** @type {any} */ event) => {
  const url = new URL(event.request.url);
  const ours = url.origin === worker.location.origin && url.pathname.startsWith(ROOT);
  if (event.request.method !== "GET" || !ours || !KEPT.test(url.pathname.slice(ROOT.length))) return;
  event.respondWith(answer(event.request, url));
});

/** @param {Request} request @param {URL} url */
async function answer(request, url) {
  const cache = await caches.open(CACHE);
  const key = url.pathname === ROOT ? ROOT : request;
  try {
    const fresh = await fetch(request);
    if (fresh.status === 200) {
      await cache.put(key, fresh.clone());
      if (TILE.test(url.pathname)) trim(cache);
    }
    return fresh;
  } catch (error) {
    const kept = await cache.match(key);
    if (kept) return kept;
    throw error;
  }
}

/** Let the oldest tiles go. @param {Cache} cache */
async function trim(cache) {
  const tiles = (await cache.keys()).filter((request) => TILE.test(request.url));
  for (const old of tiles.slice(0, Math.max(0, tiles.length - MOST_TILES))) await cache.delete(old);
}
