import assert from "node:assert/strict";
import test from "node:test";

import { State } from "../../web/js/state.js";

const answer = (number) => ({ fitted: false, number, summary: {}, trench: {} });

/** A state that counts what it tells, and a clock that stands until it is moved [ms]. */
function told(t) {
  const clock = { now: 1000 };
  t.mock.method(performance, "now", () => clock.now);
  const state = new State((act) => act());
  const count = { look: 0, model: 0 };
  for (const topic of ["look", "model"]) state.on(topic, () => (count[topic] += 1));
  return { clock, state, count };
}

test("a line being dragged: each answer for the long section, five a second for all else", (t) => {
  const { clock, state, count } = told(t);
  state.setDraft([[0, 0], [1, 1]]);
  for (let k = 0; k < 60; k += 1) {
    clock.now += 1000 / 60;
    state.setModel(answer(k));
  }
  assert.equal(count.look, 60);
  assert.ok(count.model >= 4 && count.model <= 6, String(count.model));
});

test("what is told late is the newest; a line at rest is told at once", (t) => {
  const { clock, state, count } = told(t);
  state.setDraft([[0, 0], [1, 1]]);
  for (const number of [1, 2]) state.setModel(answer(number));
  assert.deepEqual(count, { look: 2, model: 1 });
  clock.now += 220;
  let shown = 0;
  state.on("model", () => (shown = state.model.number));
  state.setModel(answer(3));
  assert.equal(shown, 3);
  state.draft = null;
  state.setModel(answer(4));
  assert.equal(shown, 4);
});

test("an answer with its fittings is told at once, however soon it comes", (t) => {
  const { state, count } = told(t);
  state.setDraft([[0, 0], [1, 1]]);
  state.setModel(answer(1));
  state.setModel({ ...answer(2), fitted: undefined, pressures: false });
  assert.deepEqual(count, { look: 2, model: 2 });
});

test("trouble is told at once, and that it is over", (t) => {
  const { state, count } = told(t);
  state.setDraft([[0, 0], [1, 1]]);
  state.setModel(answer(1));
  state.setModel(null, "The line leaves the raster.");
  assert.equal(count.model, 2);
  state.setModel(answer(2));
  assert.equal(count.model, 3);
  state.setModel(answer(3));
  assert.equal(count.model, 3);
});

test("all but the long section waits for leisure while a line is dragged, and not at rest", () => {
  const waiting = [];
  const state = new State((act) => waiting.push(act));
  const told = [];
  for (const topic of ["look", "model"]) state.on(topic, () => told.push(topic));
  state.setDraft([[0, 0], [1, 1]]);
  state.setModel(answer(1));
  assert.deepEqual(told, ["look"]);
  waiting.forEach((act) => act());
  assert.deepEqual(told, ["look", "model"]);
  state.draft = null;
  state.setModel(answer(2));
  assert.deepEqual(told, ["look", "model", "look", "model"]);
  assert.equal(waiting.length, 1);
});

test("fittings that first looks overtook come to the newest line, and to no other", (t) => {
  const { state, count } = told(t);
  const whole = (number) => ({ number, pressures: false, summary: { vent_count: number, plan_length_m: number }, trench: { offers: [number] }, vents: [number], findings: [] });
  state.setDraft([[0, 0], [1, 1]]);
  state.setFittings(whole(0));
  assert.equal(state.model, null); // there is no line to bring them to
  state.setModel(whole(1));
  state.setFittings(whole(0));
  assert.deepEqual(state.model.vents, [1]); // an answer with its own fittings keeps them
  state.setModel({ ...answer(3), summary: { plan_length_m: 3 } });
  assert.deepEqual([state.model.number, state.model.vents], [3, [1]]);
  const before = { ...count };
  state.setFittings(whole(2));
  assert.deepEqual([state.model.number, state.model.vents, state.model.trench.offers], [3, [2], [2]]);
  assert.deepEqual(state.model.summary, { vent_count: 2, plan_length_m: 3 });
  assert.deepEqual(count, { look: before.look + 1, model: before.model + 1 });
  state.draft = null;
  state.setFittings(whole(4));
  assert.deepEqual(state.model.vents, [2]); // a line at rest waits for its own
});
