import assert from "node:assert/strict";
import test from "node:test";

import { catchmentWords, landArea } from "../../web/js/catchment.js";

test("landArea: square kilometres and square miles, about three figures", () => {
  assert.equal(landArea(2_299_464.9, "metric"), "2.30 km²");
  assert.equal(landArea(149_600_000, "metric"), "150 km²");
  assert.equal(landArea(41_000_000, "metric"), "41.0 km²");
  // 1 square mile = 2.589988 km2, from the international foot.
  assert.equal(landArea(2_589_988.11, "us"), "1.00 mi²");
});

test("catchmentWords: area with its doubt, and where it was taken", () => {
  const found = { area_m2: 2.3e6, at_least: false, on_stream: true, snapped_m: 0, rival_m2: null };
  assert.equal(catchmentWords(found, "metric"), "2.30 km² drain to the intake.");
  const away = catchmentWords({ ...found, at_least: true, snapped_m: 3.8, rival_m2: 9e6 }, "metric");
  assert.match(away, /^At least 2\.30 km² drain to the intake, taken at the stream 3\.8 m away\./);
  assert.match(away, /edge of the raster/);
  assert.match(away, /greater stream, of 9\.00 km²/);
  assert.match(catchmentWords({ ...found, on_stream: false }, "metric"), /shows no stream there\.$/);
});
