import assert from "node:assert/strict";
import test from "node:test";

import { between, columnsOf, distance, locate, nearestOn, parsePlace, thinned } from "../../web/js/geometry.js";
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

test("a thinned line passes what it leaves out by no more than asked", () => {
  let seed = 7;
  const chance = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
  for (let round = 0; round < 60; round += 1) {
    const x = [0];
    const y = [chance() * 50];
    for (let i = 1; i < 400; i += 1) {
      x.push(x[i - 1] + chance() * 3 + 1e-3);
      y.push(y[i - 1] + (chance() - 0.5) * round * 0.2);
    }
    const off = 0.1 + chance();
    const kept = thinned(x, y, off);
    assert.deepEqual([kept[0], kept.at(-1)], [0, 399]);
    for (let k = 1; k < kept.length; k += 1) {
      const [a, b] = [kept[k - 1], kept[k]];
      assert.ok(b > a);
      for (let i = a; i <= b; i += 1) {
        const chord = y[a] + ((y[b] - y[a]) * (x[i] - x[a])) / (x[b] - x[a]);
        assert.ok(Math.abs(chord - y[i]) <= off + 1e-9);
      }
    }
  }
});

test("a thinned line keeps no more than it must", () => {
  const x = Array.from({ length: 200 }, (_, i) => i);
  assert.deepEqual(thinned(x, x.map((at) => 3 * at + 0.2 * (at % 2)), 0.35), [0, 199]);
  assert.deepEqual([thinned([], [], 1), thinned([5], [5], 1)], [[], [0]]);
  assert.ok(thinned(x, x.map((at) => Math.abs(at - 90)), 0.35).length <= 4);
});

test("columnsOf: each column of pixels holds all of the line in it, gaps none", () => {
  const across = [9.5, 10.2, 10.6, 12.5, 12.75, 13.2, 14.1];
  const up = [0, 7, 3, 22, 22, null, 5];
  const { low, high } = columnsOf(across, up, 10, 5);
  const close = (got, wanted) => got.forEach((value, k) => assert.ok(value === wanted[k] || Math.abs(value - wanted[k]) < 1e-9, `${k}: ${value}`));
  close([...low], [3, 7, 17, Infinity, Infinity]); // the line rises by 10 a pixel from 3 at 10.6
  close([...high], [7, 17, 22, -Infinity, -Infinity]);
  const noise = Array.from({ length: 300 }, (_, i) => i / 30);
  const whole = columnsOf(noise, noise.map((_, i) => (i % 2 ? 4 : -4)), 0, 10);
  assert.deepEqual([[...whole.low], [...whole.high]], [new Array(10).fill(-4), new Array(10).fill(4)]);
});
