import assert from "node:assert/strict";
import test from "node:test";

import { account, sum, yearlyShare } from "../../web/js/money.js";

test("yearlyShare: the capital recovery factor of interest tables", () => {
  // Compound interest tables of engineering economy, (A/P, i, n), five decimals; from memory.
  for (const [interest, years, factor] of [[0.1, 10, 0.16275], [0.06, 20, 0.08718], [0.08, 15, 0.11683], [0.01, 12, 0.08885]])
    assert.ok(Math.abs((yearlyShare(interest, years) ?? 0) - factor) < 5e-6, `${interest} ${years}`);
  assert.equal(yearlyShare(0, 25), 0.04);
  assert.equal(yearlyShare(0.05, 0), null);
  assert.equal(yearlyShare(NaN, 10), null);
});

test("yearlyShare: grows with interest and falls with years, never below the plain share", () => {
  let last = 0;
  for (let interest = 0; interest < 0.3; interest += 0.01) {
    const share = /** @type {number} */ (yearlyShare(interest, 20));
    assert.ok(share >= 1 / 20 && share > last);
    last = share;
  }
});

/** @param {any} parts */
const model = (parts) => /** @type {any} */ ({ cost: null, ...parts });
const COST = { total: 48000, currency: "crowns", date: "2026-11-25", not_priced: ["blocks"] };
const ENERGY = { energy_kwh: 60000, worth_per_year: 7200, capacity_factor: 0.8 };

test("account: cost, yield, pay-back and cost a kWh, and what is missing in words", () => {
  const values = Object.fromEntries(account(model({ cost: COST, energy: ENERGY }), { interest: "6 %", years: 20 }).map((line) => [line.label, line]));
  assert.equal(values["Cost of the whole"].value, "48,000\u00a0crowns");
  assert.match(values["Cost of the whole"].note, /some has no price/);
  assert.equal(values["Pay-back"].value, "6.7 years"); // 48 000 / 7 200
  assert.equal(values["Cost a kWh"].value, "0.070\u00a0crowns"); // 48 000 x 0.08718 / 60 000
  const none = account(null).map(({ value }) => value);
  assert.deepEqual(none, ["–", "–", "–", "–", "–"]);
  const unknown = account(model({ cost: COST, energy: { ...ENERGY, energy_kwh: null, worth_per_year: null } }));
  assert.match(unknown[1].note, /residual/);
  assert.equal(unknown[3].value, "–");
});

test("sum: small sums keep their digits", () => {
  assert.equal(sum(0.0712, "crowns"), "0.071\u00a0crowns");
  assert.equal(sum(1234567.8, ""), "1,234,568");
});
