// @ts-check
/** Where the pipe must not lie as it does, and which headline figures that makes idle. Pure. */

import { show } from "./units.js";

/** @typedef {import("./types.js").Model} Model */
/** @typedef {import("./units.js").Units} Units */
/** @typedef {"static" | "flowing" | "rating" | "cover" | "entry"} Trouble */
/** ``worst``: by how much, in SI or as a share. @typedef {{kind: Trouble, from: number, to: number, worst: number, at: number}} Span */

/** Depth beyond which nobody enters an unshored trench [m]; the study's own cautions say the rest. */
export const ENTRY_M = 1.2;
/** Columns come in single precision, limits in whole centimetres [m]. */
const ROUNDING_M = 0.005;

/** What a limit is at a station, with the stretch that has its own. @param {Model} model @param {number} station */
function coverAt({ trench }, station) {
  const own = trench.limits?.find((each) => each.cover_m !== null && station >= each.from_m && station <= each.to_m);
  return own?.cover_m ?? trench.cover_m;
}

/** By how much a station is beyond a limit; not above zero where it keeps it. @param {Model} model @returns {Record<Trouble, (i: number) => number>} */
function excesses(model) {
  const { col, summary, trench } = model;
  const { pipe_m: pipe, ground_m: ground, cover_m: cover, station_m: station } = col;
  const level = summary.intake_level_m;
  const below = trench.outside_diameter_m / 2 + trench.bedding_m;
  return {
    static: (i) => ground[i] - cover[i] - level - ROUNDING_M,
    flowing: (i) => (col.flowing_head_m ? pipe[i] - col.invert_m[i] - col.flowing_head_m[i] : -1),
    rating: (i) => (col.rating_kpa ? col.static_pressure_kpa[i] / col.rating_kpa[i] - 1 : -1),
    cover: (i) => (col.span?.[i] ? -1 : coverAt(model, station[i]) - cover[i] - ROUNDING_M),
    entry: (i) => (col.span?.[i] ? -1 : ground[i] - pipe[i] + below - ENTRY_M - ROUNDING_M),
  };
}

/** Stretches in trouble, by kind and station. @param {Model} model @returns {Span[]} */
export function troubles(model) {
  const { station_m: station } = model.col;
  return Object.entries(excesses(model)).flatMap(([name, excess]) => {
    const kind = /** @type {Trouble} */ (name);
    /** @type {Span[]} */
    const spans = [];
    /** @type {Span | null} */
    let open = null;
    for (let i = 0; i < model.n; i += 1) {
      const over = excess(i);
      if (!(over > 0)) open = null;
      else if (open) {
        open.to = station[i];
        if (over > open.worst) Object.assign(open, { worst: over, at: station[i] });
      } else spans.push((open = { kind, from: station[i], to: station[i], worst: over, at: station[i] }));
    }
    return spans;
  });
}

/** @param {Span} span @param {Units} units */
export function words({ kind, worst }, units) {
  const by = kind === "rating" ? "" : show(worst + (kind === "flowing" ? 0 : ROUNDING_M), kind === "cover" ? "depth" : "head", units);
  return {
    static: `above the intake by ${by}`,
    flowing: `above the flowing line by ${by}`,
    rating: `${Math.round((worst + 1) * 100)} % of its rating`,
    cover: `cover short by ${by}`,
    entry: `deeper than ${show(ENTRY_M, "depth", units)}: shore it`,
  }[kind];
}

/**
 * A message that asks for limits of a stretch in the words of a settings file, as words and the ask.
 * @param {string} message @returns {{text: string, asked: {from: string, to: string, key: "cover" | "max_depth", value: string} | null}}
 */
export function askedOfStretch(message) {
  const found = / ?[A-Z][^.]*\[\[trench\.limit\]\] from = "([^"]+)", to = "([^"]+)", (cover|max_depth) = "([^"]+)"\.?/.exec(message);
  if (!found) return { text: message, asked: null };
  const [part, from, to, key, value] = found;
  return { text: message.replace(part, ""), asked: { from, to, key: /** @type {"cover" | "max_depth"} */ (key), value } };
}

/** Why head and power cannot be had, or null. @param {Model} model @returns {{why: string, message: string} | null} */
export function idle({ verdict, warnings }) {
  const { out_of_reach: why, out_of_reach_code: code } = verdict;
  return why ? { why, message: warnings.find((found) => found.code === code && found.severity === "fault")?.message ?? why } : null;
}

/**
 * Faults with a place, those close together as one.
 * @param {Model} model @param {number} near [m]
 */
export function pinned(model, near) {
  /** @type {{station: number, messages: string[]}[]} */
  const pins = [];
  const faults = model.warnings.filter(({ severity }) => severity === "fault");
  const places = faults.flatMap(({ message, places_m, station_m }) =>
    (places_m?.length ? places_m : station_m === null ? [] : [station_m]).map((station) => ({ station, message })));
  for (const { station, message } of places.sort((a, b) => a.station - b.station)) {
    const last = pins.at(-1);
    if (last && station - last.station < near) {
      if (!last.messages.includes(message)) last.messages.push(message);
    } else pins.push({ station, messages: [message] });
  }
  return pins;
}
