// @ts-check
/** Pipes tried for a line: in which order they stand, what is said of each. Pure. */

import { priced, show } from "./units.js";

/** @typedef {import("./units.js").Units} Units */
/**
 * @typedef {{id: string, label: string, material: string, inside_diameter_m: number, loss_share: number, class_margin_kpa: number | null,
 *   mass_kg: number | null, price: number | null, yearly_cost: number | null, fits: boolean, verdict: string, tried?: "full" | "bound", in_study: boolean}} Tried
 */
/** @typedef {{runs: {from_m: number, to_m: number, id: string, label: string}[], cost: number, loss_m?: number}} Sequence */
/**
 * @typedef {{ranked_by: "yearly cost" | "price" | "mass", currency: string | null, tried: number, fitting: number,
 *   sweep: Tried[], class_line: Sequence | null, diameters: Sequence | null, notes: string[]}} Choice
 */

/** What a pipe or a row of pipes costs, in the money or the mass that ranks them. @param {Choice} choice @param {number | null} amount */
export function costWords({ ranked_by, currency }, amount) {
  if (amount === null) return "not priced";
  const figure = Math.round(amount).toLocaleString("en");
  return { mass: `${figure} kg`, price: priced(figure, currency), "yearly cost": `${priced(figure, currency)} a year` }[ranked_by];
}

/** @param {Choice} choice @param {Tried} row */
const costOf = ({ ranked_by }, row) => ({ mass: row.mass_kg, price: row.price, "yearly cost": row.yearly_cost })[ranked_by];

/** @param {Choice} choice @param {Tried} row @param {Units} units */
export function rowWords(choice, row, units) {
  const margin = row.class_margin_kpa === null ? "class not known" : `${show(row.class_margin_kpa * 1000, "pressure", units)} to spare`;
  const facts = [
    `${show(row.inside_diameter_m, "diameter", units)} bore`,
    `loses ${Math.round(row.loss_share * 1000) / 10} %`,
    margin,
    costWords(choice, costOf(choice, row)),
    // The best few were laid and their surges followed; the others that fit stand by the quick bound.
    ...(row.fits && row.tried === "bound" ? ["by the bound"] : []),
  ].join(", ");
  return row.fits ? facts : `${row.verdict}: ${facts}`;
}

/** Verdicts on a pipe for its own sake; all others are the line's as well. */
const OWN = ["too slow", "too fast", "class exceeded", "loses too much", "takes all the head", "no rating", "not judged", "no price"];

/**
 * The pipes that answer to some words, best first; those that cannot hold the line only where asked for,
 * first such as fail for the line's sake, the lightest of them before the others.
 * @param {Tried[]} sweep @param {{words: string, material: string, all: boolean}} asked
 */
export function picked(sweep, { words, material, all }) {
  const wanted = words.toLowerCase().split(/\s+/).filter(Boolean);
  const found = sweep.filter((row) => (all || row.fits) && (!material || row.material === material) &&
    wanted.every((word) => `${row.id} ${row.label} ${row.material}`.toLowerCase().includes(word)));
  const last = (/** @type {Tried} */ { fits, verdict }) => (fits ? 0 : OWN.includes(verdict) ? 2 : 1);
  return found.sort((a, b) => last(a) - last(b) || (a.fits ? 0 : (a.mass_kg ?? Infinity) - (b.mass_kg ?? Infinity) || 0));
}

/**
 * Pipes of the catalogue where no flow is known: those that hold the water at rest.
 * @param {any[]} pipes @param {number | null} static_kpa highest static pressure of the line, null without a line @returns {Tried[]}
 */
export function restOnly(pipes, static_kpa) {
  const rows = pipes.map((pipe) => {
    const margin = pipe.rating_kpa === null || static_kpa === null ? null : pipe.rating_kpa - static_kpa;
    const verdict = pipe.rating_kpa === null ? "rating not known" : margin !== null && margin < 0 ? "rated below the water at rest" : "holds the water at rest";
    return { ...pipe, loss_share: 0, class_margin_kpa: margin, mass_kg: null, price: null, yearly_cost: null, fits: pipe.rating_kpa !== null && (margin ?? 0) >= 0, verdict, in_study: false };
  });
  return rows;
}

/**
 * What turns pipes down, the commonest reason first.
 * @param {Tried[]} sweep @returns {[string, number][]}
 */
export function reasons(sweep) {
  /** @type {Map<string, number>} */
  const counts = new Map();
  for (const { fits, verdict } of sweep) if (!fits) counts.set(verdict, (counts.get(verdict) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1]);
}

/** Runs of a sequence as the settings have them. @param {Sequence} sequence */
export const pipesOf = ({ runs }) => runs.map(({ from_m, id }) => ({ from: `${Number(from_m.toFixed(1))} m`, catalogue: id }));
