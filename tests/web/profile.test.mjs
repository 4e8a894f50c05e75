import assert from "node:assert/strict";
import test from "node:test";

import { ROWS, best, difference, differences, outOfReach, overlaid, saving } from "../../web/js/compare.js";
import { dotWords } from "../../web/js/dots.js";
import { profileOf, rangeOf, readingAt, within, worstShare, zoomed } from "../../web/js/profile-data.js";
import { inLines, rowsApart, rowsRoom } from "../../web/js/profile-rows.js";
import { carried, chartColumn, decode } from "../../web/js/wire.js";

const STATION = [0, 10, 20, 40];
const GROUND = [100, 96, 97, 80];
const PIPE = [99, 95, 96, 79];
const DENSITY = 1000;
const GRAVITY = 10;

function packed(values, Kind) {
  return Buffer.from(Kind.from(values).buffer).toString("base64");
}

/** @param {object} [change] */
function answer(change = {}) {
  return {
    summary: { plan_length_m: 40, intake_level_m: 101, trench_volume_m3: 10, gross_head_m: 22, max_static_pressure_kpa: 220, pipe_length_m: 45 },
    water: { density_kg_m3: DENSITY, gravity_m_s2: GRAVITY },
    trench: { outside_diameter_m: 0.2, bedding_m: 0.1, spans: [{ from_m: 18, to_m: 22 }], offers: [] },
    pipes: [
      { from_m: 0, to_m: 20, label: "a", length_m: 21, outside_diameter_m: 0.2, inside_diameter_m: 0.18, derated_rating_kpa: 600 },
      { from_m: 20, to_m: 40, label: "b", length_m: 24, outside_diameter_m: 0.2, inside_diameter_m: 0.16, derated_rating_kpa: null },
    ],
    vents: [{}, {}], drains: [{}], warnings: [], verdict: { faults: 0, warnings: 0, notes: 0, failed_checks: 0 },
    stations: {
      n: 4,
      columns: {
        station_m: packed(STATION, Float32Array), ground_m: packed(GROUND, Float32Array), pipe_m: packed(PIPE, Float32Array),
        lon: packed([-16, -16, -16, -16.1], Float64Array), lat: packed([47, 47, 47, 47], Float64Array),
      },
    },
    ...change,
  };
}

test("decode: the short form gives the columns that it leaves out", () => {
  const model = decode(answer());
  assert.ok(model.col.lon instanceof Float64Array);
  assert.equal(model.col.lon[3], -16.1);
  assert.deepEqual([...model.col.static_head_m], [2, 6, 5, 22]);
  assert.deepEqual([...model.col.static_pressure_kpa], [20, 60, 50, 220]);
  assert.deepEqual([...model.col.span], [0, 0, 1, 0]);
  assert.deepEqual([...model.col.rating_kpa], [600, 600, NaN, NaN]); // a joint belongs to the run below
  assert.ok(Math.abs(model.col.depth_m[0] - 1.09) < 1e-9);
  assert.ok(Math.abs(model.col.cover_m[3] - 0.9) < 1e-9);
});

test("decode: the whole form keeps its own columns, null becomes missing", () => {
  const model = decode(answer({ stations: { station_m: [0, 1], static_head_m: [1, 2], rating_kpa: [null, 3] } }));
  assert.equal(model.n, 2);
  assert.ok(Number.isNaN(model.col.rating_kpa[0]));
  assert.deepEqual(chartColumn(model.col.rating_kpa, 2), [null, 3]);
});

test("profileOf: bridges have no trench, unknown ratings no line", () => {
  const profile = profileOf(decode(answer()), "metric");
  assert.deepEqual(profile.ground, GROUND);
  assert.equal(profile.crown[2], null);
  assert.deepEqual(profile.rating, [99 + 60, 95 + 60, null, null]);
  assert.deepEqual(profile.flowing, [null, null, null, null]);
  assert.ok(Math.abs(/** @type {number} */ (profile.bottom[0]) - 1.2) < 1e-9);
});

test("rangeOf: only what is in view counts", () => {
  const [low, high] = rangeOf(STATION, [GROUND], 0, 15);
  assert.deepEqual([low, high], [96, 100]);
  assert.deepEqual(rangeOf(STATION, [[null, null, null, null]], 0, 40), [0, 1]);
});

test("zoomed: keeps the place under the pointer and stays on the line", () => {
  const [from, to] = /** @type {[number, number]} */ (zoomed([0, 1000], 300, 0.5, 1000));
  assert.ok(Math.abs((300 - from) / (to - from) - 0.3) < 1e-12);
  assert.equal(zoomed([100, 900], 500, 9, 1000), null);
  assert.deepEqual(within([-20, 30], 1000), [0, 50]);
  const near = /** @type {[number, number]} */ (zoomed([0, 1000], 999, 1e-9, 1000));
  assert.ok(near[1] <= 1000 && near[1] - near[0] >= 9.99);
});

test("readingAt and worstShare", () => {
  const model = decode(answer());
  const r = readingAt(model, 5);
  assert.equal(r.ground, 98);
  assert.equal(r.staticPressure, 40000);
  assert.equal(r.flowingHead, null);
  assert.deepEqual(worstShare(model), { share: 0.1, station: 10 });
});

test("differences: named against the first line", () => {
  const a = { name: "A", model: decode(answer()) };
  const b = { name: "B", model: decode(answer({ vents: [{}] })) };
  assert.deepEqual(differences([a, b], "metric"), ["“B” against “A”: vents 1 less."]);
  assert.deepEqual(differences([a, a], "metric"), ["“A” against “A”: no difference in these figures."]);
});

test("differences: costs are those of the study", () => {
  const priced = (/** @type {number} */ total) =>
    ({ name: "A", model: { ...decode(answer()), cost: { total, currency: "crowns", date: null, not_priced: [] } } });
  assert.deepEqual(differences([priced(100), priced(130)], "metric"), ["“A” against “A”: cost 30\u00a0crowns more."]);
});

test("outOfReach: net head and power of a line that cannot run are not compared", () => {
  const summary = { net_head_m: 60, power_kw: 8, pipe_length_m: 100 };
  const runs = { name: "A", model: decode(answer({ summary: { ...answer().summary, ...summary } })) };
  const verdict = { ...runs.model.verdict, out_of_reach: "over its rating", out_of_reach_code: "over_rating" };
  const cannot = { name: "B", model: { ...decode(answer({ summary: { ...answer().summary, ...summary, net_head_m: 70, power_kw: 9 } })), verdict } };
  const [head, length] = ["Net head", "Length of pipe"].map((label) => /** @type {any} */ (ROWS.find((row) => row.label === label)));
  assert.equal(outOfReach(head, runs.model), "");
  assert.equal(outOfReach(head, cannot.model), "over its rating");
  assert.equal(outOfReach(length, cannot.model), "");
  for (const pair of [[runs, cannot], [cannot, runs]]) assert.doesNotMatch(differences(pair, "metric")[0], /power|net head/);
});

test("best and overlaid", () => {
  assert.deepEqual(best([3, 1, 1], -1), [1, 2]);
  assert.deepEqual(best([2, 2], 1), []);
  assert.deepEqual(best([null, 2], 1), []);
  // What looks alike is alike: 1174.71 m is not better than 1174.74 m where both read 1174.7 m.
  assert.deepEqual(best([1174.74, 1174.71], -1, (value) => value.toFixed(1)), []);
  assert.deepEqual(best([1174.74, 1174.71, 1180], -1, (value) => value.toFixed(1)), [0, 1]);
  assert.equal(difference(1.0857, 0.6534, "share", "metric"), "−44 %"); // 109 % and 65 % are shown
  const a = { name: "A", model: decode(answer()) };
  const [stations, column] = overlaid([a], "metric");
  assert.deepEqual(stations, STATION);
  assert.deepEqual(column, PIPE);
});

test("saving: what a deeper trench saves, digs and costs", () => {
  const depth = (/** @type {number} */ summits, volume = 0, /** @type {number | null} */ price = null) =>
    ({ max_depth_m: 1, summits, expected: null, extra_volume_m3: volume, price });
  assert.deepEqual(saving(depth(7, 0, 0), depth(5, 4.5, 100), "metric", "crowns"), { saves: "2 vents", digs: "+4.5 m³, 100\u00a0crowns" });
  assert.deepEqual(saving(depth(7), depth(6, -1), "metric"), { saves: "1 vent", digs: "−1.0 m³" });
  assert.deepEqual(saving(depth(7), depth(7), "us"), { saves: "nothing", digs: "+0.0 yd³" });
});

test("carried: a line being dragged keeps what was said of it at rest", () => {
  const rest = /** @type {any} */ ({ pressures: true, cautions: ["a"], assumptions: ["b"], grades: [1], n: 3 });
  const dragged = /** @type {any} */ ({ pressures: false, cautions: [], assumptions: [], grades: [], n: 4 });
  assert.deepEqual(carried(dragged, rest), { ...rest, pressures: false, n: 4 });
  assert.equal(carried(rest, dragged), rest);
  assert.equal(carried(dragged, null), dragged);
});

test("carried: a first look keeps fittings, findings and cost of the answer before", () => {
  const before = /** @type {any} */ ({ summary: { gross_head_m: 60, vent_count: 4 }, trench: { offers: [1], volume_m3: 9 }, vents: [1], warnings: [2], cost: { total: 3 }, cautions: ["!"], grades: [5], pressures: true, col: { pipe_m: [1] }, n: 1 });
  const look = /** @type {any} */ (decode({ fitted: false, summary: { gross_head_m: 61 }, trench: { volume_m3: 8 }, flow: null, pipes: [7], stations: { station_m: [0, 1] } }));
  const now = carried(look, before);
  assert.deepEqual(now.summary, { gross_head_m: 61, vent_count: 4 });
  assert.deepEqual(now.trench, { offers: [1], volume_m3: 8 });
  assert.deepEqual([now.vents, now.warnings, now.cost, now.cautions, now.grades, now.pipes], [[1], [2], { total: 3 }, ["!"], [5], [7]]);
  assert.deepEqual([now.n, now.pressures, "fitted" in now, now.col.pipe_m], [2, false, false, undefined]);
});

test("rows of red bars: each under its words where there is room, else the words of all in two lines", () => {
  const fits = (text) => text.length <= 40;
  assert.equal(rowsRoom(2, 185), 46);
  assert.equal(rowsRoom(4, 185), 68);
  assert.ok(rowsApart(2, 185) && !rowsApart(4, 185) && rowsApart(4, 400));
  const words = ["above the intake by 8.8 m", "130 % of its rating", "cover short by 0.12 m", "deeper than 1.20 m"];
  assert.deepEqual(inLines(words.slice(0, 1), fits), [words[0]]);
  assert.deepEqual(inLines(words.slice(1, 3), fits), ["130 % of its rating", "cover short by 0.12 m"]);
  assert.deepEqual(inLines(["a", "b", "c"], fits), ["a · b · c"]);
  assert.equal(inLines(words, fits).length, 2);
  for (const each of words) assert.ok(inLines(words, fits).join().includes(each));
});

test("signs that are dots: how many, and on what", () => {
  assert.equal(dotWords({ map: 0, profile: 0 }), "");
  assert.match(dotWords({ map: 1, profile: 0 }), /: 1 here$/);
  assert.match(dotWords({ map: 0, profile: 7 }), /: 7 on the profile$/);
  assert.match(dotWords({ map: 3, profile: 7 }), /: 3 here, 7 on the profile$/);
});
