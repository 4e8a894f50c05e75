import assert from "node:assert/strict";
import test from "node:test";

import {
  ahead, at, compassPoint, depthShown, goesDown, here, locate, plane, reading, standsHere, wanted, way,
} from "../../routing/papers/data/field/place.js";

/** Return a line that runs east for 1 km and then north, from plane metres at a place. */
function corner(lon0, lat0) {
  const east = 1000 / plane(lon0, lat0)(lon0 + 1, lat0).x;
  const north = 500 / plane(lon0, lat0)(lon0, lat0 + 1).y;
  return {
    station: [0, 1000, 1500],
    lon: [lon0, lon0 + east, lon0 + east],
    lat: [lat0, lat0, lat0 + north],
  };
}

test("plane: a degree at the equator and at 45 degrees, as the ellipsoid's tables have it", () => {
  // From memory of Snyder, Map Projections - A Working Manual, USGS PP 1395, 1987, table 4 (WGS 84
  // differs from its ellipsoid by less than the last digit): 111.3 km and 78.8 km of longitude,
  // 110.6 km and 111.1 km of latitude.
  assert.equal((plane(0, 0)(1, 0).x / 1000).toFixed(1), "111.3");
  assert.equal((plane(0, 0)(0, 1).y / 1000).toFixed(1), "110.6");
  assert.equal((plane(10, 45)(11, 45).x / 1000).toFixed(1), "78.8");
  assert.equal((plane(10, 45)(10, 46).y / 1000).toFixed(1), "111.1");
});

test("locate: station, offset and side looking down the line", () => {
  const line = corner(-14.2, 62.1);
  const perNorth = plane(-14.2, 62.1)(-14.2, 63.1).y;
  const beside = locate(line, (line.lon[0] + line.lon[1]) / 2, 62.1 + 7 / perNorth);
  assert.ok(Math.abs(beside.station - 500) < 0.01);
  assert.ok(Math.abs(beside.offset - 7) < 0.01);
  assert.equal(beside.side, "left"); // north of a line that runs east
  const other = locate(line, (line.lon[0] + line.lon[1]) / 2, 62.1 - 7 / perNorth);
  assert.equal(other.side, "right");
});

test("locate: beyond an end the end counts; on the line the offset is nothing", () => {
  const line = corner(5, -40);
  assert.equal(locate(line, 4.9, -40).station, 0);
  const end = locate(line, line.lon[2], line.lat[2] + 0.01);
  assert.ok(Math.abs(end.station - 1500) < 1e-6);
  assert.ok(locate(line, line.lon[1], line.lat[1]).offset < 1e-6);
});

test("locate: across the antimeridian, in either way of writing it", () => {
  const line = { station: [0, 200], lon: [179.999, 180.001], lat: [-16, -16] };
  const fix = locate(line, -180, -16);
  assert.ok(Math.abs(fix.station - 100) < 0.01);
  assert.ok(fix.offset < 0.01);
});

test("locate: repeated points do not upset it", () => {
  const line = { station: [0, 10, 10, 20], lon: [0, 1e-4, 1e-4, 2e-4], lat: [0, 0, 0, 0] };
  assert.ok(Number.isFinite(locate(line, 1e-4, 1e-4).station));
});

test("at: straight between the ends, null where one is missing", () => {
  assert.equal(at([1, 3], { leg: 0, share: 0.25 }), 1.5);
  assert.equal(at([1, null], { leg: 0, share: 0.25 }), null);
});

test("way: the four quarters, and their names", () => {
  assert.equal(Math.round(way(0, 0, 0, 1e-3).bearing), 0);
  assert.equal(Math.round(way(0, 0, 1e-3, 0).bearing), 90);
  assert.equal(Math.round(way(0, 0, -1e-3, 0).bearing), 270);
  assert.equal(compassPoint(359), "north");
  assert.equal(compassPoint(134), "south-east");
});

const PLACES = [
  { kind: "vent", station: 10 }, { kind: "drain", station: 40 }, { kind: "vent", station: 60 },
  { kind: "bend", station: 55 }, { kind: "vent", station: 90 },
];

test("ahead: the next of each kind, the nearest first, in either direction", () => {
  assert.deepEqual(ahead(PLACES, 50, true).map((p) => p.station), [55, 60]);
  assert.deepEqual(ahead(PLACES, 50, false).map((p) => p.station), [40, 10]);
  assert.deepEqual(ahead(PLACES, 100, true), []);
  assert.equal(ahead(PLACES, 90, true)[0].station, 90); // standing on it
});

test("goesDown: a few metres of wander do not turn the walker round", () => {
  assert.equal(goesDown([100, 104, 97], true), true);
  assert.equal(goesDown([100, 104, 97], false), false);
  assert.equal(goesDown([100, 80], true), false);
  assert.equal(goesDown([100], true), true);
});

test("reading: a number gets its unit, words are no level", () => {
  assert.equal(reading(" 412,31 ", "m"), "412.31 m");
  assert.equal(reading("1353.7", "ft"), "1353.7 ft");
  assert.equal(reading("412.3 m", "ft"), "412.3 m");
  for (const text of ["", "wet ground", "412.3.1", "4e9", "=1+1", "412 km"]) assert.equal(reading(text, "m"), null);
});

test("wanted: needed only, not done, the next 100 m either way, and words in any order", () => {
  const all = { kind: "all", needed: false, open: false, ahead: null, from: null, down: true, words: "" };
  const place = { kind: "vent", station: 150, advised: true, words: "vent v4 open vent, 65 mm 150 m" };
  const asked = (more) => wanted(place, false, { ...all, ...more });
  assert.equal(asked({}), true);
  assert.equal(asked({ kind: "drain" }), false);
  assert.equal(asked({ needed: true }), false);
  assert.equal(wanted(place, true, { ...all, open: true }), false);
  assert.equal(asked({ open: true }), true);
  assert.equal(asked({ ahead: 100, from: 60 }), true);
  assert.equal(asked({ ahead: 100, from: 49 }), false);
  assert.equal(asked({ ahead: 100, from: 160 }), false);
  assert.equal(asked({ ahead: 100, from: 160, down: false }), true);
  assert.equal(asked({ ahead: 100, from: null }), true); // no position yet
  assert.equal(asked({ words: "65 v4" }), true);
  assert.equal(asked({ words: "80 v4" }), false);
});

test("here: the nearest place within the accuracy, within 5 m at least, none farther off", () => {
  const north = (metres) => 62.1 + metres / plane(-14.2, 62.1)(-14.2, 63.1).y;
  const places = [{ name: "V4", kind: "vent", station: 0, lon: -14.2, lat: 62.1 }, { name: "D2", kind: "drain", station: 8, lon: -14.2, lat: north(8) }];
  assert.equal(here(places, -14.2, north(4.9), null)?.name, "D2");
  assert.equal(here(places, -14.2, north(3.9), 3)?.name, "V4");
  assert.equal(here(places, -14.2, north(-5.1), 4), null);
  assert.equal(here(places, -14.2, north(-5.1), 6)?.name, "V4");
});

test("standsHere: all within a metre of the nearest, vents and drains first", () => {
  const north = (/** @type {number} */ metres) => metres / plane(-14.2, 0)(-14.2, 1).y;
  const place = (kind, name, metres) => ({ kind, name, station: 100 + metres, lon: -14.2, lat: north(metres) });
  const places = [place("bend", "B16", 0), place("block", "T3", 0.2), place("vent", "V2", 0.6), place("drain", "D2", 3)];
  assert.deepEqual(standsHere(places, -14.2, north(0.1), 4).map((each) => each.name), ["V2", "B16", "T3"]);
  assert.deepEqual(standsHere(places, -14.2, north(40), 4), []);
});

test("depthShown: on the line or within what the position is good for, not beside it", () => {
  assert.equal(depthShown(9.9, 3), true);
  assert.equal(depthShown(255, 5), false);
  assert.equal(depthShown(25, 30), true);
  assert.equal(depthShown(10.1, null), false);
});
