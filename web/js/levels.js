// @ts-check
/** How sure the ground is, and the levels to take on it as a file for a receiver. Pure. */

import { show } from "./units.js";

/** @typedef {import("./types.js").Level} Level */
/** @typedef {import("./types.js").Model} Model */

const ESCAPES = /** @type {Record<string, string>} */ ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" });
const escaped = (/** @type {string} */ text) => text.replace(/[&<>"]/g, (sign) => ESCAPES[sign]);

/** @param {{lon: number, lat: number, station_m: number}} at @param {string} name @param {string} reason */
const waypoint = ({ lon, lat, station_m }, name, reason) =>
  `  <wpt lat="${lat.toFixed(9)}" lon="${lon.toFixed(9)}">\n    <name>${name}</name>\n` +
  `    <desc>${escaped(`Station ${station_m.toFixed(1)} m. ${reason}`)}</desc>\n  </wpt>\n`;

/**
 * GPX 1.1 (topografix.com/GPX/1/1): one waypoint a level, in order.
 * @param {Level[]} levels @param {string} name @param {import("./plan.js").Shot[]} [shots] places of the planner's own
 */
export function levelsGpx(levels, name, shots = []) {
  const points = [
    ...levels.map((level, i) => waypoint(level, `L${i + 1}`, level.reason)),
    ...shots.map((shot, i) => waypoint(shot, `P${i + 1}`, "Wanted by the planner.")),
  ];
  return `<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="leatline" xmlns="http://www.topografix.com/GPX/1/1">\n` +
    `  <metadata><name>${escaped(name)}</name></metadata>\n${points.join("")}</gpx>\n`;
}

const SOURCES = {
  stated: "Error of heights as stated",
  class: "Error usual for such data, not stated for this raster",
  step: "Only the step of whole units is known",
  none: "No error of heights is known, so no summit is judged. State it on the Line page",
};

/** How sure the ground is, in a sentence or two. @param {Model} model @param {import("./units.js").Units} units */
export function doubtWords({ doubt, summary }, units) {
  const local = doubt.local_sigma_m === null ? "" : `, ${show(doubt.local_sigma_m, "depth", units)} from place to place`;
  const expected = summary.expected_vents;
  const summits = expected ? ` Expect ${expected.mean.toFixed(1)} ± ${expected.sd.toFixed(1)} summits once the ground is known.` : "";
  return `${SOURCES[doubt.source]}${local}.${summits}${doubt.rough ? " First values: the line was just moved." : ""}`;
}
