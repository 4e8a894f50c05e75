import assert from "node:assert/strict";
import test from "node:test";

import { figuresOf } from "../../web/js/figures.js";
import { heightsFor } from "../../web/js/profile-data.js";
import { askedOfStretch, idle, pinned, troubles, words } from "../../web/js/trouble.js";

const NO_RATING = [NaN, NaN, NaN, NaN, NaN];

/** A pipe of 0.2 m outside and 0.16 m inside, 1 m below level ground but where told. @param {object} [col] @param {object} [change] */
function model(col = {}, change = {}) {
  const pipe = [99, 99, 99, 99, 99];
  return /** @type {any} */ ({
    n: 5, flow: null, warnings: [], verdict: { out_of_reach: null, out_of_reach_code: null }, vents: [], drains: [], cost: null,
    summary: { intake_level_m: 105, gross_head_m: 6, plan_length_m: 40, pipe_length_m: 40, trench_volume_m3: 9, max_static_pressure_kpa: 60, max_static_station_m: 40 },
    trench: { outside_diameter_m: 0.2, bedding_m: 0.1, cover_m: 0.9, deepest_m: 1.2, limits: [] },
    col: {
      station_m: [0, 10, 20, 30, 40], ground_m: [100, 100, 100, 100, 100], pipe_m: pipe,
      invert_m: pipe.map((level) => level - 0.08), cover_m: [0.9, 0.9, 0.9, 0.9, 0.9],
      static_pressure_kpa: [60, 60, 60, 60, 60], rating_kpa: NO_RATING, span: [0, 0, 0, 0, 0], ...col,
    },
    ...change,
  });
}
const found = (/** @type {any} */ of) => troubles(of).map(({ kind, from, to }) => [kind, from, to]);

test("troubles: none on a line that keeps its limits", () => assert.deepEqual(troubles(model()), []));

test("troubles: each kind where it is, with its worst", () => {
  assert.deepEqual(found(model({ static_pressure_kpa: [60, 61, 66, 60, 60], rating_kpa: [60, 60, 60, 60, 60] })), [["rating", 10, 20]]);
  assert.deepEqual(found(model({ cover_m: [0.9, 0.9, 0.9, 0.8, 0.9] })), [["cover", 30, 30]]);
  assert.deepEqual(found(model({ ground_m: [100, 100.1, 100.3, 100, 100], cover_m: [0.9, 1, 1.2, 0.9, 0.9] })), [["entry", 10, 20]]);
  const [siphon] = troubles(model({ flowing_head_m: [2, 0.07, -3, 0.09, 5] }));
  assert.deepEqual([siphon.kind, siphon.from, siphon.to, siphon.at], ["flowing", 10, 20, 20]);
  assert.ok(Math.abs(siphon.worst - 3.08) < 1e-9); // judged at the crown
  assert.equal(words(siphon, "metric"), "above the flowing line by 3.1 m");
  const low = model({}, { summary: { ...model().summary, intake_level_m: 99.05 } });
  assert.deepEqual(found(low), [["static", 0, 40]]); // the top of the pipe is at 99.1 m
});

test("troubles: a bridge has no trench, a stretch has limits of its own", () => {
  assert.deepEqual(found(model({ cover_m: [0.9, 0.1, 0.9, 0.9, 0.9], span: [0, 1, 0, 0, 0] })), []);
  const own = model({ cover_m: [0.9, 0.6, 0.9, 0.9, 0.6] });
  own.trench.limits = [{ from_m: 5, to_m: 15, max_depth_m: null, cover_m: 0.5 }];
  assert.deepEqual(found(own), [["cover", 40, 40]]);
});

const fault = (/** @type {string} */ code, /** @type {number[]} */ places) =>
  ({ code, severity: "fault", message: `The ${code}.`, station_m: places[0] ?? null, places_m: places });

test("idle: what the verdict finds out of reach is struck, with the message of its fault", () => {
  const lost = { out_of_reach: "siphon", out_of_reach_code: "siphon" };
  const of = model({}, { flow: {}, verdict: lost, warnings: [fault("over_rating", [1]), fault("siphon", [])] });
  of.summary = { ...of.summary, net_head_m: 5, power_kw: 2, head_loss_m: 1, flow_m3_s: 0.02 };
  assert.deepEqual(idle(of), { why: "siphon", message: "The siphon." });
  const struck = figuresOf(of, "metric").filter((figure) => figure.struck).map(({ label }) => label);
  assert.deepEqual(struck, ["Net head", "Power"]);
  assert.equal(idle(model({}, { warnings: [fault("class_exceeded", [1])] })), null);
});

test("pinned: faults with a place, close ones together", () => {
  const pins = pinned(model({}, { warnings: [fault("a", [30, 12]), fault("b", [10]), fault("c", [])] }), 5);
  assert.deepEqual(pins, [{ station: 10, messages: ["The b.", "The a."] }, { station: 30, messages: ["The a."] }]);
});

test("figuresOf: the same tiles with and without a line", () => {
  const labels = (/** @type {any} */ of) => figuresOf(of, "us").map(({ label }) => label);
  assert.deepEqual(labels(null), labels(model()));
});

test("figuresOf: how far the head may be off, as the papers have it", () => {
  const of = model();
  const note = () => figuresOf(of, "metric").find(({ label }) => label === "Gross head")?.note;
  assert.equal(note(), undefined);
  of.summary.gross_head_off_m = 1.34;
  assert.equal(note(), "± 1.3 m (90 %)");
});

test("askedOfStretch: the words of a settings file become a control", () => {
  const message = 'Cover 0.80 m under road at 457.3 m, less than the 0.90 m asked. Ask for it there: [[trench.limit]] from = "452 m", to = "463 m", cover = "0.90 m".';
  assert.deepEqual(askedOfStretch(message), {
    text: "Cover 0.80 m under road at 457.3 m, less than the 0.90 m asked.",
    asked: { from: "452 m", to: "463 m", key: "cover", value: "0.90 m" },
  });
  assert.deepEqual(askedOfStretch("Lead the line round."), { text: "Lead the line round.", asked: null });
});

test("heightsFor: the largest round exaggeration that shows all, or the one that is held", () => {
  assert.deepEqual(heightsFor(100, 110, { across: 0.5, height: 100 }), { times: 5, middle: 105, per: 0.1 });
  for (let span = 0.01; span < 3000; span *= 1.7) {
    const { times, per } = heightsFor(0, span, { across: 0.8, height: 210 });
    assert.ok(span <= 210 * per * (1 + 1e-9) && span > (210 * per) / 1.6, `${span}`);
    assert.ok([1, 1.5, 2, 2.5, 3, 4, 5, 6, 8].some((lead) => Math.abs(Math.log10(times / lead) - Math.round(Math.log10(times / lead))) < 1e-9), `${times}`);
  }
  assert.deepEqual(heightsFor(100, 110, { across: 1, height: 50, held: 8 }), { times: 8, middle: 105, per: 0.125 });
});
