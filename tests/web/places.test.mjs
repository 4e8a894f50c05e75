import assert from "node:assert/strict";
import test from "node:test";

import { boxAt, signPlaces } from "../../web/js/places.js";

const WITHIN = { left: 0, top: 0, right: 900, bottom: 400 };
/** @param {number} x @param {number} y */
const sign = (x, y, up = true) => ({ x, y, wide: 28, tall: 28, up });
/** @param {any} a @param {any} b */
const meet = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;

test("signPlaces: with room a vent stands upright and a drain hangs", () => {
  const [vent, drain] = signPlaces([sign(200, 200), sign(400, 200, false)], [], WITHIN);
  assert.deepEqual(vent, { x: 0, y: -30 });
  assert.equal(drain?.x, 0);
  assert.equal(drain?.y, 30);
});

test("signPlaces: forty signs on a line stand clear of its vertices and of each other", () => {
  const items = Array.from({ length: 40 }, (_, i) => sign(20 + i * 21, 200 + 40 * Math.sin(i / 5), i % 2 === 0));
  const handles = items.filter((_, i) => i % 3 === 0).map((item) => boxAt(item, 18, 18));
  const places = signPlaces(items, handles, WITHIN);
  const boxes = places.flatMap((off, i) => (off ? [boxAt({ x: items[i].x + off.x, y: items[i].y + off.y }, 28, 28)] : []));
  assert.ok(boxes.length >= 38, `${boxes.length} of 40 placed`);
  for (const [i, box] of boxes.entries()) {
    assert.ok(!handles.some((handle) => meet(box, handle)));
    assert.ok(!boxes.some((other, k) => k !== i && meet(box, other)));
    assert.ok(box.left >= 0 && box.right <= 900 && box.top >= 0 && box.bottom <= 400);
  }
});

test("signPlaces: where there is no room it says so; off the map it does not mind the edge", () => {
  assert.deepEqual(signPlaces([sign(450, 200)], [WITHIN], WITHIN), [null]);
  assert.deepEqual(signPlaces([sign(-50, 200)], [], WITHIN), [{ x: 0, y: -30 }]);
});

test("signs: no leader crosses another, and what has no room near is a dot", () => {
  const items = Array.from({ length: 40 }, (_, i) => ({ x: 300 + 2 * i, y: 200 + (i % 3), wide: 28, tall: 28, up: i % 2 === 0 }));
  const found = signPlaces(items, [], { left: 0, top: 0, right: 800, bottom: 400 });
  const leaders = found.flatMap((off, i) => (off ? [[items[i].x, items[i].y, items[i].x + off.x, items[i].y + off.y]] : []));
  assert.ok(leaders.length > 3 && leaders.length < items.length);
  const boxes = found.flatMap((off, i) => (off ? [boxAt({ x: items[i].x + off.x, y: items[i].y + off.y }, 28, 28)] : []));
  for (const [i, [x0, y0, x1, y1]] of leaders.entries())
    for (let share = 0; share <= 1; share += 0.02)
      assert.ok(!boxes.some((box, k) => k !== i && meet(box, boxAt({ x: x0 + share * (x1 - x0), y: y0 + share * (y1 - y0) }, -4, -4))));
  const side = ([x0, y0, x1, y1], x, y) => (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0);
  for (const a of leaders)
    for (const b of leaders)
      assert.ok(a === b || side(a, b[0], b[1]) * side(a, b[2], b[3]) >= -1e-9 || side(b, a[0], a[1]) * side(b, a[2], a[3]) >= -1e-9);
  for (const off of found) assert.ok(!off || Math.hypot(off.x, off.y) < 90);
});
