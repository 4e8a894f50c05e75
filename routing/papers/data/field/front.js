// @ts-check
/** The water front while the line fills, from what the gauge at the powerhouse shows. Pure. */

import { between } from "./odds.js";

/** @typedef {{gauge_kpa: number[], station_m: number[], level_m: number[], volume_m3: number[], stages: [string, number][]}} Front */

/**
 * Return station, level and water in the line, and the stage; null where the intake cannot give the reading.
 * @param {Front} front @param {number} kpa
 */
export function frontAt(front, kpa) {
  const most = front.gauge_kpa[front.gauge_kpa.length - 1];
  if (!(kpa >= 0 && kpa <= most * 1.001)) return null;
  const at = (/** @type {number[]} */ column) => between(kpa, front.gauge_kpa, column);
  const volume_m3 = at(front.volume_m3);
  const stage = front.stages.find(([, filled]) => filled >= volume_m3 - 1e-6) ?? front.stages[front.stages.length - 1];
  return { station_m: at(front.station_m), level_m: at(front.level_m), volume_m3, stage: stage?.[0] ?? "" };
}
