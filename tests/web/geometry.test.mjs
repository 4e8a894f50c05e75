import assert from "node:assert/strict";
import test from "node:test";

import { between, distance, locate, nearestOn, parsePlace } from "../../web/js/geometry.js";
import { crossing, cutAt } from "../../web/js/snap.js";

test("distance: a degree of a great circle", () => {
  // mean radius 6 371 008.8 m: Moritz, Geodetic Reference System 1980, table of derived constants
  assert.ok(Math.abs(distance([0, 0], [0, 1]) - (Math.PI / 180) * 6371008.8) < 0.01);
  assert.equal(distance([5, 5], [5, 5]), 0);
});

test("nearestOn: beside a piece, beyond an end, on no line at all", () => {
  const track = [{ x: 0, y: 0 }, { x: 10, y: 0 }, { x: 10, y: 10 }];
  assert.deepEqual(nearestOn(track, { x: 4, y: 3 }), { piece: 0, share: 0.4, off: 3 });
  assert.equal(nearestOn(track, { x: 10, y: 14 }).off, 4);
  assert.equal(nearestOn([], { x: 0, y: 0 }).off, Infinity);
});

test("locate and between: linear, held at the ends, missing stays missing", () => {
  const station = [0, 10, 30];
  const read = (values, at) => between(values, locate(station, at));
  assert.equal(read([1, 2, 4], 20), 3);
  assert.equal(read([1, 2, 4], -5), 1);
  assert.equal(read([1, 2, 4], 99), 4);
  assert.equal(read([1, NaN, 4], 5), null);
  assert.equal(read(undefined, 5), null);
});

test("parsePlace: numbers as the files have them, or with letters in any order", () => {
  for (const text of ["-16.06, 47.3", "-16.06 47.3", "47.3 N 16.06 W", "16.06° W, 47.3° N"])
    assert.deepEqual(parsePlace(text), [-16.06, 47.3]);
  assert.throws(() => parsePlace("47"), /two numbers/);
  assert.throws(() => parsePlace("16, 98"), /longitude comes first/);
});

test("crossing and cutAt: the ground's level nearest to an end", () => {
  const col = { station_m: [0, 10, 20, 30], ground_m: [30, 20, 26, 10], lon: [0, 1, 2, 3], lat: [0, 0, 0, 0] };
  const low = crossing(col, 18, 30);
  assert.deepEqual(low, { off: 5, station: 25, point: [2.5, 0] });
  assert.equal(crossing(col, 25, 0).station, 5);
  assert.equal(crossing(col, 99, 0), null);
  assert.deepEqual(cutAt([[0, 0], [1, 0], [3, 0]], [0, 10, 30], low, "outlet"), [[0, 0], [1, 0], [2.5, 0]]);
  assert.deepEqual(cutAt([[0, 0], [1, 0], [3, 0]], [0, 10, 30], low, "intake"), [[2.5, 0], [3, 0]]);
});
