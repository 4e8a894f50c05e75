import assert from "node:assert/strict";
import test from "node:test";

import { doubtWords, levelsGpx } from "../../web/js/levels.js";

const LEVEL = { station_m: 12.34, lon: -16.0612345678, lat: 47.3, reason: "V1 & D1 <both>", settles: ["V1"], gain: 0.2 };

test("levelsGpx: a waypoint each, in order, text escaped", () => {
  const text = levelsGpx([LEVEL, { ...LEVEL, station_m: 99 }], 'A "line"');
  assert.match(text, /^<\?xml version="1.0" encoding="UTF-8"\?>\n<gpx version="1.1" creator="leatline" xmlns="http:\/\/www.topografix.com\/GPX\/1\/1">/);
  assert.deepEqual([...text.matchAll(/<name>(L\d)<\/name>/g)].map((found) => found[1]), ["L1", "L2"]);
  assert.ok(text.includes('<wpt lat="47.300000000" lon="-16.061234568">'));
  assert.ok(text.includes("Station 12.3 m. V1 &amp; D1 &lt;both&gt;"));
  assert.ok(text.includes("<name>A &quot;line&quot;</name>"));
});

test("doubtWords: what is known of the ground, and what is not", () => {
  const doubt = { local_sigma_m: 0.5, source: "class", rough: true, depths: [] };
  const summary = { expected_vents: { mean: 13.73, sd: 2.06 } };
  const words = doubtWords(/** @type {any} */ ({ doubt, summary }), "metric");
  assert.equal(words, "Error usual for such data, not stated for this raster, 0.50 m from place to place." +
    " Expect 13.7 ± 2.1 summits once the ground is known. First values: the line was just moved.");
  const none = doubtWords(/** @type {any} */ ({ doubt: { ...doubt, local_sigma_m: null, source: "none", rough: false }, summary: {} }), "metric");
  assert.match(none, /^No error of heights is known/);
});
