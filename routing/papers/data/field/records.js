// @ts-check
/** What a crew records, as the study has it. Pure: lists of records in, what they say out. */

import { reading } from "./place.js";

/**
 * @typedef {{kind: "tick" | "note" | "photo" | "reading" | "asbuilt", of: string | null, station_m: number | null,
 *   done: boolean | null, note: string | null, photo: string | null, gauge_kpa: number | null, flow_m3_s: number | null,
 *   invert_m: number | null, time: string, device: string, was_m?: number, now_m?: number, revision?: number,
 *   [more: string]: any}} Said
 * @typedef {{tick?: Said, note?: Said, built?: Said, photos: Said[]}} Words
 */

/** A record that says nothing yet. @param {Partial<Said>} part @returns {Said} */
export const blank = (part) => /** @type {Said} */ ({
  of: null, station_m: null, done: null, note: null, photo: null, gauge_kpa: null, flow_m3_s: null, invert_m: null, ...part,
});

/** What tells a record from every other one. @param {Said} said */
export const key = (said) => [said.kind, said.of, said.device, said.time, said.photo ? "p" : ""].join(" ");

/** Records of several lists by time, each once. @param {...Said[]} lists @returns {Said[]} */
export function merged(...lists) {
  const found = new Map(lists.flat().map((said) => [key(said), said]));
  return [...found.values()].sort((a, b) => (a.time < b.time ? -1 : a.time > b.time ? 1 : 0));
}

/** The last words on each thing, and all its photographs. @param {Said[]} records by time @returns {Map<string, Words>} */
export function lastWords(records) {
  /** @type {Map<string, Words>} */
  const found = new Map();
  for (const said of records) {
    if (!said.of) continue;
    const words = found.get(said.of) ?? { photos: [] };
    if (said.kind === "tick") words.tick = said;
    if (said.kind === "note") words.note = said;
    if (said.kind === "asbuilt") words.built = { ...words.built, ...given(said) };
    if (said.photo) words.photos.push(said);
    found.set(said.of, words);
  }
  return found;
}

/** What a record says, without what it leaves open. @param {Said} said @returns {any} */
const given = (said) => Object.fromEntries(Object.entries(said).filter(([, value]) => value !== null));

/** A thing has moved if its station changed by more [m]; the study counts in the same way. */
const MOVED_M = 0.5;

/**
 * Return what a tick is worth at a place: done only where the place still stands where it was ticked.
 * @param {Said | undefined} tick @param {{station: number}} place
 * @returns {{done: boolean, was: number | null}}
 */
export function standing(tick, place) {
  const was = tick?.was_m ?? tick?.station_m ?? null;
  const moved = was !== null && Math.abs(was - place.station) > MOVED_M;
  return { done: Boolean(tick?.done) && !moved, was: moved ? was : null };
}

/** Levels as built agree within this [m]; the study counts in the same way. */
const BUILT_ALIKE_M = 0.03;

/**
 * Return where the last words of two devices differ, the newest last.
 * @param {Said[]} records by time @returns {Map<string, Said[]>} by the thing's name
 */
export function conflicts(records) {
  /** @type {Map<string, Map<string, Said>>} */
  const said = new Map();
  for (const each of records) {
    if (!each.of || (each.kind !== "tick" && each.kind !== "asbuilt")) continue;
    const name = `${each.kind} ${each.of}`;
    const devices = said.get(name) ?? new Map();
    devices.delete(each.device);
    said.set(name, devices.set(each.device, each));
  }
  /** @type {Map<string, Said[]>} */
  const found = new Map();
  for (const devices of said.values()) {
    const all = [...devices.values()];
    const levels = all.map((each) => each.invert_m).filter((level) => level !== null);
    const differ = all[0].kind === "tick"
      ? new Set(all.map((each) => each.done)).size > 1
      : levels.length > 0 && Math.max(...levels) - Math.min(...levels) > BUILT_ALIKE_M;
    if (differ) found.set(all[0].of ?? "", [...(found.get(all[0].of ?? "") ?? []), ...all]);
  }
  return found;
}

/**
 * The levels read, as the table of surveyed points that a study takes; null where there is none.
 * @param {{id: string, name: string}[]} places @param {Said[]} notes the newest of each place
 */
export function readingsCsv(places, notes) {
  const names = new Map(places.map((place) => [place.id, place.name]));
  const rows = notes
    .filter((said) => /^L\d/.test(said.of ?? "") && typeof said.station_m === "number" && reading(said.note ?? "", "m"))
    .sort((a, b) => Number(a.station_m) - Number(b.station_m))
    .map((said) => `${names.get(said.of ?? "") ?? said.of},${Number(said.station_m).toFixed(3)} m,${reading(said.note ?? "", "m")}\n`);
  return rows.length ? `name,station,elevation\n${rows.join("")}` : null;
}

/** Ticks of an older sheet as records: tick, note and photograph apart. @param {any[]} ticks @returns {Said[]} */
export function fromTicks(ticks) {
  return ticks.flatMap((tick) => {
    const shared = { of: tick.fitting_id, station_m: tick.station_m ?? null, time: tick.time, device: tick.device };
    return [
      blank({ kind: "tick", done: Boolean(tick.done), ...shared }),
      ...(tick.note ? [blank({ kind: "note", note: tick.note, ...shared })] : []),
      ...(tick.photo ? [blank({ kind: "photo", photo: tick.photo, ...shared })] : []),
    ];
  });
}

/** Records in pieces small enough for one request each. @param {Said[]} all @param {number} bytes @returns {Said[][]} */
export function batches(all, bytes) {
  /** @type {Said[][]} */
  const pieces = [];
  let room = 0;
  for (const said of all) {
    const size = JSON.stringify(said).length;
    const last = pieces[pieces.length - 1];
    if (!last || size > room || last.length >= 500) {
      pieces.push([]);
      room = bytes;
    }
    pieces[pieces.length - 1].push(said);
    room -= size;
  }
  return pieces;
}
