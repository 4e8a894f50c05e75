import assert from "node:assert/strict";
import test from "node:test";

import { FORMS, fromShown, inUnits, parse, parsedOrNull, priced, quantity, raised, show, together, toShown } from "../../web/js/units.js";

test("show: a value, and a dash for what is missing", () => {
  assert.equal(show(412.6, "elevation", "metric"), "412.60 m");
  assert.equal(show(0.018, "flow", "us"), "285 gpm");
  assert.equal(show(null, "head", "metric"), "–");
  assert.equal(show(NaN, "head", "metric"), "–");
  assert.equal(show(-0.001, "head", "metric"), "0.0 m");
  assert.equal(show(-18.4, "head", "metric"), "−18.4 m"); // a minus sign, as on the papers
});

test("toShown and fromShown: there and back for every kind in both systems", () => {
  for (const units of /** @type {const} */ (["metric", "us"]))
    for (const kind of /** @type {any[]} */ (Object.keys(FORMS[units])))
      for (const value of [0, 0.018, 3.7, 412.6]) {
        const back = fromShown(toShown(value, kind, units), kind, units);
        assert.ok(Math.abs(back - value) < 1e-9 * Math.max(1, Math.abs(value)), `${units} ${kind} ${value}`);
      }
});

test("parse: units by their definitions", () => {
  assert.ok(Math.abs(parse("3 ft", "length") - 0.9144) < 1e-15); // international foot of 1959
  assert.equal(parse("0.9", "length", "m"), 0.9);
  assert.ok(Math.abs(parse("1 gpm", "flow") - 0.003785411784 / 60) < 1e-18); // 231 cubic inches
  assert.equal(parse("50 degF", "temperature"), 10);
  assert.equal(parse("64 %", "ratio"), 0.64);
});

test("parse: a decimal comma; one that may part thousands is asked about", () => {
  assert.equal(parse("0,9 m", "length"), 0.9);
  assert.equal(parse("1,5 min", "time"), 90);
  for (const text of ["1,234 m", "1.234,5 m"]) assert.throws(() => parse(text, "length"), /two ways/, text);
});

test("parse: what has no meaning says so and gives an example", () => {
  for (const text of ["", "deep", "3 furlong", "1 2 m", "NaN m", "1e999 parsec"])
    assert.throws(() => parse(text, "length"), /such as|for example/, text);
  assert.throws(() => parse("3", "length"), /a unit is missing/);
  assert.equal(parsedOrNull("3 furlong", "length"), null);
});

test("quantity: text that the settings take, to the digits shown", () => {
  assert.equal(quantity(0.9, "depth", "metric"), "0.9 m");
  assert.equal(quantity(0.022, "flow", "metric", 1), "22 L/s");
  assert.equal(quantity(7, "temperature", "metric"), "7 degC");
  const text = quantity(1.3, "depth", "us");
  assert.ok(Math.abs(parse(text, "length") - 1.3) < 0.05 * 0.3048 + 1e-12);
});

test("parse: a comma may be the decimal mark, and a number of two readings asks", () => {
  assert.equal(parse("0,9 m", "length"), 0.9);
  assert.equal(parse(",5", "length", "m"), 0.5);
  assert.equal(parse("1234,5 m", "length"), 1234.5);
  for (const text of ["1,234 m", "12,345", "1,234,567 m", "1,234.5 m", "1.234,5 m"])
    assert.throws(() => parse(text, "length", "m"), /two ways/, text);
});

test("raised: powers and degrees as on the papers, names and keys as they are", () => {
  assert.equal(raised("1.5 m first, 328 m3 on it, 0.8 m2, 0.1 km2 to 9 m3/s; 9.8 m/s2 at 10 degC"), "1.5 m first, 328 m³ on it, 0.8 m², 0.1 km² to 9 m³/s; 9.8 m/s² at 10 °C");
  for (const text of ["bench_m3", "PE100 SDR17", "plot 3, m3", "L2 and V3"]) assert.equal(raised(text), text);
});

test("together: no number is parted from its unit at the end of a row", () => {
  assert.equal(together("a bench of 1.5 m first, 64 % of 12 kPa, 3 more places"), "a bench of 1.5\u00a0m first, 64\u00a0% of 12\u00a0kPa, 3 more places");
});

test("inUnits: what an empty field means is told in the units of the page", () => {
  assert.equal(inUnits("1.2 m", "metric"), "1.2 m");
  assert.equal(inUnits("0.46, 0.61 or 0.76 m by pipe size", "us"), "1.5, 2 or 2.5 ft by pipe size"); // 18, 24 and 30 in
  assert.equal(inUnits("10 °C", "us"), "50 °F");
  assert.equal(inUnits("0.1 km², our own estimate", "us"), "0.039 mi², our own estimate"); // 2.59 km2 to the square mile
  assert.equal(inUnits("500 psf (24 kPa), with a warning", "us"), "500 psf (3.5 psi), with a warning");
  assert.equal(inUnits("0 m and 30 m; Line 3 m2", "us"), "0 ft and 98 ft; Line 3 m2");
});

test("a currency is part of its amount; what is counted without prices is none", () => {
  assert.equal(priced("4,200", "new soles"), "4,200\u00a0new\u00a0soles");
  assert.equal(priced("4,200", null), "4,200");
  assert.equal(priced("4,200", "m3 of trench"), "4,200 m³ of trench");
});
