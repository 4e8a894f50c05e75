// @ts-check
/** Lines side by side: figures, cost by the user's own prices, differences in words. Pure. */

import { worstShare } from "./profile-data.js";
import { idle } from "./trouble.js";
import { priced, show, toShown } from "./units.js";

/** @typedef {import("./types.js").Model} Model */
/** @typedef {import("./units.js").Units} Units */
/** @typedef {{name: string, model: Model}} Entry */
/** ``better``: which way is better, 0 where neither; ``runs``: of the running water, and not to be had where that is out of reach. @typedef {{label: string, key: string, kind: import("./units.js").Kind | "count" | "share" | "money", better: -1 | 0 | 1, runs?: true, value: (model: Model) => number | null}} Row */

/** @param {number | undefined} value */
const kilo = (value) => (value === undefined ? null : value * 1000);

/** @type {Row[]} */
export const ROWS = [
  { label: "Length in plan", key: "summary.plan_length_m", kind: "length", better: -1, value: (m) => m.summary.plan_length_m },
  { label: "Length of pipe", key: "summary.pipe_length_m", kind: "length", better: -1, value: (m) => m.summary.pipe_length_m },
  { label: "Gross head", key: "summary.gross_head_m", kind: "head", better: 1, value: (m) => m.summary.gross_head_m },
  { label: "Net head", key: "summary.net_head_m", kind: "head", better: 1, runs: true, value: (m) => m.summary.net_head_m ?? null },
  { label: "Power", key: "summary.power_kw", kind: "power", better: 1, runs: true, value: (m) => kilo(m.summary.power_kw) },
  { label: "Vents", key: "summary.vent_count", kind: "count", better: -1, value: (m) => m.vents.length },
  { label: "Drains", key: "summary.drain_count", kind: "count", better: -1, value: (m) => m.drains.length },
  { label: "Crossings", key: "", kind: "count", better: -1, value: (m) => (m.crossings ?? []).length },
  { label: "Highest static pressure", key: "summary.max_static_pressure_kpa", kind: "pressure", better: -1, value: (m) => kilo(m.summary.max_static_pressure_kpa) },
  { label: "Share of the rating", key: "stations.rating_kpa", kind: "share", better: -1, value: (m) => worstShare(m)?.share ?? null },
  { label: "Trench volume", key: "summary.trench_volume_m3", kind: "volume", better: -1, value: (m) => m.summary.trench_volume_m3 },
  { label: "Failed checks", key: "", kind: "count", better: -1, value: (m) => m.verdict.failed_checks },
  { label: "Faults", key: "", kind: "count", better: -1, value: (m) => m.verdict.faults },
];

/** Why a figure of a line cannot be had, empty where it can. @param {Row} row @param {Model} model */
export const outOfReach = (row, model) => (row.runs && idle(model)?.why) || "";

/**
 * Lengths of each pipe of a line, by its name.
 * @param {Model} model @returns {Map<string, number>}
 */
export function pipeList(model) {
  const list = new Map();
  for (const { label, length_m: length } of model.pipes) {
    const [name] = label.split(","); // without its standards, which the pipes' own page names
    list.set(name, (list.get(name) ?? 0) + length);
  }
  return list;
}

/** @param {number | null} value @param {Row["kind"]} kind @param {Units} units @param {string} [currency] */
export function cell(value, kind, units, currency = "") {
  if (value === null || !Number.isFinite(value)) return "–";
  if (kind === "count") return String(value);
  if (kind === "share") return `${Math.round(value * 100)} %`;
  if (kind === "money") return priced(Math.round(value).toLocaleString("en"), currency);
  return show(value, kind, units);
}

/** A value as far as it is shown: whole percents are taken from each other, not their parts. @param {number} value @param {Row["kind"]} kind */
const asFar = (value, kind) => (kind === "share" ? Math.round(value * 100) / 100 : value);

/**
 * How a value differs from the first line's, with its sign; empty where it does not as shown.
 * @param {number | null} first @param {number | null} value @param {Row["kind"]} kind @param {Units} units @param {string} [currency]
 */
export function difference(first, value, kind, units, currency = "") {
  if (first === null || value === null) return "";
  const words = cell(Math.abs(asFar(value, kind) - asFar(first, kind)), kind, units, currency);
  return Number.parseFloat(words) === 0 || words === "–" ? "" : `${value > first ? "+" : "−"}${words}`;
}

/** The places in a row that are best, by what is shown; none where all look alike. @param {(number | null)[]} values @param {-1 | 0 | 1} better @param {(value: number) => string} [told] */
export function best(values, better, told = String) {
  const known = values.filter((value) => value !== null);
  if (better === 0 || known.length < 2 || new Set(known.map(told)).size < 2) return [];
  const top = told(better > 0 ? Math.max(...known) : Math.min(...known));
  return values.flatMap((value, i) => (value !== null && told(value) === top ? [i] : []));
}

/**
 * What sets the other lines apart from the first, in words.
 * @param {Entry[]} entries @param {Units} units
 */
export function differences(entries, units) {
  const [first, ...others] = entries;
  return others.map(({ name, model }) => {
    const parts = ROWS.flatMap((row) => {
      const [a, b] = [row.value(first.model), row.value(model)];
      if (a === null || b === null || a === b || outOfReach(row, first.model) || outOfReach(row, model)) return [];
      const words = cell(Math.abs(asFar(b, row.kind) - asFar(a, row.kind)), row.kind, units);
      if (Number.parseFloat(words) === 0) return [];
      return [`${row.label.toLowerCase()} ${words} ${b > a ? "more" : "less"}`];
    });
    if (model.cost && first.model.cost) {
      const gap = model.cost.total - first.model.cost.total;
      if (Math.round(gap)) parts.push(`cost ${cell(Math.abs(gap), "money", units, model.cost.currency)} ${gap > 0 ? "more" : "less"}`);
    }
    return `“${name}” against “${first.name}”: ${parts.length ? parts.join(", ") : "no difference in these figures"}.`;
  });
}

/**
 * Ground profiles on one axis of stations, for a chart: what a line has not is null.
 * @param {Entry[]} entries @param {Units} units
 */
export function overlaid(entries, units) {
  const stations = [...new Set(entries.flatMap(({ model }) => Array.from(model.col.station_m)))].sort((a, b) => a - b);
  const place = new Map(stations.map((station, i) => [station, i]));
  const columns = entries.map(({ model }) => {
    /** @type {(number | null | undefined)[]} */
    const column = new Array(stations.length).fill(undefined);
    for (let i = 0; i < model.n; i += 1)
      column[/** @type {number} */ (place.get(model.col.station_m[i]))] = toShown(model.col.pipe_m[i], "elevation", units);
    return column;
  });
  return [stations.map((station) => toShown(station, "station", units)), ...columns];
}

/**
 * What a deeper trench saves, and what it digs and costs more.
 * @param {import("./types.js").Depth} now @param {import("./types.js").Depth} deeper @param {Units} units @param {string} [currency]
 */
export function saving(now, deeper, units, currency) {
  const fewer = now.summits - deeper.summits;
  const more = deeper.extra_volume_m3 - now.extra_volume_m3;
  const price = deeper.price === null ? "" : `, ${cell(deeper.price - (now.price ?? 0), "money", units, currency)}`;
  return {
    saves: fewer > 0 ? `${fewer} vent${fewer === 1 ? "" : "s"}` : "nothing",
    digs: `${more < 0 ? "−" : "+"}${show(Math.abs(more), "volume", units)}${price}`,
  };
}
