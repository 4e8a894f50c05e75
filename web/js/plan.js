// @ts-check
/** What the planner edits: lines with their settings, no-go areas, prices. Pure: every edit is a copy. */

import { t } from "./words.js";

/** @typedef {[number, number]} Position longitude, latitude */
/** @typedef {Record<string, any>} Settings */
/** @typedef {{name: string, points: Position[], settings: Settings}} Line */
/** A place where the planner wants a level. @typedef {{lon: number, lat: number, station_m: number}} Shot */
/** The table [prices] of the settings, the same for all lines. @typedef {Record<string, any>} Prices */
/**
 * @typedef {{name: string, terrain: string[], units: import("./units.js").Units, active: number,
 *   lines: Line[], nogo: Position[][], prices: Prices, layers?: import("./land.js").Layer[], shots?: Shot[],
 *   pictures?: import("./land.js").Picture[]}} Plan
 */

const DECIMALS = 7;

/** What a line is called until its planner names it, in the language of the page. @param {string} letter */
export const lineNamed = (letter) => `${t("Line")} ${letter}`;

/** @param {string[]} [terrain] @returns {Plan} */
export function emptyPlan(terrain = []) {
  return {
    name: "",
    terrain,
    units: "metric",
    active: 0,
    lines: [{ name: lineNamed("A"), points: [], settings: {} }],
    nogo: [],
    prices: {},
    layers: [],
  };
}

/** @param {number} degrees */
const round = (degrees) => Number(degrees.toFixed(DECIMALS));

/** @param {Position} point @returns {Position} */
export const place = ([lon, lat]) => [round(lon), round(lat)];

/** @param {Plan} plan @returns {Line} */
export const activeLine = (plan) => plan.lines[plan.active];

/** @param {Plan} plan @param {Partial<Line>} change @returns {Plan} */
export function withLine(plan, change) {
  const lines = plan.lines.with(plan.active, { ...activeLine(plan), ...change });
  return { ...plan, lines };
}

/** @param {Plan} plan @param {Position[]} points */
export const withPoints = (plan, points) => withLine(plan, { points: points.map(place) });

/** @param {Position[]} points @param {number} index @param {Position} point */
export const moved = (points, index, point) => points.with(index, place(point));

/** @param {Position[]} points @param {number} index @param {Position} point */
export const inserted = (points, index, point) => points.toSpliced(index, 0, place(point));

/** @param {Position[]} points @param {number} index */
export const removed = (points, index) => points.toSpliced(index, 1);

/** @param {Position[]} points @param {Position} point @param {"intake" | "outlet"} end */
export const extended = (points, point, end) =>
  end === "intake" ? [place(point), ...points] : [...points, place(point)];

/** @param {Position[]} points */
export const distinct = (points) =>
  points.filter((point, i) => i === 0 || point[0] !== points[i - 1][0] || point[1] !== points[i - 1][1]);

/** A tee that says nothing leaves to the right, as seen down the line. @type {Record<string, string>} */
const OTHER_SIDE = { left: "right", right: "left", up: "up", down: "down" };

/**
 * Turn the line round. What stands at a place on the ground turns with it, so that a bridge stays a
 * bridge and a tee leaves to the same field; pipes go on from the new intake.
 * @param {Line} line @param {number} length plan length [m] @param {(m: number) => string} text
 * @param {(text: string) => number} metres
 * @returns {Line}
 */
export function reversed(line, length, text, metres) {
  const points = line.points.toReversed();
  if (!(length > 0)) return { ...line, points };
  const other = (/** @type {string} */ at) => text(Math.max(0, length - metres(at)));
  /** @param {Settings} table @param {string[]} keys */
  const turned = (table, keys) => {
    const told = keys.filter((key) => Array.isArray(table[key]));
    return { ...table, ...Object.fromEntries(told.map((key) => [key, table[key].map(turn).toReversed()])) };
  };
  /** @param {Settings} each */
  const turn = (each) => ({
    ...each,
    ...(each.to !== undefined && { from: other(each.to), to: other(each.from) }),
    ...(each.at !== undefined && { at: other(each.at) }),
    ...(each.diameter !== undefined && { side: OTHER_SIDE[each.side ?? "right"] }),
  });
  const settings = turned(line.settings, ["valve", "branch", "tap", "relief"]);
  if (settings.trench) settings.trench = turned(settings.trench, ["span", "limit", "ground"]);
  return { ...line, points, settings };
}

/**
 * Let a stretch of the trench be deeper, or have more cover; one that it meets becomes one with it.
 * @param {Settings} settings @param {{from: number, to: number, depth?: number, cover?: number}} stretch [m]
 * @param {(text: string) => number} metres @returns {Settings}
 */
export function withDepth(settings, stretch, metres) {
  let { from, to, depth = 0, cover = 0 } = stretch;
  const apart = [];
  for (const each of settings.trench?.limit ?? []) {
    const [start, end] = [metres(each.from), metres(each.to)];
    if (end <= from || start >= to) apart.push(each);
    else {
      [from, to] = [Math.min(from, start), Math.max(to, end)];
      if (each.max_depth) depth = Math.max(depth, metres(each.max_depth));
      if (each.cover) cover = Math.max(cover, metres(each.cover));
    }
  }
  const one = { from: `${from} m`, to: `${to} m`, ...(depth && { max_depth: `${depth} m` }), ...(cover && { cover: `${cover} m` }) };
  const limit = [...apart, one].sort((a, b) => metres(a.from) - metres(b.from));
  return withSetting(settings, "trench", "limit", limit);
}

/**
 * Set one key of one table; an empty value takes the key away, the last key its table.
 * @param {Settings} settings @param {string} table @param {string} key @param {any} value
 * @returns {Settings}
 */
export function withSetting(settings, table, key, value) {
  const rows = { ...settings[table] };
  if (value === "" || value === undefined || value === null) delete rows[key];
  else rows[key] = value;
  const next = { ...settings, [table]: rows };
  if (!Object.keys(rows).length) delete next[table];
  return next;
}

/** @typedef {(string | number)[]} Path table, then key; a row of a list by its number */

/** What stands at a path, prices from the whole plan. @param {Plan} plan @param {Path} path */
export function valueAt(plan, path) {
  const all = /** @type {any} */ ({ ...activeLine(plan).settings, prices: plan.prices });
  return path.reduce((found, key) => found?.[key], all);
}

/** A plan with another value at a path; what is empty goes, and what it leaves empty. @param {Plan} plan @param {Path} path @param {any} value @returns {Plan} */
export function withValue(plan, path, value) {
  const { prices, ...settings } = put({ ...activeLine(plan).settings, prices: plan.prices }, path, value) ?? {};
  return withLine({ ...plan, prices: prices ?? {} }, { settings });
}

/** @param {any} within @param {Path} path @param {any} value @returns {any} */
function put(within, [key, ...rest], value) {
  const next = rest.length ? put(within?.[key] ?? (typeof rest[0] === "number" ? [] : {}), rest, value) : value;
  const empty = next === undefined || next === null || next === "";
  if (Array.isArray(within)) {
    const rows = empty ? within.toSpliced(Number(key), 1) : within.toSpliced(Number(key), 1, next);
    return rows.length ? rows : undefined;
  }
  const table = { ...within, [key]: next };
  if (empty) delete table[key];
  return Object.keys(table).length ? table : undefined;
}

/** @param {Settings} settings @param {any[]} pipes @returns {Settings} */
export function withPipes(settings, pipes) {
  const next = { ...settings, pipe: pipes };
  if (!pipes.length) delete (/** @type {any} */ (next).pipe);
  return next;
}

/** @param {Settings} settings @param {"span" | "limit"} key @param {any[]} rows */
export const withStretches = (settings, key, rows) => withSetting(settings, "trench", key, rows.length ? rows : "");

/** A letter that no line has yet. @param {Plan} plan */
export function freshName(plan) {
  const taken = new Set(plan.lines.map((line) => line.name));
  for (let number = 0; ; number += 1) {
    const letter = String.fromCharCode(65 + (number % 26)) + (number > 25 ? Math.floor(number / 26) : "");
    if (!taken.has(lineNamed(letter))) return lineNamed(letter);
  }
}

/** @param {Plan} plan @returns {Plan} a copy with the active line doubled, the copy active */
export function copyLine(plan) {
  const copy = { ...activeLine(plan), name: freshName(plan) };
  const lines = plan.lines.toSpliced(plan.active + 1, 0, copy);
  return { ...plan, lines, active: plan.active + 1 };
}

/** @param {Plan} plan @param {number} index @returns {Plan} */
export function dropLine(plan, index) {
  const lines = plan.lines.toSpliced(index, 1);
  const active = Math.min(plan.active > index ? plan.active - 1 : plan.active, lines.length - 1);
  return { ...plan, lines, active };
}

/**
 * The body that asks the service for one line.
 * @param {Plan} plan @param {Line} line @param {Position[]} [points]
 */
export function previewBody(plan, line, points = line.points) {
  const study = { ...line.settings.study, units: plan.units };
  const layer = [...(plan.layers ?? []).map(({ table }) => table), ...nogoLayer(plan.nogo)];
  return {
    terrain: plan.terrain.length === 1 ? plan.terrain[0] : plan.terrain,
    route: lineFeature(line.name, points),
    settings: { ...line.settings, study, ...(layer.length && { layer }), ...(Object.keys(plan.prices).length && { prices: plan.prices }) },
  };
}

/** The no-go areas as a layer of the settings; none without areas. @param {Position[][]} rings */
const nogoLayer = (rings) => {
  const features = rings.map((ring) => ({
    type: "Feature", properties: {}, geometry: { type: "Polygon", coordinates: [[...ring, ring[0]]] },
  }));
  return rings.length ? [{ kind: "no-go", features: { type: "FeatureCollection", features } }] : [];
};

/**
 * The other way round: rings that the page can show and edit, and the layers that it cannot.
 * @param {any[]} layers
 */
export function fromLayers(layers) {
  /** @type {Position[][]} */
  const nogo = [];
  const others = layers.flatMap((layer) => {
    const rest = layer.features.features.filter((/** @type {any} */ { geometry, properties }) => {
      const plain = layer.kind === "no-go" && geometry.type === "Polygon" && geometry.coordinates.length === 1 && !properties?.name;
      if (plain) nogo.push(geometry.coordinates[0].slice(0, -1));
      return !plain;
    });
    return rest.length ? [{ ...layer, features: { ...layer.features, features: rest } }] : [];
  });
  return { nogo, others };
}

/** @param {string} name @param {Position[]} points */
export const lineFeature = (name, points) => ({
  type: "Feature",
  properties: { name },
  geometry: { type: "LineString", coordinates: points },
});

/** Whether a line can be computed. @param {Plan} plan @param {Position[]} points */
export const complete = (plan, points) => plan.terrain.length > 0 && distinct(points).length >= 2;
