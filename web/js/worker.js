// @ts-check
/// <reference lib="webworker" />
/** Keeps the page at hand when the service is away: the network first, else what was seen last. */

const CACHE = "leatline-page-1";
const MOST_TILES = 800;
const KEPT = /^\/($|js\/|css\/|vendor\/|guide)|^\/api\/terrains(\/[0-9a-f]+(\/(relief|contours)\/.*)?)?$|^\/api\/studies(\/[0-9a-f]+)?$/;
const TILE = /\/(relief|contours)\//;

const worker = /** @type {any} */ (self);

worker.addEventListener("install", (/** @type {any} */ event) => {
  // A line being dragged asks many times a second: where the browser can, it goes straight past here.
  event.addRoutes?.({ condition: { urlPattern: { pathname: "/api/preview" } }, source: "network" });
  worker.skipWaiting();
});
worker.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(worker.clients.claim()));

worker.addEventListener("fetch", (/** @type {any} */ event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== worker.location.origin || !KEPT.test(url.pathname)) return;
  event.respondWith(answer(event.request, url));
});

/** @param {Request} request @param {URL} url */
async function answer(request, url) {
  const cache = await caches.open(CACHE);
  const key = url.pathname === "/" ? "/" : request;
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
