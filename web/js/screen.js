// @ts-check
/** Plants along all streams of the terrain: what is asked, what is said of each, what becomes of it. Pure. */

import { previewBody } from "./plan.js";
import { withProposals } from "./propose.js";
import { pointsOf } from "./study-doc.js";
import { priced, raised, show } from "./units.js";

/** @typedef {import("./plan.js").Plan} Plan */
/**
 * @typedef {{rank: number, score: number, route: any, power_kw: number | null, gross_head_m: number, pipe_length_m: number,
 *   cost: number, flow_m3_s: number | null, line: string, study: any, no_line?: string}} Candidate
 */
/**
 * @typedef {{ranked_by: string, candidates: Candidate[], rank_correlation: number | null, looked_at: number,
 *   within_limits: number, cost_unit: string, notes: string[]}} Screened
 */

/** Tables and keys that speak of the line in hand, which is none of a valley's. */
const OWN = ["pipe", "valve", "branch", "tap", "relief", "survey", "waive", "search"];
const OWN_KEYS = [["intake", "level"], ["outlet", "level"], ["trench", "span"], ["trench", "limit"]];

/** The body that looks over all streams, by the settings of the line in hand. @param {Plan} plan */
export function screenBody(plan) {
  const { terrain, settings } = /** @type {{terrain: any, settings: Record<string, any>}} */ (previewBody(plan, plan.lines[plan.active]));
  const { search, ...rest } = settings;
  const { through: _, ...kept } = search ?? {};
  return { terrain, settings: { ...rest, ...(Object.keys(kept).length && { search: kept }) } };
}

/** Why nothing can be looked over yet, or empty. @param {Plan} plan */
export const lackingTerrain = (plan) => (plan.terrain.length ? "" : "Bring a raster first.");

/** What a candidate comes to. @param {Candidate} each @param {string} unit of costs @param {import("./units.js").Units} units */
export function candidateWords(each, unit, units) {
  const { power_kw: power, flow_m3_s: flow, gross_head_m: head, pipe_length_m: length, cost, line } = each;
  return [
    ...(power === null ? [] : [show(power * 1000, "power", units)]),
    ...(flow === null ? [] : [show(flow, "flow", units)]),
    `${show(head, "head", units)} gross head`,
    show(length, "length", units),
    priced(Math.round(cost).toLocaleString("en"), unit),
    line,
  ];
}

/** How far to trust the order. @param {Screened} found */
export function trustWords({ rank_correlation: correlation, within_limits: within, looked_at: all }) {
  const said = [`${within.toLocaleString("en")} of ${all.toLocaleString("en")} pairs of intake and powerhouse keep to the limits.`];
  if (correlation !== null) said.push(`Rank correlation with full studies of a sample: ${correlation.toFixed(2)}.`);
  if (correlation !== null && correlation < 0.8) said.push("Do not lean on the order of neighbours.");
  return said.join(" ");
}

/**
 * A plan with candidates as lines of their own: the line that was studied, else the two ends of the candidate.
 * @param {Plan} plan @param {Candidate[]} taken
 */
export function withCandidates(plan, taken) {
  const lines = taken.map((each) => {
    const name = `Candidate ${each.rank}`;
    if (each.study) return { name, route: each.study.route, settings: each.study.settings };
    const points = pointsOf(each.route);
    return { name, route: { type: "LineString", coordinates: [points[0], points.at(-1)] }, settings: settingsOf(plan, each) };
  });
  return withProposals(plan, /** @type {any} */ (lines));
}

/** What the line in hand was told that holds for any other, with a candidate's flow. @param {Plan} plan @param {Candidate} each */
function settingsOf(plan, { flow_m3_s: flow }) {
  const settings = structuredClone(plan.lines[plan.active].settings);
  for (const table of OWN) delete settings[table];
  for (const [table, key] of OWN_KEYS) if (settings[table]) delete settings[table][key];
  if (flow !== null) settings.flow = { ...settings.flow, design: `${Number((flow * 1000).toPrecision(4))} L/s` };
  return settings;
}
