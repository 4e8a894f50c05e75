// @ts-check
/** Lines that the service proposes between two places: what is asked, what is said of each. Pure. */

import { freshName, previewBody } from "./plan.js";
import { FIELDS } from "./setting-rows.js";
import { apart, pointsOf } from "./study-doc.js";
import { show } from "./units.js";

/** @typedef {import("./plan.js").Plan} Plan */
/** @typedef {import("./plan.js").Line} Line */
/**
 * @typedef {{rank: number, name: string, route: any, settings: Record<string, any>, cost: number, differs_m: number | null,
 *   pipe_length_m: number, gross_head_m: number, net_head_m: number | null, power_kw: number | null,
 *   vents: number, drains: number, crossings: number, faults: string[]}} Proposal
 */
/**
 * @typedef {{currency: string, prices_of: string | null, default_prices: string[], bound: number,
 *   banned: {what: string, share: number, lift: string}[], notes: string[], alternatives: Proposal[]}} Found
 */

/** Most letters of a line's name on the page. */
const NAME_LETTERS = 60;

/**
 * The body that seeks lines between the ends of the line in hand.
 * @param {Plan} plan @param {boolean} through whether every line passes through its points between, in order
 */
export function searchBody(plan, through) {
  const line = plan.lines[plan.active];
  const { terrain, settings } = /** @type {{terrain: any, settings: Record<string, any>}} */ (previewBody(plan, line));
  const { through: _, ...search } = settings.search ?? {};
  const between = line.points.slice(1, -1);
  const wish = through && between.length ? { ...search, through: between } : search;
  return { terrain, from: line.points[0], to: line.points.at(-1), settings: { ...settings, ...(Object.keys(wish).length && { search: wish }) } };
}

/** Why nothing can be sought yet, or empty. @param {Plan} plan */
export function lacking(plan) {
  if (!plan.terrain.length) return "Bring a raster first.";
  if (plan.lines[plan.active].points.length < 2) return "Draw the intake and the powerhouse: two points are enough.";
  return "";
}

/** What a proposal comes to. @param {Proposal} each @param {string} currency @param {import("./units.js").Units} units */
export function proposalWords(each, currency, units) {
  const { cost, pipe_length_m: length, power_kw: power, vents, drains, crossings } = each;
  return [
    `${Math.round(cost).toLocaleString("en")} ${currency}`,
    power === null ? `${show(each.gross_head_m, "head", units)} gross head` : show(power * 1000, "power", units),
    show(length, "length", units),
    `${vents} vent${vents === 1 ? "" : "s"}`,
    `${drains} drain${drains === 1 ? "" : "s"}`,
    `${crossings} crossing${crossings === 1 ? "" : "s"}`,
  ];
}

/** How sure the first of them is. @param {Found} found */
export const boundWords = ({ bound, alternatives }) =>
  alternatives.length && bound > 0 ? `No line on this ground costs less than ${Math.floor(bound * 100)} % of the first.` : "";

/** A plan with proposals as lines of their own beside those it has, the first of them in hand. @param {Plan} plan @param {Proposal[]} taken @returns {Plan} */
export function withProposals(plan, taken) {
  return taken.reduce((now, each, i) => {
    const { search: told, ...rest } = /** @type {Record<string, any>} */ (apart(each.settings).settings);
    const { through: _, ...search } = told ?? {};
    /** @type {Line} */
    const line = { name: nameOf(now, each.name), points: pointsOf(each.route), settings: { ...rest, ...(Object.keys(search).length && { search }) } };
    return { ...now, lines: now.lines.toSpliced(plan.active + 1 + i, 0, line), active: plan.active + 1 };
  }, plan);
}

/** What a line is best at, as its name; a number where another is called so. @param {Plan} plan @param {string} name */
function nameOf(plan, name) {
  const short = name.split(",")[0].slice(0, NAME_LETTERS - 4).trim() || freshName(plan);
  const taken = new Set(plan.lines.map((line) => line.name));
  for (let number = 1; ; number += 1) {
    const own = number === 1 ? short : `${short} ${number}`;
    if (!taken.has(own)) return own;
  }
}

/** What a setting is called on a button. @param {string} row */
export const settingName = (row) => FIELDS[row]?.label ?? row;
