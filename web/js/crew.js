// @ts-check
/** What crews brought home, an entry for each thing. Pure: records in, entries out. */

/**
 * A record as the service gives it out, by time.
 * @typedef {{kind: "tick" | "note" | "photo" | "reading" | "asbuilt", of: string | null, station_m: number | null,
 *   done: boolean | null, note: string | null, photo: string | null, gauge_kpa: number | null, flow_m3_s: number | null,
 *   invert_m: number | null, offset_m?: number | null, step?: string, water_m3?: number, lasted_s?: number, time: string, device: string, was_m?: number, now_m?: number}} Said
 * @typedef {{of: string | null, kind: string}} Differing
 * @typedef {{key: string, name: string, station_m: number | null, tick: Said | null, note: Said | null, built: Said | null,
 *   readings: Said[], photos: string[], was_m: number | null, differs: boolean}} Entry
 */

/** What stands nearer to each other along the line is one place of the log [m]. */
const SAME_M = 0.5;

/**
 * The last words on each thing, by station; what has none, as the acts of the works, comes first.
 * @param {Said[]} records by time @param {Differing[]} conflicts @returns {Entry[]}
 */
export function entriesOf(records, conflicts) {
  /** @type {Map<string, Entry>} */
  const found = new Map();
  for (const said of records) {
    const at = said.now_m ?? said.was_m ?? said.station_m ?? null;
    const key = said.of ?? `at ${Math.round((at ?? 0) / SAME_M)}`;
    const entry = found.get(key) ?? blank(key, said.of ?? "");
    if (at !== null) entry.station_m = at;
    if (said.kind === "tick") [entry.tick, entry.was_m] = [said, said.was_m ?? null];
    if (said.kind === "note") entry.note = said.note ? said : null;
    if (said.kind === "asbuilt") entry.built = { ...said, ...given(entry.built), ...given(said) };
    if (said.kind === "reading") entry.readings = [...entry.readings.filter((each) => each.step !== said.step || !each.flow_m3_s !== !said.flow_m3_s), said];
    if (said.photo) entry.photos.push(said.photo);
    found.set(key, entry);
  }
  for (const { of } of conflicts) {
    const entry = found.get(of ?? "");
    if (entry) entry.differs = true;
  }
  return [...found.values()].sort((a, b) => (a.station_m ?? -1) - (b.station_m ?? -1) || (a.key < b.key ? -1 : 1));
}

/** @param {string} key @param {string} name @returns {Entry} */
const blank = (key, name) => ({ key, name, station_m: null, tick: null, note: null, built: null, readings: [], photos: [], was_m: null, differs: false });

/** What a record says, without what it leaves open. @param {Said | null} said @returns {any} */
const given = (said) => Object.fromEntries(Object.entries(said ?? {}).filter(([, value]) => value !== null));

/**
 * How a thing stands: to be looked at again where it moved or two devices differ, else done or only spoken of.
 * @param {Entry} entry @returns {"check" | "done" | "noted"}
 */
export const standing = ({ tick, was_m, differs }) => (was_m !== null || differs ? "check" : tick?.done ? "done" : "noted");
