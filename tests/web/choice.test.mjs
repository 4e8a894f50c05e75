import assert from "node:assert/strict";
import test from "node:test";

import { costWords, picked, pipesOf, reasons, restOnly, rowWords } from "../../web/js/choice.js";

/** @param {any} change @returns {any} */
const row = (change) => ({
  id: "A-1", label: "Pipe A 200", material: "PE100", inside_diameter_m: 0.175, loss_share: 0.0864, class_margin_kpa: 73,
  mass_kg: 8275.2, price: null, yearly_cost: null, fits: true, verdict: "fits", in_study: false, ...change,
});

test("picked: what does not hold the line never stands in the list unasked", () => {
  const sweep = [row({}), row({ id: "B-2", label: "Pipe B 160", fits: false, verdict: "loses too much" })];
  assert.deepEqual(picked(sweep, { words: "", material: "", all: false }).map(({ id }) => id), ["A-1"]);
  assert.deepEqual(picked(sweep, { words: "pipe 160", material: "", all: false }), []);
  assert.deepEqual(picked(sweep, { words: "pipe 160", material: "", all: true }).map(({ id }) => id), ["B-2"]);
  assert.deepEqual(picked(sweep, { words: "", material: "PVC", all: true }), []);
});

test("picked: of those that do not hold, such as fail for the line's sake come first, the lightest before", () => {
  const sweep = [row({ id: "slow", fits: false, verdict: "too slow", mass_kg: 9 }), row({ id: "heavy", fits: false, verdict: "siphon", mass_kg: 8 }),
    row({ id: "light", fits: false, verdict: "siphon", mass_kg: 7 }), row({})];
  assert.deepEqual(picked(sweep, { words: "", material: "", all: true }).map(({ id }) => id), ["A-1", "light", "heavy", "slow"]);
});

test("rowWords: cost by what ranks, loss, class, and the reason against it", () => {
  const choice = /** @type {any} */ ({ ranked_by: "mass", currency: null });
  assert.equal(rowWords(choice, row({}), "metric"), "175 mm bore, loses 8.6 %, 73 kPa to spare, 8,275 kg");
  assert.match(rowWords(choice, row({ fits: false, verdict: "loses too much" }), "metric"), /^loses too much: /);
  assert.match(rowWords(choice, row({ tried: "bound" }), "metric"), /8,275 kg, by the bound$/);
  assert.doesNotMatch(rowWords(choice, row({ tried: "full" }), "metric"), /bound/);
  assert.doesNotMatch(rowWords(choice, row({ tried: "bound", fits: false, verdict: "too slow" }), "metric"), /bound/);
  assert.equal(costWords({ ...choice, ranked_by: "price", currency: "crowns" }, null), "not priced");
  assert.equal(costWords({ ...choice, ranked_by: "price", currency: "crowns" }, 12345.6), "12,346\u00a0crowns");
});

test("restOnly: without a flow, pipes rated below the water at rest do not fit", () => {
  const pipes = [{ id: "low", rating_kpa: 400 }, { id: "high", rating_kpa: 1000 }, { id: "none", rating_kpa: null }];
  assert.deepEqual(restOnly(pipes, 654).map(({ fits }) => fits), [false, true, false]);
  assert.deepEqual(restOnly(pipes, null).map(({ fits }) => fits), [true, true, false]);
});

test("pipesOf: a sequence as the settings take it", () => {
  const runs = [{ from_m: 0, to_m: 605.2943, id: "a", label: "" }, { from_m: 605.2943, to_m: 1167, id: "b", label: "" }];
  assert.deepEqual(pipesOf({ runs, cost: 1 }), [{ from: "0 m", catalogue: "a" }, { from: "605.3 m", catalogue: "b" }]);
});

test("reasons: what turns pipes down, the commonest first; those that fit have none", () => {
  const sweep = [row({}), row({ fits: false, verdict: "too slow" }), row({ fits: false, verdict: "class exceeded" }), row({ fits: false, verdict: "class exceeded" })];
  assert.deepEqual(reasons(sweep), [["class exceeded", 2], ["too slow", 1]]);
});
