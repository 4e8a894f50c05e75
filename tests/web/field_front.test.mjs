import assert from "node:assert/strict";
import test from "node:test";

import { frontAt } from "../../routing/papers/data/field/front.js";

/** Water 10 m up an even limb weighs 98.0665 kPa; half the way is 4.9 m more. */
const FRONT = {
  gauge_kpa: [0, 98.0665, 196.133], station_m: [300, 200, 0], level_m: [10, 20, 30], volume_m3: [0, 3, 9],
  stages: [["F1", 1], ["F2", 6], ["F3", 9]],
};

test("a reading gives station, level, water and stage, straight between rows", () => {
  assert.deepEqual(frontAt(FRONT, 98.0665), { station_m: 200, level_m: 20, volume_m3: 3, stage: "F2" });
  const half = frontAt(FRONT, 49.03325);
  assert.equal(half.station_m, 250);
  assert.equal(half.level_m, 15);
  assert.equal(half.volume_m3, 1.5);
  assert.equal(frontAt(FRONT, 196.133).stage, "F3");
});

test("what the intake cannot give is no front", () => {
  for (const kpa of [-1, 250, NaN]) assert.equal(frontAt(FRONT, kpa), null);
});
