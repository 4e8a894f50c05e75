import assert from "node:assert/strict";
import test from "node:test";

import { entriesOf, standing } from "../../web/js/crew.js";

const blank = { of: null, station_m: null, done: null, note: null, photo: null, gauge_kpa: null, flow_m3_s: null, invert_m: null, time: "2026-11-26T10:00:00Z", device: "a" };
const said = (part) => ({ ...blank, ...part });

test("the last words count, each photograph and the two newest readings stay", () => {
  const [entry, ...rest] = entriesOf([
    said({ kind: "tick", of: "V3", station_m: 209.5, done: true }),
    said({ kind: "tick", of: "V3", station_m: 209.5, done: false }),
    said({ kind: "note", of: "V3", station_m: 209.5, note: "roots" }),
    said({ kind: "photo", of: "V3", photo: "photos/a.jpg" }),
    said({ kind: "photo", of: "V3", photo: "photos/b.jpg" }),
    said({ kind: "reading", of: "V3", gauge_kpa: 80, flow_m3_s: 0 }),
    said({ kind: "reading", of: "V3", gauge_kpa: 82, flow_m3_s: 0 }),
    said({ kind: "reading", of: "V3", gauge_kpa: 70, flow_m3_s: 0.02 }),
  ], []);
  assert.equal(rest.length, 0);
  assert.equal(entry.tick.done, false);
  assert.equal(entry.note.note, "roots");
  assert.deepEqual(entry.photos, ["photos/a.jpg", "photos/b.jpg"]);
  assert.deepEqual(entry.readings.map((each) => each.gauge_kpa), [82, 70]);
  assert.equal(standing(entry), "noted");
});

test("what was built gathers over records, the newest of each field", () => {
  const [{ built }] = entriesOf([
    said({ kind: "asbuilt", of: "D1", station_m: 101, invert_m: 303.1, make: "x" }),
    said({ kind: "asbuilt", of: "D1", station_m: 101.4, serial: "7", make: null }),
  ], []);
  assert.equal(built.invert_m, 303.1);
  assert.equal(built.make, "x");
  assert.equal(built.serial, "7");
});

test("a place that moved, or of which two devices differ, is to be looked at again, never done", () => {
  const moved = entriesOf([said({ kind: "tick", of: "V1", station_m: 210, done: true, was_m: 210, now_m: 238 })], [])[0];
  assert.equal(standing(moved), "check");
  assert.equal(moved.station_m, 238);
  const again = entriesOf([
    said({ kind: "tick", of: "V1", station_m: 210, done: true, was_m: 210, now_m: 238 }),
    said({ kind: "tick", of: "V1", station_m: 238, done: true }),
  ], [])[0];
  assert.equal(standing(again), "done");
  const differing = entriesOf([said({ kind: "tick", of: "V2", station_m: 5, done: true })], [{ of: "V2", kind: "tick" }])[0];
  assert.equal(standing(differing), "check");
});

test("acts come first, then by station; what is of no thing stands at its own station", () => {
  const names = entriesOf([
    said({ kind: "asbuilt", station_m: 400.2, invert_m: 290 }),
    said({ kind: "tick", of: "D2", station_m: 321, done: true }),
    said({ kind: "tick", of: "W1", done: true }),
    said({ kind: "asbuilt", station_m: 400.1, joint: "weld 12" }),
  ], []).map((entry) => entry.name);
  assert.deepEqual(names, ["W1", "D2", ""]);
});

test("a note that was taken back is gone", () => {
  const [entry] = entriesOf([said({ kind: "note", of: "V1", note: "x" }), said({ kind: "note", of: "V1", note: "" })], []);
  assert.equal(entry.note, null);
});
