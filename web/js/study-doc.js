// @ts-check
/** Between a saved study and the plan on the page. Pure. */

import { emptyPlan, fromLayers, lineFeature, lineNamed, previewBody } from "./plan.js";
import { spokenIn } from "./words.js";

/** @typedef {import("./plan.js").Plan} Plan */
/** @typedef {import("./plan.js").Line} Line */

/**
 * The body that saves a plan: the line in hand is the study's own, the others stand beside it, each
 * over the same land and by the same prices.
 * @param {Plan} plan @param {string} [label] name of this revision
 */
export function bodyOf(plan, label = "") {
  const line = plan.lines[plan.active];
  const others = plan.lines.filter((_, i) => i !== plan.active);
  const asked = previewBody(plan, line);
  const land = Boolean(asked.settings.layer); // large, and the same for all: sent once
  const settingsOf = (/** @type {Line} */ other) => {
    const { layer: _, ...own } = previewBody(plan, other).settings;
    return inLanguage(own);
  };
  const body = {
    ...asked,
    settings: inLanguage(asked.settings),
    name: plan.name.trim() || line.name,
    alternatives: others.map((other) => ({ name: other.name, route: lineFeature(other.name, other.points), settings: settingsOf(other), ...(land && { same_land: true }) })),
    plan: { line: line.name, place: plan.active, ...(plan.shots?.length && { shots: plan.shots }), ...(plan.layers?.length && { layers: plan.layers.map(({ name }) => name) }), ...(plan.pictures?.length && { pictures: plan.pictures }) },
  };
  return label ? { ...body, label } : body;
}

/** Settings with the language of the page for the papers, where they name none. @param {Record<string, any>} settings */
function inLanguage(settings) {
  const language = spokenIn();
  return language === "en" ? settings : { ...settings, study: { language, ...settings.study } };
}

/** Lines that are too short to save, by name: they stay in the browser only. @param {Plan} plan */
export const unfinished = (plan) => plan.lines.filter((line) => line.points.length < 2).map((line) => line.name);

/**
 * What the tables of a settings file say of a plan as a whole, and of its line.
 * @param {Record<string, any>} tables
 */
export function apart(tables) {
  const { study: own, layer, prices = {}, ...others } = tables;
  const { nogo, others: layers } = fromLayers(layer ?? []);
  const { name = "", units, ...rest } = own ?? {};
  const settings = { ...others, ...(Object.keys(rest).length && { study: rest }) };
  return { name, units, nogo, prices, settings, layers: layers.map((table) => ({ name: table.kind, table })) };
}

/** A new plan of one line. @param {Record<string, any>} tables @param {[number, number][]} points @param {string[]} terrain @returns {Plan} */
export function planFrom(tables, points, terrain) {
  const { settings, units = "metric", ...whole } = apart(tables);
  return { ...emptyPlan(terrain), ...whole, units, lines: [{ name: lineNamed("A"), points, settings }] };
}

/** @param {any} study @returns {Plan} */
export function planOf(study) {
  const { lon, lat, name } = study.route;
  const kept = study.plan ?? {};
  const { settings, units, nogo, prices, layers } = apart(study.settings ?? {});
  /** @type {Line} */
  const main = {
    name: kept.line ?? name ?? lineNamed("A"),
    points: lon.map((/** @type {number} */ x, /** @type {number} */ i) => [x, lat[i]]),
    settings,
  };
  const others = (study.alternatives ?? []).map((/** @type {any} */ other) => ({
    name: other.name,
    points: pointsOf(other.route),
    settings: apart(other.settings ?? {}).settings,
  }));
  const place = Math.min(kept.place ?? 0, others.length);
  return {
    ...emptyPlan(study.terrain_ids ?? []),
    name: study.name,
    units: units ?? study.units ?? "metric",
    active: place,
    lines: others.toSpliced(place, 0, main),
    nogo: nogo.length ? nogo : (kept.nogo ?? []),
    prices,
    ...(kept.shots && { shots: kept.shots }),
    ...(kept.pictures && { pictures: kept.pictures }),
    layers: layers.map((layer, i) => ({ ...layer, name: kept.layers?.[i] ?? layer.name })),
  };
}

/** The first line in a GeoJSON, or the columns of the service. @param {any} route @returns {[number, number][]} */
export function pointsOf(route) {
  if (!route) return [];
  if (route.lon) return route.lon.map((/** @type {number} */ x, /** @type {number} */ i) => [x, route.lat[i]]);
  if (route.type === "FeatureCollection") return pointsOf(route.features?.find((/** @type {any} */ f) => pointsOf(f).length));
  if (route.type === "Feature") return pointsOf(route.geometry);
  if (route.type === "LineString") return route.coordinates.map((/** @type {number[]} */ p) => [p[0], p[1]]);
  if (route.type === "MultiLineString") return route.coordinates.flat().map((/** @type {number[]} */ p) => [p[0], p[1]]);
  return [];
}

/**
 * In what two plans of one study differ, in words; so that nobody looks for it in the figures.
 * @param {Plan} mine @param {Plan} theirs
 */
export function apartFrom(mine, theirs) {
  const unlike = (/** @type {any} */ a, /** @type {any} */ b) => sorted(a) !== sorted(b);
  const told = [];
  if (mine.name !== theirs.name) told.push(`The name differs: yours is “${mine.name}”, theirs “${theirs.name}”.`);
  for (const line of mine.lines) {
    const other = theirs.lines.find(({ name }) => name === line.name);
    if (!other) told.push(`“${line.name}” is only among yours.`);
    if (other && unlike(line.points, other.points)) told.push(`“${line.name}” runs elsewhere.`);
    if (other && unlike(line.settings, other.settings)) told.push(`“${line.name}” has other settings.`);
  }
  for (const { name } of theirs.lines) if (!mine.lines.some((line) => line.name === name)) told.push(`“${name}” is only among theirs.`);
  if (unlike(mine.prices, theirs.prices)) told.push("The prices differ.");
  if (unlike([mine.layers ?? [], mine.nogo], [theirs.layers ?? [], theirs.nogo])) told.push("The land laid over the map differs.");
  return told.length ? told : ["Nothing that is computed differs."];
}

/** @param {any} value @returns {string} the same text for the same content, in whatever order its keys stand */
function sorted(value) {
  return JSON.stringify(value, (_, each) => (each && typeof each === "object" && !Array.isArray(each)
    ? Object.fromEntries(Object.entries(each).sort(([a], [b]) => (a < b ? -1 : 1))) : each));
}
