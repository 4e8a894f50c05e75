// @ts-check
/** Layers of the land in a plan: what they are is said by the person, not by the file. Pure. */

import { show, together } from "./units.js";

/** @typedef {import("./plan.js").Plan} Plan */
/** A table [[layer]] of the settings, and what the page calls it. @typedef {{name: string, table: Record<string, any>}} Layer */
/** @typedef {import("./types.js").Crossing} Crossing */
/** A georeferenced picture beneath the line, as the text of a data address. @typedef {{name: string, bounds: import("./types.js").Box, picture: string}} Picture */

/** Most letters of all pictures together that travel with a study. */
const MOST_LETTERS = 5_000_000;

/** @param {Plan} plan @returns {Picture[]} */
export const picturesOf = (plan) => plan.pictures ?? [];

/** A plan with one more picture, or why it cannot have it. @param {Plan} plan @param {Picture} picture @returns {Plan} */
export function withPicture(plan, { name, bounds, picture }) {
  const all = [...picturesOf(plan), { name, bounds, picture }];
  if (all.reduce((sum, each) => sum + each.picture.length, 0) > MOST_LETTERS)
    throw new Error("The pictures of a study come to 5 MB at most: cut it to the valley, or take another one away.");
  return { ...plan, pictures: all };
}

/** @param {Plan} plan @param {number} index @returns {Plan} */
export const withoutPicture = (plan, index) => ({ ...plan, pictures: picturesOf(plan).toSpliced(index, 1) });

/** Kinds as the settings take them, each with its ink and dashes on the map. @type {Record<string, {words: string, ink: string, dash?: string}>} */
export const KINDS = {
  parcel: { words: "parcel", ink: "#6b5b3e", dash: "10 4 2 4" },
  road: { words: "road", ink: "#7a1f1f" },
  stream: { words: "stream", ink: "#0072B2" },
  protected: { words: "protected area", ink: "#00704f", dash: "3 4" },
  service: { words: "service", ink: "#b3008a", dash: "8 3" },
  "right of way": { words: "right of way", ink: "#5d3a9b", dash: "2 5" },
  ground: { words: "class of ground", ink: "#5a5a5a", dash: "1 5" },
  "no-go": { words: "no-go", ink: "#9b2d5f", dash: "8 4" },
};

/** @param {Plan} plan @returns {Layer[]} */
export const layersOf = (plan) => plan.layers ?? [];

/** @param {Plan} plan @param {Layer} layer @returns {Plan} */
export const withLayer = (plan, layer) => ({ ...plan, layers: [...layersOf(plan), layer] });

/** @param {Plan} plan @param {number} index @param {Record<string, any>} change keys of the table; an empty one goes @returns {Plan} */
export function layerChanged(plan, index, change) {
  const layer = layersOf(plan)[index];
  const table = Object.fromEntries(Object.entries({ ...layer.table, ...change }).filter(([, value]) => value !== ""));
  return { ...plan, layers: layersOf(plan).with(index, { ...layer, table }) };
}

/** @param {Plan} plan @param {number} index @returns {Plan} */
export const withoutLayer = (plan, index) => ({ ...plan, layers: layersOf(plan).toSpliced(index, 1) });

/** The name of a shape, by the key told or the usual one in any case, as the crossings have it. @param {any} feature @param {string} [label] @returns {string} */
export function nameOf({ properties }, label = "name") {
  const found = Object.entries(properties ?? {}).find(([key]) => key.toLowerCase() === label.toLowerCase());
  return found?.[1] === null || found?.[1] === undefined ? "" : String(found[1]);
}

/** What a file holds in numbers. @param {any} collection a FeatureCollection */
export function contentWords({ features }) {
  const areas = features.filter((/** @type {any} */ { geometry }) => /Polygon/.test(geometry?.type)).length;
  const lines = features.length - areas;
  const count = (/** @type {number} */ n, /** @type {string} */ one) => (n ? [`${n} ${one}${n === 1 ? "" : "s"}`] : []);
  return [...count(areas, "area"), ...count(lines, "line")].join(", ");
}

/** The kind that a name speaks of, so that the choice begins near the truth. @param {string} name */
export function likelyKind(name) {
  const text = name.toLowerCase();
  const said = { road: /road|track|way|path/, stream: /stream|river|beck|burn|brook|water|creek/, parcel: /parcel|plot|land|owner|cadastr/, protected: /protect|reserve|park|nature/, service: /cable|pipe|service|power|main/, "right of way": /right|easement/ };
  return Object.entries(said).find(([, words]) => words.test(text))?.[0] ?? "no-go";
}

const RELATION = { inside: "inside", crosses: "crosses", touches: "touches", along: "along" };

/** What stands of a crossing in a list. @param {Crossing} crossing @param {import("./units.js").Units} units */
export function crossingWords(crossing, units) {
  const what = [RELATION[crossing.relation], KINDS[crossing.kind]?.words ?? crossing.kind, crossing.name && `“${crossing.name}”`].filter(Boolean).join(" ");
  const where = crossing.to_m > crossing.station_m ? `${show(crossing.station_m, "station", units)} to ${show(crossing.to_m, "station", units)}` : show(crossing.station_m, "station", units);
  const more = [
    crossing.length_m > 0 ? `${show(crossing.length_m, "length", units)} long` : "",
    crossing.angle_deg === null ? "" : `at ${Math.round(crossing.angle_deg)}°`,
    crossing.consent ? `consent: ${crossing.consent}` : "",
  ].filter(Boolean);
  return { where, what, more: together(more.join(", ")) };
}
