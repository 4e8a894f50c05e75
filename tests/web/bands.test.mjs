import assert from "node:assert/strict";
import test from "node:test";

import { bandsOf, gradeWords } from "../../web/js/bands.js";

test("gradeWords: falls and rises in hundredths, whole ones where steep", () => {
  assert.equal(gradeWords(-0.0523), "−5.2 %");
  assert.equal(gradeWords(0.004), "+0.4 %");
  assert.equal(gradeWords(-0.234), "−23 %");
  assert.equal(gradeWords(0), "level");
});

const MODEL = /** @type {any} */ ({
  grades: [{ from_m: 0, to_m: 40, grade: -0.05 }, { from_m: 40, to_m: 90, grade: 0.01 }],
  pipes: [{ from_m: 0, to_m: 90, label: "PE100 SDR17 DN/OD 200, ISO 4427-2" }],
  trench: { spans: [{ from_m: 50, to_m: 60, clearance_m: 2 }] },
  crossings: [{ id: "X1", kind: "road", name: "", station_m: 10, to_m: 14 }, { id: "X2", kind: "stream", name: "Gill", station_m: 20, to_m: 20 }],
});

test("bandsOf: a row each for grades, pipes, and what is crossed or bridged", () => {
  const rows = bandsOf(MODEL);
  assert.deepEqual(rows.map(({ name }) => name), ["Grade", "Pipe", "Land", "Bridge"]);
  assert.deepEqual(rows[0].stretches.map(({ look }) => look), ["even", "rise"]);
  assert.equal(rows[1].stretches[0].words, "PE100 SDR17 DN/OD 200");
  assert.equal(rows[1].stretches[0].short, "SDR17");
  assert.deepEqual(rows[2].stretches.map(({ words }) => words), ["X1 road", "X2 Gill"]);
  assert.deepEqual(rows[2].stretches.map(({ look }) => look), ["land", "across"]);
  assert.deepEqual(rows[3].stretches.map(({ from, to, look }) => [from, to, look]), [[50, 60, "span"]]);
});

test("bandsOf: no row without stretches", () => {
  assert.deepEqual(bandsOf({ ...MODEL, grades: [], pipes: [], crossings: [], trench: { spans: [] } }), []);
});
