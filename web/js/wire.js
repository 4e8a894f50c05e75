// @ts-check
/** From an answer of the service to columns of numbers, whichever form it came in. Pure. */

import { complete } from "./derived.js";

/** @typedef {import("./types.js").Model} Model */

/** Names that stay in double precision: a place on the globe needs it. */
const DOUBLE = new Set(["lon", "lat"]);

/** @param {string} text @param {boolean} double */
function fromBase64(text, double) {
  const raw = atob(text);
  const bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i += 1) bytes[i] = raw.charCodeAt(i);
  return double ? new Float64Array(bytes.buffer) : new Float32Array(bytes.buffer);
}

/** @param {any} stations @returns {Model["col"]} */
function columns(stations) {
  const packed = stations.columns;
  const source = packed ?? stations;
  /** @type {Model["col"]} */
  const col = {};
  for (const [name, values] of Object.entries(source)) {
    if (typeof values === "string") col[name] = fromBase64(values, isDouble(values, stations.n, name));
    else if (Array.isArray(values))
      col[name] = Float64Array.from(values, (value) => (value === null ? NaN : value));
  }
  return col;
}

/** Tell the width of a column by its length, by name where the count is not given. @param {string} text @param {number | undefined} n @param {string} name */
function isDouble(text, n, name) {
  if (!n) return DOUBLE.has(name);
  const padding = text.endsWith("==") ? 2 : text.endsWith("=") ? 1 : 0;
  return (text.length / 4) * 3 - padding === 8 * n;
}

/** What a line being dragged goes without. */
const AT_REST = { cautions: [], assumptions: [], grades: [] };

/**
 * The answer to a line being dragged, with what the line at rest had and this one goes without.
 * @param {Model} model @param {Model | null} before @returns {Model}
 */
export function carried(model, before) {
  if (before && model.fitted === false) return looked(model, before);
  if (!before || model.pressures) return model;
  const kept = Object.fromEntries(Object.keys(AT_REST).map((name) => [name, /** @type {any} */ (before)[name]]));
  return { ...model, ...kept };
}

/**
 * A first look at a line being dragged: the line is new, its fittings and findings are those of the answer before.
 * @param {Model} model @param {Model} before @returns {Model}
 */
function looked({ fitted, ...model }, before) {
  const own = Object.fromEntries(Object.entries(model).filter(([name]) => !(name in AT_REST)));
  return { ...before, ...own, pressures: false, summary: { ...before.summary, ...model.summary }, trench: { ...before.trench, ...model.trench } };
}

/** @param {any} answer @returns {Model} */
export function decode(answer) {
  const { stations, ...rest } = answer;
  const col = columns(stations);
  complete(col, answer);
  return {
    flow: null,
    ...AT_REST,
    ...rest,
    col,
    n: col.station_m?.length ?? 0,
  };
}

/** The column as the chart takes it: what is missing is null. @param {ArrayLike<number> | undefined} values @param {number} n @param {(value: number, i: number) => number} [change] @returns {(number | null)[]} */
export function chartColumn(values, n, change) {
  const out = new Array(n).fill(null);
  if (!values) return out;
  for (let i = 0; i < n; i += 1) {
    const value = change ? change(values[i], i) : values[i];
    if (Number.isFinite(value)) out[i] = value;
  }
  return out;
}
