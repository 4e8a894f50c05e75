import assert from "node:assert/strict";
import test from "node:test";

import { Keep } from "../../web/js/keep.js";
import { emptyPlan } from "../../web/js/plan.js";

/** A browser's store with room for so many letters. @param {number} room @returns {any} */
function store(room) {
  const kept = new Map();
  return {
    setItem(key, text) {
      if (text.length > room) throw new Error("full");
      kept.set(key, text);
    },
    getItem: (key) => kept.get(key) ?? null,
    removeItem: (key) => kept.delete(key),
  };
}
const picture = { name: "a", bounds: { west: 0, south: 0, east: 1, north: 1 }, picture: "x".repeat(2000) };
const kept = () => ({ plan: { ...emptyPlan(["t"]), name: "Beck", pictures: [picture] }, etag: "e", revision: 2, when: "now" });

test("keep: work with its pictures where there is room", () => {
  const keep = new Keep(store(1e6));
  assert.ok(keep.write("s", kept()));
  assert.deepEqual(keep.read("s"), kept());
  assert.equal(keep.read(null), null);
});

test("keep: pictures go before the work does", () => {
  const keep = new Keep(store(1000));
  assert.ok(keep.write("s", kept()));
  assert.equal(keep.read("s")?.plan.name, "Beck");
  assert.equal(keep.read("s")?.plan.pictures, undefined);
});

test("keep: no room at all is told", () => {
  assert.ok(!new Keep(store(10)).write("s", kept()));
  assert.ok(!new Keep(null).write("s", kept()));
});
