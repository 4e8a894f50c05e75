import assert from "node:assert/strict";
import test from "node:test";

import { named, settingWords } from "../../web/js/setting-words.js";

const CASES = [
  ["Enter the permit's figure as intake.residual.", "Enter the permit's figure as “Stays in the bed”.", ["intake.residual"]],
  ["Cover was kept; raise trench.max_depth (with shoring or sloped sides) or accept less cover.", "Cover was kept; raise “Greatest depth” (with shoring or sloped sides) or accept less cover.", ["trench.max_depth"]],
  ["Give a [[pipe]] table.", "Give “Pipes”.", ["pipe"]],
  ["Set clean = true under [study] to take them out.", "Set “Track cleaned: yes” to take them out.", ["study.clean"]],
  ['Give it, as in design = "18 L/s" under [flow].', "Give it, as in “Design flow: 18 L/s”.", ["flow.design"]],
  ["State this raster's own error as rmse under [terrain] to have summits judged by it.", "State this raster's own error as “Error of heights” to have summits judged by it.", ["terrain.rmse"]],
  ["Lower the flow, allow more under [energy] most_loss, or wait.", "Lower the flow, allow more under “Loss allowed”, or wait.", ["energy.most_loss"]],
  ["take surge.run = false out of the settings.", "take “Waves followed: no” out of the settings.", ["surge.run"]],
  ["The limits from 3 m to 9 m under [[trench.limit]] reach beyond the end", "The limits from 3 m to 9 m under “Stretches with limits of their own” reach beyond the end", ["trench.limit"]],
  ["Give energy.record with the daily flows, or energy.curve.", "Give “Daily flows” with the daily flows, or “Flow-duration curve”.", ["energy.record", "energy.curve"]],
];

for (const [raw, said, rows] of CASES)
  test(`words of the page: ${raw}`, () => assert.deepEqual(named(raw), { text: said, rows }));

test("words of the page: what is no key stays", () => {
  for (const text of ["Leave study.json alone.", "Nothing = nothing.", "It is 0.5 m [-] at 3.2 km, e.g. here.", "The pipe under the road."])
    assert.equal(settingWords(text), text);
});

test("words of the page: labels are put into the reader's language", () =>
  assert.equal(named("See intake.residual.", (text) => text.toUpperCase()).text, "See “STAYS IN THE BED”."));
