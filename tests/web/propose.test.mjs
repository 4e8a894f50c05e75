import assert from "node:assert/strict";
import test from "node:test";

import { emptyPlan } from "../../web/js/plan.js";
import { between, boundWords, lacking, proposalWords, searchBody, stretches, withProposals } from "../../web/js/propose.js";

/** @type {[number, number][]} */
const POINTS = [[1, 50], [1.1, 50.1], [1.2, 50.2]];
const PLAIN = { through: false, intake: false, powerhouse: false };
const SETTINGS = { flow: { design: "18 L/s" }, search: { alternatives: 3, through: [[9, 9]] } };
/** @param {object} [change] @returns {any} */
const plan = (change) => ({ ...emptyPlan(["t1"]), lines: [{ name: "Line A", points: POINTS, settings: SETTINGS }], prices: { vent: 120 }, ...change });
/** @param {object} [change] @returns {any} */
const proposal = (change) => ({
  rank: 1, name: "Cheapest, shortest", cost: 2241.3, differs_m: 20.4, pipe_length_m: 1178.48, gross_head_m: 65.2, net_head_m: 60.3, power_kw: 8.5912,
  vents: 7, drains: 1, crossings: 0, stream_beds: 0, faults: [], fault_findings: [], route: { type: "Feature", geometry: { type: "LineString", coordinates: [[1, 50], [1.2, 50.2]] } },
  settings: { study: { name: "Beck", units: "metric" }, prices: { vent: 120 }, flow: { design: "18 L/s" }, pipe: [{ from: "0 m", catalogue: "A" }], search: { through: POINTS.slice(1, 2) } }, ...change,
});

test("search: between the ends of the line in hand, by its settings and the plan's prices and land", () => {
  const body = searchBody(plan({ nogo: [[[0, 0], [0, 1], [1, 1]]] }), PLAIN);
  assert.deepEqual([body.from, body.to, body.terrain], [[1, 50], [1.2, 50.2], "t1"]);
  assert.deepEqual(body.settings.search, { alternatives: 3 });
  assert.deepEqual(body.settings.prices, { vent: 120 });
  assert.equal(body.settings.layer[0].kind, "no-go");
});

test("search: through the points between where that is wished", () =>
  assert.deepEqual(searchBody(plan(), { ...PLAIN, through: true }).settings.search, { alternatives: 3, through: [[1.1, 50.1]] }));

test("search: what is lacking is said", () => {
  assert.equal(lacking(plan(), PLAIN), "");
  assert.match(lacking(plan({ terrain: [] }), PLAIN), /raster/);
  assert.match(lacking(plan({ lines: [{ name: "Line A", points: POINTS.slice(0, 1), settings: {} }] }), PLAIN), /two points/);
  assert.equal(lacking(plan(), { ...PLAIN, intake: true }), "");
  assert.match(lacking(plan(), { ...PLAIN, intake: true, powerhouse: true }), /Each stretch of stream wants two points/);
});

test("search: an end may lie anywhere along a stretch of stream, and lines pass through what is left between", () => {
  /** @type {[number, number][]} */
  const five = [[1, 50], [1.1, 50.1], [1.2, 50.2], [1.3, 50.3], [1.4, 50.4]];
  const wide = plan({ lines: [{ name: "Line A", points: five, settings: {} }] });
  const wish = { through: true, intake: true, powerhouse: true };
  const body = searchBody(wide, wish);
  assert.deepEqual([body.from, body.to], [five.slice(0, 2), five.slice(3)]);
  assert.deepEqual(body.settings.search, { through: [five[2]] });
  assert.deepEqual(stretches(wide, wish), [five.slice(0, 2), five.slice(3)]);
  const low = searchBody(wide, { ...PLAIN, powerhouse: true });
  assert.deepEqual([low.from, low.to], [five[0], five.slice(3)]);
  assert.deepEqual(stretches(wide, PLAIN), []);
  assert.deepEqual(between(wide, { ...PLAIN, powerhouse: true }), five.slice(1, 3));
  assert.deepEqual(between(plan(), wish), []);
});

test("proposals: figures, and the bound as a whole share never rounded up", () => {
  assert.deepEqual(proposalWords(proposal(), "crowns", "metric"), ["2,241\u00a0crowns", "8.59 kW", "1178.5 m", "7 vents", "1 drain", "0 crossings"]);
  assert.equal(proposalWords(proposal({ stream_beds: null }), "crowns", "metric").length, 6);
  assert.equal(proposalWords(proposal({ stream_beds: 1 }), "crowns", "metric").at(-1), "1 stream that only the raster shows");
  assert.equal(proposalWords(proposal({ stream_beds: 2 }), "crowns", "metric").at(-1), "2 streams that only the raster shows");
  assert.equal(proposalWords(proposal({ power_kw: null }), "crowns", "metric")[1], "65.2 m gross head");
  assert.match(boundWords(/** @type {any} */ ({ bound: 0.7099, alternatives: [1] })), /less than 70 % of/);
  assert.equal(boundWords(/** @type {any} */ ({ bound: 0, alternatives: [] })), "");
});

test("proposals: taken beside the lines that are there, the first of them in hand, each with a name of its own", () => {
  const next = withProposals(plan(), [proposal(), proposal({ name: "Most power" }), proposal()]);
  assert.deepEqual(next.lines.map(({ name }) => name), ["Line A", "Cheapest", "Most power", "Cheapest 2"]);
  assert.equal(next.active, 1);
  const { points, settings } = next.lines[1];
  assert.deepEqual(points, [[1, 50], [1.2, 50.2]]);
  assert.deepEqual(settings, { flow: { design: "18 L/s" }, pipe: [{ from: "0 m", catalogue: "A" }] });
});
