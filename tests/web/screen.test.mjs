import assert from "node:assert/strict";
import test from "node:test";

import { emptyPlan } from "../../web/js/plan.js";
import { candidateWords, lackingTerrain, screenBody, trustWords, withCandidates } from "../../web/js/screen.js";

const SETTINGS = {
  flow: { design: "18 L/s", temperature: "8 degC" }, pipe: [{ from: "0 m", catalogue: "A" }], intake: { level: "400 m", residual: "2 L/s" },
  search: { reach: 1, through: [[9, 9]] }, screen: { least_head: "12 m" }, trench: { cover: "1 m", span: [{ from: "1 m", to: "9 m" }] },
};
/** @param {object} [change] @returns {any} */
const plan = (change) => ({ ...emptyPlan(["t1"]), lines: [{ name: "Line A", points: [], settings: SETTINGS }], prices: { vent: 120 }, ...change });
const ROUTE = { type: "Feature", geometry: { type: "LineString", coordinates: [[1, 50], [1.1, 50.05], [1.2, 50.2]] } };
/** @param {object} [change] @returns {any} */
const candidate = (change) => ({
  rank: 2, score: 0.01, route: ROUTE, power_kw: 8.5912, gross_head_m: 65.2, pipe_length_m: 1178.48, cost: 2241.3, flow_m3_s: 0.0213456, line: "straight", study: null, ...change,
});

test("valley: asked by the settings of the line in hand, prices and land of the plan, without its points", () => {
  const body = screenBody(plan({ nogo: [[[0, 0], [0, 1], [1, 1]]] }));
  assert.deepEqual(Object.keys(body), ["terrain", "settings"]);
  assert.equal(body.terrain, "t1");
  assert.deepEqual(body.settings.screen, { least_head: "12 m" });
  assert.deepEqual(body.settings.search, { reach: 1 });
  assert.deepEqual(body.settings.prices, { vent: 120 });
  assert.equal(body.settings.layer[0].kind, "no-go");
  assert.equal(lackingTerrain(plan()), "");
  assert.match(lackingTerrain(plan({ terrain: [] })), /raster/);
});

test("valley: figures of a candidate; what is not known is left out", () => {
  assert.deepEqual(candidateWords(candidate(), "crowns", "metric"), ["8.59 kW", "21.3 L/s", "65.2 m gross head", "1178.5 m", "2,241\u00a0crowns", "straight"]);
  assert.deepEqual(candidateWords(candidate({ power_kw: null, flow_m3_s: null }), "crowns", "metric").length, 4);
});

test("valley: how far to trust the order", () => {
  const found = /** @type {any} */ ({ rank_correlation: 0.912, within_limits: 1234, looked_at: 56789 });
  assert.match(trustWords(found), /^1,234 of 56,789 pairs .* 0\.91\.$/);
  assert.match(trustWords({ ...found, rank_correlation: 0.79 }), /Do not lean on/);
  assert.doesNotMatch(trustWords({ ...found, rank_correlation: null }), /correlation/);
});

test("valley: a studied candidate becomes its line, another one its two ends with its flow", () => {
  const study = { route: { lon: [1, 1.15, 1.2], lat: [50, 50.1, 50.2] }, settings: { flow: { design: "21.3456 L/s" }, pipe: [{ from: "0 m", catalogue: "B" }] } };
  const next = withCandidates(plan(), [candidate({ rank: 1, study }), candidate()]);
  assert.deepEqual(next.lines.map(({ name }) => name), ["Line A", "Candidate 1", "Candidate 2"]);
  assert.deepEqual(next.lines[1].points, [[1, 50], [1.15, 50.1], [1.2, 50.2]]);
  assert.deepEqual(next.lines[1].settings.pipe, [{ from: "0 m", catalogue: "B" }]);
  assert.deepEqual(next.lines[2].points, [[1, 50], [1.2, 50.2]]);
  assert.deepEqual(next.lines[2].settings, {
    flow: { design: "21.35 L/s", temperature: "8 degC" }, intake: { residual: "2 L/s" }, screen: { least_head: "12 m" }, trench: { cover: "1 m" },
  });
  assert.equal(SETTINGS.intake.level, "400 m");
});
