// @ts-check
/** What a line costs, yields and pays back, with what has no price said. Pure. */

import { parsedOrNull, priced } from "./units.js";

/** @typedef {import("./types.js").Model} Model */
/** @typedef {{label: string, value: string, note: string}} Line */

/**
 * Share of a sum that is paid a year, so that it is paid with interest after some years: the capital
 * recovery factor i (1 + i)^n / ((1 + i)^n - 1) of engineering economy; 1 / n without interest.
 * @param {number} interest rate a year [-] @param {number} years [a]
 */
export function yearlyShare(interest, years) {
  if (!(years > 0) || !(interest >= 0)) return null;
  const grown = (1 + interest) ** years;
  return interest === 0 ? 1 / years : (interest * grown) / (grown - 1);
}

/** @param {number} amount @param {string} currency */
export function sum(amount, currency) {
  const digits = Math.abs(amount) < 10 ? 3 : 0;
  const text = amount.toLocaleString("en", { minimumFractionDigits: digits, maximumFractionDigits: digits });
  return priced(text, currency);
}

/**
 * The lines of the account; a dash with the reason where a figure cannot be had.
 * @param {Model | null} model @param {Record<string, any>} energySettings the table [energy]
 * @returns {Line[]}
 */
export function account(model, energySettings = {}) {
  const cost = model?.cost ?? null;
  const energy = model?.energy ?? null;
  const currency = cost?.currency ?? "";
  const kwh = energy?.energy_kwh ?? null;
  const worth = energy?.worth_per_year ?? null;
  const interest = parsedOrNull(String(energySettings.interest ?? ""), "ratio");
  const { years = NaN } = energySettings;
  const share = interest === null ? null : yearlyShare(interest, years);
  const without = cost?.not_priced.length ? "at least: some has no price" : "";
  const whole = { label: "Cost of the whole", value: cost ? sum(cost.total, currency) : "–", note: cost ? without : "no prices yet" };
  const yieldLine = {
    label: "Energy a year", value: kwh === null ? "–" : `${Math.round(kwh).toLocaleString("en")} kWh`,
    note: kwh !== null ? `${Math.round((energy?.capacity_factor ?? 0) * 100)} % of rated power all year` : energy ? "residual flow, or a curve or record of the stream, is missing" : "the stream over the year is not known",
  };
  const worthLine = { label: "Worth a year", value: worth === null ? "–" : sum(worth, currency), note: worth === null ? "needs energy and its price" : "" };
  const payback = cost && worth ? cost.total / worth : null;
  const paybackLine = { label: "Pay-back", value: payback === null ? "–" : `${payback.toFixed(1)} years`, note: payback === null ? "needs cost and worth" : ["without interest and upkeep", without].filter(Boolean).join("; ") };
  const each = cost && kwh && share !== null ? (cost.total * share) / kwh : null;
  const eachLine = { label: "Cost a kWh", value: each === null ? "–" : sum(each, currency), note: each === null ? "needs cost, energy, interest and years" : ["upkeep not counted", without].filter(Boolean).join("; ") };
  return [whole, yieldLine, worthLine, paybackLine, eachLine];
}
