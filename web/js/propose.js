// @ts-check
/** Lines that the service proposes between two places: what is asked, what is said of each. Pure. */

import { freshName, previewBody } from "./plan.js";
import { FIELDS } from "./setting-rows.js";
import { apart, pointsOf } from "./study-doc.js";
import { priced, raised, show } from "./units.js";

/** @typedef {import("./plan.js").Plan} Plan */
/** @typedef {import("./plan.js").Line} Line */
/**
 * @typedef {{rank: number, name: string, route: any, settings: Record<string, any>, cost: number, differs_m: number | null,
 *   pipe_length_m: number, gross_head_m: number, net_head_m: number | null, power_kw: number | null,
 *   vents: number, drains: number, crossings: number, stream_beds: number | null, faults: string[], fault_findings: {message: string}[]}} Proposal
 */
/**
 * @typedef {{cost_unit: string, prices_of: string | null, default_prices: string[], bound: number,
 *   banned: {what: string, share: number, lift: string}[], notes: string[], alternatives: Proposal[]}} Found
 */

/** Whether lines pass through the points between, and which ends are stretches of stream. @typedef {{through: boolean, intake: boolean, powerhouse: boolean}} Wish */

/** Most letters of a line's name on the page. */
const NAME_LETTERS = 60;

/** How many points at each end of the line speak of that end. @param {Wish} wish */
const ends = ({ intake, powerhouse }) => [intake ? 2 : 1, powerhouse ? 2 : 1];

/** The points of the line in hand between its ends. @param {Plan} plan @param {Wish} wish */
export function between(plan, wish) {
  const { points } = plan.lines[plan.active];
  const [first, last] = ends(wish);
  return points.slice(first, Math.max(points.length - last, first));
}

/** The pairs of places between which an end may lie. @param {Plan} plan @param {Wish} wish */
export function stretches(plan, { intake, powerhouse }) {
  const { points } = plan.lines[plan.active];
  return [...(intake ? [points.slice(0, 2)] : []), ...(powerhouse ? [points.slice(-2)] : [])];
}

/**
 * The body that seeks lines between the ends of the line in hand, each a place or a stretch of stream.
 * @param {Plan} plan @param {Wish} wish
 */
export function searchBody(plan, wish) {
  const line = plan.lines[plan.active];
  const { terrain, settings } = /** @type {{terrain: any, settings: Record<string, any>}} */ (previewBody(plan, line));
  const { through: _, ...search } = settings.search ?? {};
  const passed = wish.through ? between(plan, wish) : [];
  const asked = passed.length ? { ...search, through: passed } : search;
  return {
    terrain,
    from: wish.intake ? line.points.slice(0, 2) : line.points[0],
    to: wish.powerhouse ? line.points.slice(-2) : line.points.at(-1),
    settings: { ...settings, ...(Object.keys(asked).length && { search: asked }) },
  };
}

/** Why nothing can be sought yet, or empty. @param {Plan} plan @param {Wish} wish */
export function lacking(plan, wish) {
  if (!plan.terrain.length) return "Bring a raster first.";
  const { length } = plan.lines[plan.active].points;
  if (length < 2) return "Draw the intake and the powerhouse: two points are enough.";
  const [first, last] = ends(wish);
  return length < first + last ? "Each stretch of stream wants two points: where it begins and where it ends." : "";
}

/** What a proposal comes to. @param {Proposal} each @param {string} unit of costs @param {import("./units.js").Units} units */
export function proposalWords(each, unit, units) {
  const { cost, pipe_length_m: length, power_kw: power, vents, drains, crossings, stream_beds: beds } = each;
  return [
    priced(Math.round(cost).toLocaleString("en"), unit),
    power === null ? `${show(each.gross_head_m, "head", units)} gross head` : show(power * 1000, "power", units),
    show(length, "length", units),
    `${vents} vent${vents === 1 ? "" : "s"}`,
    `${drains} drain${drains === 1 ? "" : "s"}`,
    `${crossings} crossing${crossings === 1 ? "" : "s"}`,
    ...(beds ? [`${beds} stream${beds === 1 ? "" : "s"} that only the raster shows`] : []),
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
