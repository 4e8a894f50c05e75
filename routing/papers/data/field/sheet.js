// @ts-check
/** The sheet: position in, station out; ticks kept here, and home when there is a way. */

import { ahead, at, compassPoint, goesDown, locate, merged, newest, readingsCsv, standing, way } from "./place.js";
import { Store } from "./store.js";
import { SheetMap } from "./map.js";
import { Cards } from "./cards.js";

/** @typedef {import("./place.js").Tick} Tick */

const SEEN = 6; // fixes from which the way of walking is told
const RETRY_MS = 30_000;
const MOST_NEXT = 5; // rows below the map, the nearest of each kind
const ALWAYS_NEXT = ["vent", "drain", "end"];
const BATCH_BYTES = 4_000_000;

const data = JSON.parse(/** @type {HTMLElement} */ (document.getElementById("data")).textContent ?? "{}");
const byId = (/** @type {string} */ id) => /** @type {any} */ (document.getElementById(id));
const places = new Map(data.places.map((/** @type {any} */ place) => [place.id, place]));
const store = new Store(data.study);
const device = store.device();

/** @param {number | null} value @param {string} kind @param {number} digits */
const shown = (value, kind, digits) =>
  value === null ? "–" : `${(value * data.units[kind].factor).toFixed(digits)} ${data.units[kind].unit}`;

/** @type {Tick[]} */
let ticks = [];
/** @type {Set<string>} */
const unsent = new Set();
/** @type {number[]} */
let seen = [];
let down = true;
/** @type {number | null} */
let heading = null;
/** @type {{lon: number, lat: number, accuracy: number | null} | null} */
let me = null;

// ---- parts of the sheet -------------------------------------------------------------------
/** @param {string} part */
function turnTo(part) {
  for (const name of ["here", "list", "more"]) byId(name).hidden = name !== part;
  for (const button of document.querySelectorAll("nav button"))
    button.setAttribute("aria-pressed", String(/** @type {HTMLElement} */ (button).dataset.part === part));
  if (part === "here") map.resize();
}
for (const button of document.querySelectorAll("nav button"))
  button.addEventListener("click", () => turnTo(/** @type {HTMLElement} */ (button).dataset.part ?? "here"));

const say = (/** @type {string} */ text) => (byId("sync").textContent = text);
const map = new SheetMap(data, (lon, lat) => stand(lon, lat, null), (id) => (turnTo("list"), cards.open(id)));
const cards = new Cards(data.places, change, (id) => (turnTo("here"), map.find(places.get(id))), say, (metres) => shown(metres, "station", 0));

// ---- position -----------------------------------------------------------------------------
/** @param {number} lon @param {number} lat @param {number | null} accuracy [m]; null for a tap */
function stand(lon, lat, accuracy) {
  me = { lon, lat, accuracy };
  const fix = locate(data.line, lon, lat);
  if (accuracy !== null) {
    seen = [...seen, fix.station].slice(-SEEN);
    down = goesDown(seen, down);
  }
  const foot = { lon: at(data.line.lon, fix) ?? lon, lat: at(data.line.lat, fix) ?? lat };
  byId("station").textContent = `Station ${shown(fix.station, "station", 1)}`;
  const near = fix.offset < 0.5 ? "on the line" : `${shown(fix.offset, "length", 1)} ${fix.side} of the line`;
  const trust = accuracy === null ? "place tapped on the map" : `±${shown(accuracy, "length", 0)}`;
  byId("offset").textContent = `${near}, ${trust}`;
  const depth = at(data.line.depth, fix);
  const above = depth !== null && depth < 0;
  byId("dig").textContent = above ? "pipe above ground" : shown(depth, "depth", 2);
  byId("bottom").textContent =
    depth === null || above ? "" : `trench bottom ${shown(depth + data.trench_below_invert_m, "depth", 2)}`;
  next(fix.station);
  cards.walked(fix.station, down);
  map.show(lon, lat, accuracy, foot); // last: it fits itself into what the rest leaves
}


/** @param {number} station */
function next(station) {
  if (!me) return;
  const coming = ahead(data.places, station, down);
  // What lets air out and water off always shows; of the rest, what comes first.
  let room = MOST_NEXT - coming.filter((place) => ALWAYS_NEXT.includes(place.kind)).length;
  const chosen = coming.filter((place) => ALWAYS_NEXT.includes(place.kind) || room-- > 0);
  const rows = chosen.map((place) => {
    const to = way(me?.lon ?? 0, me?.lat ?? 0, place.lon, place.lat);
    const row = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    const sign = document.createElement("span");
    sign.innerHTML = place.svg; // drawn by the study itself
    sign.setAttribute("aria-hidden", "true");
    const words = document.createElement("span");
    words.textContent = place.kind === "end" ? place.title : `Next ${place.title[0].toLowerCase()}${place.title.slice(1)}`;
    const small = document.createElement("small");
    small.textContent = `${shown(Math.abs(place.station - station), "length", 0)} along the line`;
    words.append(small);
    const far = document.createElement("b");
    far.textContent = shown(to.distance, "length", to.distance * data.units.length.factor < 20 ? 1 : 0);
    button.append(sign, words, far, arrow(to.bearing));
    button.addEventListener("click", () => (turnTo("list"), cards.open(place.id)));
    row.append(button);
    return row;
  });
  byId("next").replaceChildren(...rows);
  byId("next").setAttribute("aria-label", `What comes next ${down ? "down" : "up"} the line`);
}

/** An arrow that points the way: by the compass where there is one, else with north up. @param {number} bearing */
function arrow(bearing) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("class", "way");
  svg.setAttribute("viewBox", "-18 -18 36 36");
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", `to the ${compassPoint(bearing)}`);
  const needle = document.createElementNS("http://www.w3.org/2000/svg", "path");
  needle.setAttribute("d", "M0 -16L10 14L0 7L-10 14Z");
  needle.setAttribute("transform", `rotate(${bearing - (heading ?? 0)})`);
  svg.append(needle);
  return svg;
}

/** @param {any} event */
function turned(event) {
  const compass = event.webkitCompassHeading ?? (event.absolute && event.alpha !== null ? 360 - event.alpha : null);
  if (compass === null || !Number.isFinite(compass)) return;
  const fresh = heading === null || Math.abs(((compass - heading + 540) % 360) - 180) > 4;
  heading = compass;
  if (fresh && me) next(locate(data.line, me.lon, me.lat).station);
}
window.addEventListener("deviceorientationabsolute", turned);
window.addEventListener("deviceorientation", turned);

/** @param {string} text @param {boolean} offer whether another device's GPS is offered */
function notice(text, offer) {
  const box = byId("gps");
  box.replaceChildren(text);
  if (!offer) return;
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = "Save line and fittings as GPX";
  button.addEventListener("click", saveGpx);
  box.append(button);
}

/** @param {{code: number}} error */
function refused(error) {
  const file = location.protocol === "file:";
  const words = {
    1: file
      ? "This browser gives no position to a page opened from a file. Open the sheet from the service once, or load the GPX into a GPS or map app. Tapping the map works here."
      : "Position is not allowed. Allow it for this page, or load the GPX into another app. Tapping the map works here.",
    2: "No position to be had just now. Step into the open; tapping the map works meanwhile.",
    3: "Still looking for satellites. Tapping the map works meanwhile.",
  };
  notice(words[/** @type {1 | 2 | 3} */ (error.code)] ?? words[2], error.code === 1);
}

if ("geolocation" in navigator && (window.isSecureContext || location.protocol === "file:")) {
  navigator.geolocation.watchPosition(
    ({ coords }) => {
      notice("", false);
      stand(coords.longitude, coords.latitude, coords.accuracy);
    },
    refused,
    { enableHighAccuracy: true, maximumAge: 2000, timeout: 30_000 },
  );
} else
  notice("Browsers give a position only to pages from https or from this device. Load the GPX into a GPS or map app; tapping the map works here.", true);

// ---- ticks --------------------------------------------------------------------------------
/** @param {Tick} tick */
const key = (tick) => `${tick.fitting_id} ${tick.device} ${tick.time}`;

/** @param {string} id @param {Partial<Tick>} part */
function change(id, part) {
  const before = newest(ticks).get(id);
  const place = /** @type {any} */ (places.get(id));
  const now = new Date();
  // A clock that runs behind another device's must not make the newest word the older one.
  if (before && now.toISOString() <= before.time) now.setTime(Date.parse(before.time) + 1);
  /** @type {Tick} */
  const tick = {
    fitting_id: id,
    done: standing(before, place).done,
    note: before?.note ?? "",
    photo: before?.photo ?? null,
    ...part,
    time: now.toISOString(),
    device,
    station_m: place?.station ?? null,
    revision: data.revision ?? null,
  };
  unsent.add(key(tick));
  take([tick]);
  send();
}

/** @param {Tick[]} more */
async function take(more) {
  ticks = merged([...ticks, ...more]);
  paint();
  const whole = await store.write(ticks);
  if (!whole) say("No room for photographs: save the ticks as a file.");
}

function paint() {
  const latest = newest(ticks);
  cards.show(latest);
  for (const place of data.places) map.mark(place.id, standing(latest.get(place.id), place).done);
  const open = [...unsent].filter((name) => ticks.some((tick) => key(tick) === name)).length;
  byId("pending").textContent = data.service
    ? open
      ? `${open} ${open === 1 ? "tick waits" : "ticks wait"} for the service.`
      : "Everything is with the service."
    : "Ticks are kept in this browser. Save them as a file and bring it into the study.";
}

let sending = false;
async function send() {
  if (!data.service || sending) return;
  sending = true;
  try {
    const mine = ticks.filter((tick) => unsent.has(key(tick)));
    for (const batch of batches(mine)) {
      const answer = await fetch(`${data.service}/ticks`, {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify({ ticks: batch }),
      });
      if (!answer.ok && answer.status < 500) {
        const why = await answer.json().catch(() => ({}));
        return say(`The service refuses the ticks: ${why.detail ?? answer.status}`);
      }
      if (!answer.ok) throw new Error(String(answer.status));
      for (const tick of batch) unsent.delete(key(tick));
    }
    const all = await fetch(`${data.service}/ticks`, { cache: "no-store" });
    if (all.ok) await take((await all.json()).ticks);
    say("In step with the service");
  } catch {
    say(unsent.size ? "No reception: ticks kept here" : "");
  } finally {
    sending = false;
    paint();
  }
}

/** Ticks in pieces small enough for one request each. @param {Tick[]} all @returns {Tick[][]} */
function batches(all) {
  /** @type {Tick[][]} */
  const pieces = [];
  let room = 0;
  for (const tick of all) {
    const size = JSON.stringify(tick).length;
    if (!pieces.length || size > room) {
      pieces.push([]);
      room = BATCH_BYTES;
    }
    pieces[pieces.length - 1].push(tick);
    room -= size;
  }
  return pieces;
}

/** @param {string} text @param {string} name @param {string} type */
function saveFile(text, name, type) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type }));
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
const saveGpx = () => saveFile(data.gpx, `${data.file}.gpx`, "application/gpx+xml");
byId("gpx").addEventListener("click", saveGpx);
byId("save").addEventListener("click", () => {
  const file = { leatline_ticks: 1, study: data.study, name: data.name, revision: data.revision, ticks };
  saveFile(JSON.stringify(file, null, 1), `${data.file}-ticks.json`, "application/json");
});
byId("readings").hidden = !data.places.some((/** @type {{kind: string}} */ place) => place.kind === "level");
byId("readings").addEventListener("click", () => {
  const table = readingsCsv(data.places, [...newest(ticks).values()]);
  if (table) saveFile(table, `${data.file}-levels.csv`, "text/csv");
  else say("No level has been read yet.");
});
byId("load").addEventListener("change", async (/** @type {any} */ event) => {
  const file = event.target.files?.[0];
  event.target.value = "";
  try {
    const found = JSON.parse(await file.text());
    if (found.leatline_ticks !== 1 || !Array.isArray(found.ticks)) throw new Error("no ticks");
    if (found.name !== data.name && !confirm(`These ticks are of “${found.name}”. Bring them in?`)) return;
    const known = found.ticks.filter((/** @type {Tick} */ tick) => places.has(tick.fitting_id) || /^L\d+$/.test(tick.fitting_id)); // levels of any revision
    for (const tick of known) unsent.add(key(tick));
    await take(known);
    const strange = found.ticks.length - known.length;
    say(`${known.length} ticks brought in${strange ? `, ${strange} left out: not in this study` : ""}`);
    send();
  } catch {
    say("That file holds no ticks.");
  }
});

// ---- start --------------------------------------------------------------------------------
async function start() {
  await store.open();
  const kept = await store.read();
  if (data.service) for (const tick of kept) if (tick.device === device) unsent.add(key(tick));
  ticks = merged([...data.ticks, ...kept, ...ticks]);
  paint();
  if (!data.service) return;
  byId("send").hidden = false;
  byId("send").addEventListener("click", send);
  window.addEventListener("online", send);
  setInterval(() => unsent.size && send(), RETRY_MS);
  await send();
  navigator.serviceWorker?.register("/field/worker.js", { scope: "/field/" }).catch(() => say("Keep this page open: it cannot be stored"));
}
start();
