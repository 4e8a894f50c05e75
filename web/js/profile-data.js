// @ts-check
/** The columns and ranges of the profile chart. Pure. */

import { between, locate } from "./geometry.js";
import { toShown } from "./units.js";
import { chartColumn } from "./wire.js";

/** @typedef {import("./types.js").Model} Model */
/** @typedef {import("./units.js").Units} Units */
/** @typedef {(number | null)[]} Column */
/**
 * Columns in shown units over shown stations; what is missing is null.
 * @typedef {{station: number[], ground: Column, pipe: Column, level: Column, flowing: Column,
 *   rating: Column, surgeMax: Column, surgeMin: Column, crown: Column, bottom: Column}} Profile
 */

/** @param {Model} model @param {Units} units @returns {Profile} */
export function profileOf(model, units) {
  const { col, n } = model;
  const { pipe_m: pipe, ground_m: ground } = col;
  const up = (/** @type {number} */ m) => toShown(m, "elevation", units);
  const trench = model.trench;
  const head = 1000 / (model.water.density_kg_m3 * model.water.gravity_m_s2);
  const below = trench.outside_diameter_m / 2 + trench.bedding_m;
  /** @type {Column | undefined} */
  let crown;
  /** @type {Column | undefined} */
  let bottom;
  return {
    station: Array.from(col.station_m.subarray(0, n), (m) => toShown(m, "station", units)),
    ground: chartColumn(ground, n, up),
    pipe: chartColumn(pipe, n, up),
    level: new Array(n).fill(up(model.summary.intake_level_m)),
    flowing: chartColumn(col.flowing_head_m, n, (value, i) => up(pipe[i] + value)),
    rating: chartColumn(col.rating_kpa, n, (value, i) => up(pipe[i] + value * head)),
    surgeMax: chartColumn(col.surge_max_kpa, n, (value, i) => up(pipe[i] + value * head)),
    surgeMin: chartColumn(col.surge_min_kpa, n, (value, i) => up(pipe[i] + value * head)),
    // The trench is drawn less often than the long section.
    get crown() {
      return (crown ??= chartColumn(col.cover_m, n, (value, i) => (col.span?.[i] ? NaN : up(value))));
    },
    get bottom() {
      return (bottom ??= chartColumn(ground, n, (value, i) => (col.span?.[i] ? NaN : up(value - pipe[i] + below))));
    },
  };
}

/**
 * The least and greatest value of columns between two stations.
 * @param {number[]} station @param {Column[]} columns @param {number} from @param {number} to
 * @returns {[number, number]}
 */
export function rangeOf(station, columns, from, to) {
  let low = Infinity;
  let high = -Infinity;
  const { low: first } = locate(station, from);
  for (let i = first; i < station.length; i += 1) {
    for (const column of columns) {
      const value = column[i];
      if (value === null) continue;
      if (value < low) low = value;
      if (value > high) high = value;
    }
    if (station[i] >= to) break;
  }
  if (!(low <= high)) return [0, 1];
  return [low, high];
}

/** Exaggerations are round, so that a page and its neighbour can be compared. */
const ROUND = [1, 1.5, 2, 2.5, 3, 4, 5, 6, 8];

/** Lines that the pipe crosses are shown while they leave so much of the height to the ground [-]. */
const LEAST_SHARE = 0.2;

/**
 * What must be seen in a window: ground and pipe, and the lines that the pipe crosses there unless
 * they lie so far off that no hump could be told any more.
 * @param {number[]} stations @param {(number | null)[][]} kept @param {(number | null)[][]} crossed @param {number} from @param {number} to
 * @returns {[number, number]}
 */
export function roomFor(stations, kept, crossed, from, to) {
  const own = rangeOf(stations, kept, from, to);
  const both = rangeOf(stations, [...kept, ...crossed], from, to);
  return own[1] - own[0] >= LEAST_SHARE * (both[1] - both[0]) ? both : own;
}

/**
 * Heights for a window: the largest round exaggeration that shows all, or the one that is held.
 * @param {number} low @param {number} high what must be seen
 * @param {{across: number, height: number, held?: number | null}} window lengths in shown units per
 *   pixel across, pixels for what must be seen
 * @returns {{times: number, middle: number, per: number}} heights in shown units per pixel
 */
export function heightsFor(low, high, { across, height, held = null }) {
  const most = (height * across) / Math.max(high - low, 1e-9);
  const power = 10 ** Math.floor(Math.log10(most));
  const times = held ?? power * (ROUND.findLast((lead) => lead * power <= most * (1 + 1e-9)) ?? 1);
  return { times, middle: (low + high) / 2, per: across / times };
}

/**
 * A view after zooming about a station, kept within the line; null is the whole line.
 * @param {[number, number]} view @param {number} about @param {number} factor below 1 goes closer
 * @param {number} length @returns {[number, number] | null}
 */
export function zoomed([from, to], about, factor, length) {
  const span = Math.min(length, Math.max((to - from) * factor, Math.min(10, length)));
  if (span >= length * 0.999) return null;
  const share = (about - from) / (to - from);
  return within([about - share * span, about + (1 - share) * span], length);
}

/** @param {[number, number]} view @param {number} length @returns {[number, number]} */
export function within([from, to], length) {
  const shift = from < 0 ? -from : to > length ? length - to : 0;
  return [Math.max(0, from + shift), Math.min(length, to + shift)];
}

/**
 * What stands at a station, in SI.
 * @param {Model} model @param {number} station
 */
export function readingAt(model, station) {
  const { col } = model;
  const at = locate(col.station_m, station);
  const read = (/** @type {string} */ name) => between(col[name], at);
  const pressure = (/** @type {number | null} */ kpa) => (kpa === null ? null : kpa * 1000);
  return {
    station,
    ground: read("ground_m"),
    depth: read("depth_m"),
    staticHead: read("static_head_m"),
    staticPressure: pressure(read("static_pressure_kpa")),
    flowingHead: read("flowing_head_m"),
    flowingPressure: pressure(read("flowing_pressure_kpa")),
    rating: pressure(read("rating_kpa")),
    span: Boolean(col.span?.[at.low]),
  };
}

/** The highest share of static pressure in the rating, and where. @param {Model} model */
export function worstShare(model) {
  const { static_pressure_kpa: pressure, rating_kpa: rating, station_m } = model.col;
  let worst = { share: 0, station: 0 };
  for (let i = 0; rating && i < model.n; i += 1) {
    const share = pressure[i] / rating[i];
    if (share > worst.share) worst = { share, station: station_m[i] };
  }
  return rating && worst.share > 0 ? worst : null;
}
