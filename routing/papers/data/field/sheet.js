// @ts-check
/** The sheet: position in, station out; what is recorded stays here, and goes home when there is a way. */

import { builtForm } from "./built.js";
import { Cards, clock, shownIn } from "./cards.js";
import { Log } from "./log.js";
import { SheetMap } from "./map.js";
import { ahead, at, compassPoint, depthShown, goesDown, locate, standsHere, way } from "./place.js";
import { readingsCsv, standing } from "./records.js";
import { Store } from "./store.js";
import { Tests } from "./tested.js";
import { Works } from "./works.js";

const SEEN = 6; // fixes from which the way of walking is told
const MOST_NEXT = 5; // rows below the map, the nearest of each kind
const ALWAYS_NEXT = ["vent", "drain", "end"];
const MOST_LOGGED = 30; // records listed, the newest first

const data = JSON.parse(/** @type {HTMLElement} */ (document.getElementById("data")).textContent ?? "{}");
const byId = (/** @type {string} */ id) => /** @type {any} */ (document.getElementById(id));
const places = new Map(data.places.map((/** @type {any} */ place) => [place.id, place]));

/** @param {number | null} value @param {string} kind @param {number} digits */
const shown = (value, kind, digits) => shownIn(data, value, kind, digits);

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
  for (const name of ["here", "list", "works", "more"]) byId(name).hidden = name !== part;
  for (const button of document.querySelectorAll("nav button"))
    button.setAttribute("aria-pressed", String(/** @type {HTMLElement} */ (button).dataset.part === part));
  if (part === "here") map.resize();
}
for (const button of document.querySelectorAll("nav button"))
  button.addEventListener("click", () => turnTo(/** @type {HTMLElement} */ (button).dataset.part ?? "here"));

const say = (/** @type {string} */ text) => (byId("sync").textContent = text);
const map = new SheetMap(data, (lon, lat) => stand(lon, lat, null), (id) => (turnTo("list"), cards.open(id)));
const log = new Log(data, new Store(data.study), paint, say);
const cards = new Cards(data, log, {
  find: (id) => (turnTo("here"), map.find(places.get(id))),
  say,
  station: (metres) => shown(metres, "station", 0),
  me: () => me,
});
const works = new Works(data, log, say);
const tests = new Tests(data, log, say);

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
  const stood = standsHere(data.places, lon, lat, accuracy);
  byId("stood").textContent = stood.length ? `Here: ${stood.map((place) => place.name).join(", ")}` : "";
  byId("station").textContent = `Station ${shown(fix.station, "station", 1)}`;
  const near = fix.offset < 0.5 ? "on the line" : `${shown(fix.offset, "length", 1)} ${fix.side} of the line`;
  const trust = accuracy === null ? "place tapped on the map" : `±${shown(accuracy, "length", 0)}`;
  byId("offset").textContent = `${near}, ${trust}`;
  dig(fix, accuracy);
  next(fix.station);
  cards.walked(fix.station, down);
  map.show(lon, lat, accuracy, foot); // last: it fits itself into what the rest leaves
}

/** Tell how deep to dig: trench bottom first, then invert; nothing where one stands too far off. @param {import("./place.js").Fix} fix @param {number | null} accuracy */
function dig(fix, accuracy) {
  const depth = at(data.line.depth, fix);
  const off = !depthShown(fix.offset, accuracy);
  const above = depth !== null && depth < 0;
  const bottom = depth === null || off || above ? null : depth + data.trench_below_invert_m;
  byId("depths").hidden = off;
  byId("bottom").textContent = above ? "none" : shown(bottom, "depth", 2);
  byId("dig").textContent = above ? "pipe above ground" : shown(off ? null : depth, "depth", 2);
  const words = off
    ? `You are ${shown(fix.offset, "length", 0)} off the line: no depth shown.`
    : bottom !== null && bottom > data.shoring.depth_m
      ? data.shoring.text
      : "";
  byId("beware").textContent = words;
}

/** @param {number} station */
function next(station) {
  if (!me) return;
  const stood = standsHere(data.places, me.lon, me.lat, me.accuracy);
  const coming = ahead(data.places.filter((/** @type {any} */ place) => !stood.includes(place)), station, down);
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

// ---- the log ------------------------------------------------------------------------------
function paint() {
  cards.show();
  works.show(cards.said);
  tests.show(log.all);
  for (const place of data.places) map.mark(place.id, standing(cards.said.get(place.id)?.tick, place).done);
  const open = log.waiting;
  byId("pending").textContent = data.service
    ? open
      ? `${open} ${open === 1 ? "record waits" : "records wait"} for the service.`
      : "Everything is with the service."
    : "Records are kept in this browser. Save them as a file and bring it into the study.";
  byId("log").replaceChildren(...log.all.slice(-MOST_LOGGED).reverse().map((said) => logged(said)));
}

/** A step of a section's test in words. @param {import("./records.js").Said} said */
function stepLabel(said) {
  const test = data.tests.find((/** @type {any} */ each) => each.id === said.of);
  return test?.steps.find((/** @type {any} */ each) => each.name === said.step)?.label ?? said.step;
}

/** One record as a line of the log. @param {import("./records.js").Said} said */
function logged(said) {
  const where = said.of ? (places.get(said.of)?.name ?? said.of) : shown(said.station_m, "station", 1);
  const gauge = shown(said.gauge_kpa, "pressure", 0);
  const words = {
    tick: said.done ? "done" : "not done",
    note: said.note || "note taken back",
    photo: "photograph",
    reading: said.step ? `gauge ${gauge}, ${stepLabel(said)}` : `gauge ${gauge}${said.flow_m3_s ? " running" : " shut"}`,
    asbuilt: said.invert_m === null ? "as built" : `invert ${shown(said.invert_m, "elevation", 3)} as built`,
  }[said.kind];
  return Object.assign(document.createElement("li"), { textContent: `${clock(said.time)} ${where}: ${words} (${said.device})` });
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
byId("save").addEventListener("click", async () => saveFile(await log.file(), `${data.file}-records.json`, "application/json"));
byId("readings").hidden = !data.places.some((/** @type {{kind: string}} */ place) => place.kind === "level");
byId("readings").addEventListener("click", () => {
  const table = readingsCsv(data.places, [...log.words.values()].flatMap((words) => words.note ?? []));
  if (table) saveFile(table, `${data.file}-levels.csv`, "text/csv");
  else say("No level has been read yet.");
});
byId("load").addEventListener("change", async (/** @type {any} */ event) => {
  const file = event.target.files?.[0];
  event.target.value = "";
  try {
    await log.bring(await file.text(), (of) => of === null || of === undefined || places.has(of) || /^[LWFQ]\d+$/.test(of)); // levels of any revision, acts
  } catch {
    say("That file holds no records.");
  }
});

// ---- start --------------------------------------------------------------------------------
async function start() {
  byId("joint").append(builtForm(data, log, { id: null, station: null }, { say, me: () => me }));
  byId("send").hidden = !data.service;
  byId("send").addEventListener("click", () => log.send());
  await log.start();
  cards.recover();
  if (data.service) navigator.serviceWorker?.register("worker.js", { scope: "./" }).catch(() => say("Keep this page open: it cannot be stored"));
}
start();
