// @ts-check
/** Moving an end of the line to where the ground has a typed level. */

import * as api from "./api.js";
import { distance } from "./geometry.js";
import { activeLine, complete, place, previewBody, withPoints } from "./plan.js";
import { decode } from "./wire.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {[number, number]} Position */

const EXTENSION = 1;
const NO_SEQUENCE = 0;

/**
 * The place nearest to an end of a profile where the ground has a level. Pure.
 * @param {Record<string, ArrayLike<number>>} col
 * @param {number} level @param {number} near station of the end [m]
 * @returns {{off: number, station: number, point: Position} | null}
 */
export function crossing(col, level, near) {
  let best = null;
  for (let i = 1; i < col.station_m.length; i += 1) {
    const [a, b] = [col.ground_m[i - 1] - level, col.ground_m[i] - level];
    if (a * b > 0 || a === b || !Number.isFinite(a * b)) continue;
    const share = a / (a - b);
    const mix = (/** @type {ArrayLike<number>} */ c) => c[i - 1] + (c[i] - c[i - 1]) * share;
    const station = mix(col.station_m);
    const off = Math.abs(station - near);
    if (best === null || off < best.off) best = { off, station, point: /** @type {Position} */ ([mix(col.lon), mix(col.lat)]) };
  }
  return best;
}

/**
 * The line cut at a station, with a new end there. Pure.
 * @param {Position[]} points @param {number[]} stations of the points @param {{station: number, point: Position}} at
 * @param {"intake" | "outlet"} end @returns {Position[]}
 */
export function cutAt(points, stations, at, end) {
  const kept = points.filter((_, i) => (end === "intake" ? stations[i] > at.station + 0.01 : stations[i] < at.station - 0.01));
  return end === "intake" ? [place(at.point), ...kept] : [...kept, place(at.point)];
}

/** @param {Position[]} points stations along the line [m] */
function stationsOf(points) {
  let total = 0;
  return points.map((point, i) => (total += i ? distance(points[i - 1], point) : 0));
}

/** @param {State} state @param {"intake" | "outlet"} end @param {number} level ground level [m] */
export async function snapTo(state, end, level) {
  const { plan } = state;
  const { points } = activeLine(plan);
  if (!complete(plan, points)) return state.say("Draw a line first; then an end can move to a level.", true);
  const way = end === "intake" ? points.slice(0, 2).toReversed() : points.slice(-2);
  const beyond = /** @type {Position} */ ([0, 1].map((k) => way[1][k] + EXTENSION * (way[1][k] - way[0][k])));
  const longer = end === "intake" ? [beyond, ...points] : [...points, beyond];
  for (const chain of [longer, points]) {
    try {
      const { col, summary } = decode(await api.preview(previewBody(plan, activeLine(plan), chain), NO_SEQUENCE));
      const stations = stationsOf(chain);
      const scale = summary.plan_length_m / (stations.at(-1) || 1);
      const true_m = stations.map((station) => station * scale);
      const ends = chain === points ? [0, points.length - 1] : end === "intake" ? [1, points.length] : [0, points.length - 1];
      const found = crossing(col, level, true_m[end === "intake" ? ends[0] : ends[1]]);
      if (!found) continue;
      const next = cutAt(chain, true_m, found, end).filter((point) => point !== beyond);
      if (next.length < 2) continue;
      state.change(end === "intake" ? "Intake moved to a level" : "Powerhouse moved to a level", withPoints(plan, next));
      return;
    } catch {
      continue; // the longer chain may leave the raster: the line itself is tried next
    }
  }
  state.say("Neither the line nor its last leg drawn on reaches that level. Extend the line first.", true);
}
