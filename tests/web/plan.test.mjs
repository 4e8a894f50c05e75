import assert from "node:assert/strict";
import test from "node:test";

import * as plans from "../../web/js/plan.js";
import { picturesOf, withPicture, withoutPicture } from "../../web/js/land.js";
import { apartFrom, bodyOf, planOf, pointsOf } from "../../web/js/study-doc.js";

const PICTURE = { name: "map.tif", bounds: { west: 0, south: 0, east: 1, north: 1 }, picture: "data:image/webp;base64,AA==" };

/** @type {[number, number][]} */
const POINTS = [[-16.07, 47.298], [-16.065, 47.297], [-16.06, 47.2953]];

function drawn() {
  return plans.withPoints(plans.emptyPlan(["0123456789abcdef"]), POINTS);
}

/** Freeze a value all through, so that an edit in place is an error. */
function frozen(value) {
  if (value && typeof value === "object") Object.values(value).forEach(frozen);
  return Object.freeze(value);
}

test("edits of points leave the old plan alone", () => {
  const plan = frozen(drawn());
  const { points } = plans.activeLine(plan);
  assert.equal(plans.moved(points, 1, [1, 2])[1][0], 1);
  assert.equal(plans.inserted(points, 1, [1, 2]).length, 4);
  assert.equal(plans.removed(points, 0).length, 2);
  assert.deepEqual(plans.extended(points, [0, 0], "intake")[0], [0, 0]);
  assert.deepEqual(plans.extended(points, [0, 0], "outlet").at(-1), [0, 0]);
  assert.equal(points.length, 3);
});

test("reversed: twice is the same line, and a bridge keeps its place on the ground", () => {
  const line = frozen({ name: "A", points: POINTS, settings: { trench: {
    cover: "1 m",
    span: [{ from: "100 m", to: "130 m", support_spacing: "6 m" }],
    limit: [{ from: "40 m", to: "60 m", max_depth: "2 m" }, { from: "300 m", to: "350 m", cover: "1.2 m" }],
  } } });
  const text = (m) => `${m} m`;
  const metres = (words) => parseFloat(words);
  const once = plans.reversed(line, 800, text, metres);
  assert.deepEqual(once.settings.trench.span, [{ from: "670 m", to: "700 m", support_spacing: "6 m" }]);
  assert.deepEqual(once.settings.trench.limit, [
    { from: "450 m", to: "500 m", cover: "1.2 m" }, { from: "740 m", to: "760 m", max_depth: "2 m" },
  ]);
  assert.deepEqual(once.points[0], POINTS[2]);
  assert.deepEqual(plans.reversed(once, 800, text, metres), line);
});

test("reversed: rock, valves, tees, taps and relief valves keep their places on the ground, a tee its side", () => {
  const line = frozen({ name: "A", points: POINTS, settings: {
    trench: { ground: [{ from: "200 m", to: "260 m", kind: "rock" }] },
    valve: [{ at: "300 m" }, { at: "640 m" }], tap: [{ at: "50 m" }], relief: [{ bore: "50 mm" }],
    branch: [{ at: "420 m", diameter: "63 mm", side: "left" }, { at: "500 m", diameter: "63 mm" }],
    pipe: [{ from: "0 m", catalogue: "a" }, { from: "400 m", catalogue: "b" }],
  } });
  const text = (m) => `${m} m`;
  const metres = (words) => parseFloat(words);
  const once = plans.reversed(line, 800, text, metres);
  assert.deepEqual(once.settings, {
    trench: { ground: [{ from: "540 m", to: "600 m", kind: "rock" }] },
    valve: [{ at: "160 m" }, { at: "500 m" }], tap: [{ at: "750 m" }], relief: [{ bore: "50 mm" }],
    branch: [{ at: "300 m", diameter: "63 mm", side: "left" }, { at: "380 m", diameter: "63 mm", side: "right" }],
    pipe: line.settings.pipe,
  });
});

test("withDepth: stretches that meet become one, others stay", () => {
  const limit = [{ from: "40 m", to: "60 m", max_depth: "2 m", cover: "1 m" }, { from: "300 m", to: "350 m", cover: "1.2 m" }];
  const settings = frozen({ trench: { limit } });
  const metres = (words) => parseFloat(words);
  const next = plans.withDepth(settings, { from: 50, to: 90, depth: 1.46 }, metres);
  assert.deepEqual(next.trench.limit, [{ from: "40 m", to: "90 m", max_depth: "2 m", cover: "1 m" }, limit[1]]);
  const apart = plans.withDepth(settings, { from: 60, to: 90, depth: 1.46 }, metres);
  assert.deepEqual(apart.trench.limit.map((each) => each.from), ["40 m", "60 m", "300 m"]);
});

test("withSetting: an empty value takes key and table away", () => {
  const settings = frozen({ trench: { cover: "1 m" } });
  assert.deepEqual(plans.withSetting(settings, "trench", "cover", ""), {});
  assert.deepEqual(plans.withSetting(settings, "flow", "design", "18 L/s"), { trench: { cover: "1 m" }, flow: { design: "18 L/s" } });
});

test("lines: copy, drop, fresh names", () => {
  let plan = plans.copyLine(frozen(drawn()));
  assert.deepEqual(plan.lines.map((line) => line.name), ["Line A", "Line B"]);
  assert.equal(plan.active, 1);
  plan = plans.copyLine(plan);
  plan = plans.dropLine(plan, 0);
  assert.equal(plan.lines.length, 2);
  assert.equal(plan.active, 1);
  assert.equal(plans.freshName(plan), "Line A");
});

test("fromLayers: what the page cannot show stays a layer", () => {
  const ring = [[0, 0], [1, 0], [1, 1], [0, 0]];
  const polygon = (coordinates, name) => ({ type: "Feature", properties: { name }, geometry: { type: "Polygon", coordinates } });
  const layers = [{ kind: "no-go", features: { features: [polygon([ring]), polygon([ring, ring]), polygon([ring], "bog")] } }];
  const { nogo, others } = plans.fromLayers(layers);
  assert.deepEqual(nogo, [ring.slice(0, -1)]);
  assert.equal(others[0].features.features.length, 2);
});

test("complete: a terrain and two places", () => {
  assert.ok(plans.complete(drawn(), POINTS));
  assert.ok(!plans.complete(drawn(), [POINTS[0], POINTS[0]]));
  assert.ok(!plans.complete(plans.emptyPlan(), POINTS));
});

test("bodyOf and planOf: a study comes back as it was saved", () => {
  let plan = plans.withLine(drawn(), { settings: { trench: { cover: "1 m" } } });
  plan = plans.copyLine(plan);
  plan = { ...plan, active: 0, name: "Beck", units: "us", nogo: [POINTS], prices: { vent: 120, date: "2026-11-25" } };
  const road = { kind: "road", width: "4 m", features: { type: "FeatureCollection", features: [feature(POINTS)] } };
  plan = { ...plan, layers: [{ name: "Ways of the fell", table: road }], pictures: [PICTURE] };
  const body = bodyOf(plan, "first");
  assert.equal(body.label, "first");
  assert.equal(body.settings.study.units, "us");
  assert.deepEqual(body.settings.layer[0], road);
  assert.deepEqual(body.settings.layer[1].features.features[0].geometry.coordinates, [[...POINTS, POINTS[0]]]);
  const study = {
    name: body.name,
    units: "us",
    terrain_ids: [body.terrain],
    route: { name: "Line A", lon: POINTS.map((p) => p[0]), lat: POINTS.map((p) => p[1]) },
    settings: { ...body.settings, study: { ...body.settings.study, name: body.name } },
    alternatives: body.alternatives,
    plan: body.plan,
  };
  assert.deepEqual(planOf(study), plan);
  assert.deepEqual(planOf(structuredClone({ ...study, plan: undefined, alternatives: undefined })).lines.length, 1);
});

test("pictures: as many as a study can carry, taken away one by one", () => {
  const plan = withPicture(withPicture(drawn(), PICTURE), { ...PICTURE, name: "second" });
  assert.deepEqual(picturesOf(withoutPicture(plan, 0)).map(({ name }) => name), ["second"]);
  assert.deepEqual(plans.previewBody(plan, plans.activeLine(plan)).settings, { study: { units: "metric" } });
  assert.throws(() => withPicture(plan, { ...PICTURE, picture: "x".repeat(5_000_001) }), /5 MB at most/);
});

test("pointsOf: any GeoJSON with a line, else none", () => {
  const geometry = { type: "LineString", coordinates: POINTS.map((p) => [...p, 5]) };
  const feature = { type: "Feature", geometry };
  assert.deepEqual(pointsOf(feature), POINTS);
  assert.deepEqual(pointsOf({ type: "FeatureCollection", features: [{ type: "Feature", geometry: null }, feature] }), POINTS);
  assert.deepEqual(pointsOf({ type: "Point", coordinates: [1, 2] }), []);
});

/** @param {any} coordinates */
const feature = (coordinates) => ({ type: "Feature", properties: { name: "road" }, geometry: { type: "LineString", coordinates } });

test("bodyOf: every line of a plan lies over the same land, by the same prices and units", () => {
  const layers = [{ name: "ways", table: { kind: "road", features: { type: "FeatureCollection", features: [{ type: "Feature", properties: {}, geometry: { type: "LineString", coordinates: [[0, 1], [1, 0]] } }] } } }];
  const line = (name, settings) => ({ name, points: [[0, 0], [1, 1]], settings });
  const plan = { ...plans.emptyPlan(["t"]), units: "us", layers, nogo: [[[0, 0], [1, 0], [1, 1]]], prices: { vent: 3 }, lines: [line("A", {}), line("B", { trench: { cover: "1 m" } })] };
  const body = bodyOf(plan);
  const [other] = body.alternatives;
  assert.equal(body.settings.layer?.length, 2);
  assert.deepEqual([other.same_land, "layer" in other.settings], [true, false], "land is large, and is sent once");
  assert.equal("same_land" in bodyOf({ ...plan, layers: [], nogo: [] }).alternatives[0], false);
  assert.deepEqual([other.settings.prices, other.settings.study.units, other.settings.trench], [{ vent: 3 }, "us", { cover: "1 m" }]);
  const back = planOf(structuredClone({ ...body, route: { lon: [0, 1], lat: [0, 1], name: "A" } }));
  assert.deepEqual(back.lines.map(({ settings }) => settings), [{}, { trench: { cover: "1 m" } }]);
  assert.equal(back.layers.length, 1);
});

test("apartFrom: what two plans of one study differ in is said, even where only the name does", () => {
  const line = (name, settings) => ({ name, points: [[0, 0], [1, 1]], settings });
  const mine = { ...plans.emptyPlan(["t"]), name: "North", lines: [line("A", { flow: { design: "1 L/s", temperature: "4 degC" } })] };
  const theirs = structuredClone(mine);
  theirs.lines[0].settings.flow = { temperature: "4 degC", design: "1 L/s" };
  assert.deepEqual(apartFrom(mine, theirs), ["Nothing that is computed differs."]);
  assert.deepEqual(apartFrom(mine, { ...theirs, name: "South" }), ["The name differs: yours is “North”, theirs “South”."]);
  assert.deepEqual(apartFrom(mine, { ...theirs, lines: [line("B", {})], prices: { vent: 3 } }),
    ["“A” is only among yours.", "“B” is only among theirs.", "The prices differ."]);
  assert.deepEqual(apartFrom(mine, { ...theirs, lines: [{ ...line("A", {}), points: [[0, 0], [2, 1]] }], nogo: [[[0, 0], [1, 0], [1, 1]]] }),
    ["“A” runs elsewhere.", "“A” has other settings.", "The land laid over the map differs."]);
});
