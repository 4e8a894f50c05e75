// @ts-check
/** Keeps field sheets for flight mode: the newest from the service, else the one seen last. */

const KEPT = "leatline-field-1";
const PATIENCE_MS = 4000; // one bar of reception is slower than none

const PHOTO = /\/photos\/[0-9a-f]{32}\.\w+$/; // named by its contents: it never changes

const worker = /** @type {any} */ (self);

worker.addEventListener("install", () => worker.skipWaiting());
worker.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(taken()));

/** Take over open pages and keep them at once: they came before there was anyone to keep them. */
async function taken() {
  await worker.clients.claim();
  const pages = await worker.clients.matchAll({ type: "window" });
  const box = await caches.open(KEPT);
  await Promise.all(pages.map((/** @type {any} */ page) => box.add(page.url.split("#")[0]).catch(() => undefined)));
}

worker.addEventListener("fetch", (/** @type {any} */ event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET") return;
  if (address.pathname.startsWith(new URL("./", worker.location.href).pathname)) event.respondWith(found(event.request));
  else if (PHOTO.test(address.pathname)) event.respondWith(seen(event.request));
});

/** @param {Request} request */
async function found(request) {
  const box = await caches.open(KEPT);
  const kept = await box.match(request);
  const fresh = fetch(request).then((answer) => {
    if (answer.ok) box.put(request, answer.clone());
    else if (answer.status === 404) box.delete(request);
    return answer;
  });
  if (!kept) return fresh;
  const late = new Promise((resolve) => setTimeout(() => resolve(kept), PATIENCE_MS));
  return Promise.race([fresh.catch(() => kept), late]);
}

/** A photograph: as it was seen first. @param {Request} request */
async function seen(request) {
  const box = await caches.open(KEPT);
  const kept = await box.match(request);
  if (kept) return kept;
  const fresh = await fetch(request);
  if (fresh.ok) await box.put(request, fresh.clone());
  return fresh;
}
