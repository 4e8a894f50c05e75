import assert from "node:assert/strict";
import test from "node:test";

import { History } from "../../web/js/history.js";

test("undo and redo walk over every step and stop at the ends", () => {
  const history = new History(0);
  for (let i = 1; i <= 5; i += 1) history.add(`step ${i}`, i);
  for (let i = 4; i >= 0; i -= 1) assert.equal(history.undo(), i);
  assert.equal(history.undo(), 0);
  assert.equal(history.undoLabel, "");
  for (let i = 1; i <= 5; i += 1) assert.equal(history.redo(), i);
  assert.equal(history.redo(), 5);
});

test("a change after undo drops what was to be done again", () => {
  const history = new History("a");
  history.add("b", "b");
  history.undo();
  history.add("c", "c");
  assert.equal(history.redoLabel, "");
  assert.equal(history.undo(), "a");
});

test("a pulled slider is one step, a second pull another", () => {
  const history = new History(0);
  for (let i = 1; i < 40; i += 1) history.add("Flow", i, "flow");
  history.settle();
  for (let i = 50; i < 60; i += 1) history.add("Flow", i, "flow");
  assert.equal(history.undo(), 39);
  assert.equal(history.undo(), 0);
});

test("the same value is no step, and the oldest steps go first", () => {
  const history = new History(0);
  history.add("same", 0);
  assert.equal(history.undoLabel, "");
  for (let i = 1; i <= 1000; i += 1) history.add("step", i);
  let steps = 0;
  while (history.undoLabel) {
    history.undo();
    steps += 1;
  }
  assert.ok(steps >= 200 && steps < 400);
  assert.equal(history.value, 1000 - steps);
});
