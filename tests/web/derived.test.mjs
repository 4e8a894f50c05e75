import assert from "node:assert/strict";
import test from "node:test";

import { complete } from "../../web/js/derived.js";

const answer = {
  stations: { n: 3, origin: { lon: 10, lat: 50 } },
  pipes: [
    { from_m: 0, inside_diameter_m: 0.2, outside_diameter_m: 0.24, derated_rating_kpa: 800 },
    { from_m: 50, inside_diameter_m: 0.1, outside_diameter_m: 0.12, derated_rating_kpa: null },
  ],
  trench: { outside_diameter_m: 0.3, spans: [{ from_m: 40, to_m: 50 }] },
  water: { density_kg_m3: 1000, gravity_m_s2: 10 },
  summary: { intake_level_m: 110 },
};
const columns = () => ({
  station_m: Float64Array.of(0, 45, 50),
  ground_m: Float64Array.of(100, 99, 98),
  pipe_m: Float64Array.of(99, 98, 97.5),
  flowing_head_m: Float64Array.of(10, 9, 8),
  lon_from_origin: Float64Array.of(0, 0.25, 0.5),
  lat_from_origin: Float64Array.of(0, -0.5, -1),
});

test("complete: a joint belongs to the pipe below it", () => {
  const col = columns();
  complete(col, answer);
  assert.deepEqual([...col.depth_m], [1.1, 1.1, 0.55]);
  assert.deepEqual([...col.rating_kpa], [800, 800, NaN]);
  assert.deepEqual([...col.span], [0, 1, 1]);
});

test("complete: heads become pressures by the water's own weight", () => {
  const col = columns();
  complete(col, answer);
  assert.deepEqual([...col.static_head_m], [11, 12, 12.5]);
  assert.deepEqual([...col.static_pressure_kpa], [110, 120, 125]);
  assert.deepEqual([...col.flowing_pressure_kpa], [100, 90, 80]);
});

test("complete: without pipes the assumed diameter stands for the bore too", () => {
  const col = columns();
  complete(col, { ...answer, pipes: [] });
  assert.equal(col.depth_m[0].toFixed(6), "1.150000");
  assert.ok(Number.isNaN(col.rating_kpa[0]));
});

test("complete: columns that were sent stay as they were", () => {
  const col = { ...columns(), depth_m: Float64Array.of(1, 2, 3) };
  complete(col, answer);
  assert.deepEqual([...col.depth_m], [1, 2, 3]);
});

test("complete: places count from the first station", () => {
  const col = columns();
  complete(col, answer);
  assert.deepEqual([...col.lon], [10, 10.25, 10.5]);
  assert.deepEqual([...col.lat], [50, 49.5, 49]);
});
