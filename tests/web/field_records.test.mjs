import assert from "node:assert/strict";
import test from "node:test";

import {
  batches, blank, conflicts, fromTicks, lastWords, merged, readingsCsv, standing,
} from "../../routing/papers/data/field/records.js";

const said = (kind, of, device, time, more = {}) => blank({ kind, of, device, time, ...more });
const tick = (of, device, time, more = {}) => said("tick", of, device, time, { done: true, ...more });

test("merged: nothing of any device is lost, and each record stands once, by time", () => {
  const found = merged(
    [tick("V1", "a", "2026-01-02"), tick("V1", "a", "2026-01-03", { done: false })],
    [tick("V1", "b", "2026-01-01"), tick("V1", "a", "2026-01-02")],
  );
  assert.deepEqual(found.map((each) => each.time), ["2026-01-01", "2026-01-02", "2026-01-03"]);
  assert.equal(lastWords(found).get("V1").tick.done, false);
});

test("lastWords: all photographs stay; what was built is put together field by field", () => {
  const words = lastWords([
    said("photo", "V1", "a", "1", { photo: "p1" }), said("photo", "V1", "b", "2", { photo: "p2" }),
    said("asbuilt", "V1", "a", "3", { invert_m: 401.2, serial: "77" }),
    said("asbuilt", "V1", "a", "4", { invert_m: 401.3 }),
  ]).get("V1");
  assert.equal(words.photos.length, 2);
  assert.equal(words.built.invert_m, 401.3);
  assert.equal(words.built.serial, "77");
});

test("standing: a tick is done only where the place stands as it was ticked", () => {
  const ticked = tick("V4", "a", "2026-01-02", { station_m: 210 });
  assert.deepEqual(standing(ticked, { station: 210.4 }), { done: true, was: null });
  assert.deepEqual(standing(ticked, { station: 238 }), { done: false, was: 210 });
  assert.deepEqual(standing({ ...ticked, done: false }, { station: 238 }), { done: false, was: 210 });
  assert.deepEqual(standing({ ...ticked, station_m: null }, { station: 238 }), { done: true, was: null });
  assert.deepEqual(standing(undefined, { station: 238 }), { done: false, was: null });
});

test("conflicts: two devices that differ, done or level, until they agree", () => {
  const differ = [tick("V1", "a", "1"), tick("V1", "b", "2", { done: false }), tick("V2", "a", "1"), tick("V2", "b", "2")];
  assert.deepEqual([...conflicts(differ).keys()], ["V1"]);
  assert.equal(conflicts([...differ, tick("V1", "a", "3", { done: false })]).size, 0);
  const levels = (...all) => all.map((invert_m, n) => said("asbuilt", "D1", `phone ${n}`, `${n}`, { invert_m }));
  assert.equal(conflicts(levels(400, 400.02)).size, 0);
  assert.equal(conflicts(levels(400, 400.06)).get("D1").length, 2);
});

test("readings: a table of surveyed points by station, notes left out", () => {
  const places = [{ id: "L5720", name: "L1" }, { id: "L1011", name: "L2" }];
  const level = (of, note, station_m) => said("note", of, "tablet", "2026-06-01T09:30:00.000Z", { note, station_m });
  const notes = [level("L5720", "288.36 m", 571.968), level("L1011", "304.5 m", 101.1), level("L7000", "no way there", 700), level("V1", "412.3 m", 5)];
  assert.equal(readingsCsv(places, notes), "name,station,elevation\nL2,101.100 m,304.5 m\nL1,571.968 m,288.36 m\n");
  assert.equal(readingsCsv(places, []), null);
  // An earlier revision's reading keeps its own place.
  assert.match(readingsCsv(places, [level("L990", "300 m", 99)]), /L990,99\.000 m,300 m/);
});

test("fromTicks: tick, note and photograph of an older sheet come apart", () => {
  const found = fromTicks([{ fitting_id: "V1", done: true, note: "tight", photo: "data:", time: "1", device: "a", station_m: 12 }]);
  assert.deepEqual(found.map((each) => each.kind), ["tick", "note", "photo"]);
  assert.ok(found.every((each) => each.of === "V1" && each.station_m === 12));
});

test("batches: in pieces below the limit, a large one alone", () => {
  const photo = (n) => said("photo", "V1", "a", `${n}`, { photo: "x".repeat(n) });
  assert.deepEqual(batches([photo(10), photo(10), photo(5000), photo(10)], 1000).map((piece) => piece.length), [2, 1, 1]);
});
