// @ts-check
/** What is said of a catchment. */

import { fixed, show } from "./units.js";

const SQUARE_MILE = 2589988.110336;

/** An area of land for reading. @param {number} area_m2 @param {import("./units.js").Units} units */
export function landArea(area_m2, units) {
  const [size, unit] = units === "us" ? [area_m2 / SQUARE_MILE, "mi²"] : [area_m2 / 1e6, "km²"];
  return `${fixed(size, size < 10 ? 2 : size < 100 ? 1 : 0)} ${unit}`;
}

/** What was found, in one sentence. @param {any} found @param {import("./units.js").Units} units */
export function catchmentWords(found, units) {
  const size = `${found.at_least ? "At least " : ""}${landArea(found.area_m2, units)} drain to the intake`;
  const way = found.on_stream
    ? found.snapped_m > 0 ? `, taken at the stream ${show(found.snapped_m, "length", units)} away.` : "."
    : "; the raster shows no stream there.";
  const edge = found.at_least ? " It reaches the edge of the raster, or cells without elevation." : "";
  const rival = found.rival_m2 ? ` A greater stream, of ${landArea(found.rival_m2, units)}, is near too.` : "";
  return size + way + edge + rival;
}
