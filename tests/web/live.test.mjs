import assert from "node:assert/strict";
import test from "node:test";

import { Live } from "../../web/js/live.js";

/** A service whose answers come when the test says so. */
function service() {
  const open = [];
  const ask = (question, sequence) =>
    new Promise((answer, fail) => open.push({ question, sequence, answer, fail }));
  return { open, ask };
}

const turn = () => new Promise((resolve) => setImmediate(resolve));

test("one question under way, the newest of the rest next", async () => {
  const { open, ask } = service();
  const shown = [];
  const live = new Live(ask, (answer) => shown.push(answer), () => "drop");
  for (let i = 1; i <= 20; i += 1) live.want(i);
  assert.deepEqual(open.map((one) => one.question), [1]);
  open[0].answer("one");
  await turn();
  assert.deepEqual(open.map((one) => one.question), [1, 20]);
  open[1].answer("twenty");
  await turn();
  assert.deepEqual(shown, ["one", "twenty"]);
  assert.ok(live.idle);
});

test("answers are never shown out of order, whatever the times", async () => {
  const shown = [];
  const live = new Live(
    (question) => new Promise((done) => setTimeout(() => done(question), Math.random() * 4)),
    (answer) => shown.push(answer),
    () => "drop",
  );
  for (let i = 1; i <= 60; i += 1) {
    live.want(i);
    await new Promise((done) => setTimeout(done, Math.random() * 2));
  }
  while (!live.idle) await new Promise((done) => setTimeout(done, 2));
  assert.equal(shown.at(-1), 60);
  assert.deepEqual(shown, shown.toSorted((a, b) => a - b));
});

test("more: what an answer left out is asked for once nothing newer came for a moment", async () => {
  const { open, ask } = service();
  const shown = [];
  let wake = () => {};
  const live = new Live(ask, (answer, sequence) => shown.push([answer, sequence]), () => "drop", (act) => {
    wake = act;
  });
  live.more = (question) => (question.endsWith("look") ? question.replace("look", "whole") : null);
  live.want("1 look");
  live.want("2 look");
  open[0].answer("a");
  await turn();
  assert.deepEqual(open.map(({ question }) => question), ["1 look", "2 look"]); // the second waited
  open[1].answer("b");
  await turn();
  assert.equal(open.length, 2);
  assert.ok(!live.idle);
  wake();
  open[2].answer("c");
  await turn();
  assert.deepEqual(open.map(({ question }) => question), ["1 look", "2 look", "2 whole"]);
  assert.deepEqual(shown, [["a", 1], ["b", 2], ["c", 2]]);
  assert.ok(live.idle);
  live.want("3 look");
  open[3].answer("d");
  await turn();
  live.want("4 look"); // the hand goes on: the whole of the third is not asked for
  wake();
  open[4].answer("e");
  await turn();
  wake();
  live.forget();
  open[5].answer("late");
  await turn();
  assert.deepEqual(open.map(({ question }) => question).slice(3), ["3 look", "4 look", "4 whole"]);
  assert.deepEqual(shown.slice(3), [["d", 3], ["e", 4]]);
  assert.ok(live.idle);
});

test("the next question goes out before the answer is drawn", async () => {
  const { open, ask } = service();
  const asked = [];
  const live = new Live(ask, () => asked.push(open.length), () => "drop");
  live.want(1);
  live.want(2);
  open[0].answer("one");
  await turn();
  assert.deepEqual(asked, [2]);
});

test("forget: what is under way is not shown", async () => {
  const { open, ask } = service();
  const shown = [];
  const live = new Live(ask, (answer) => shown.push(answer), () => "drop");
  live.want(1);
  live.forget();
  open[0].answer("late");
  await turn();
  assert.deepEqual(shown, []);
  live.want(2);
  open[1].answer("two");
  await turn();
  assert.deepEqual(shown, ["two"]);
});

test("a service that is away is asked again, with the newest question and longer waits", async () => {
  const { open, ask } = service();
  const shown = [];
  const waits = [];
  let wake = () => {};
  const live = new Live(ask, (answer) => shown.push(answer), () => "again", (act, ms) => {
    waits.push(ms);
    wake = act;
  });
  live.want("old");
  for (let i = 0; i < 3; i += 1) {
    open.at(-1).fail(new Error("away"));
    await turn();
    live.want(`new ${i}`);
    wake();
    await turn();
  }
  assert.deepEqual(waits, waits.toSorted((a, b) => a - b));
  assert.ok(waits[2] > waits[0]);
  assert.equal(open.at(-1).question, "new 2");
  open.at(-1).answer("back");
  await turn();
  assert.deepEqual(shown, ["back"]);
});

test("two under way: the newest of the rest waits, an answer that is overtaken is not shown", async () => {
  const { open, ask } = service();
  const [shown, overtaken] = [[], []];
  const live = new Live(ask, (answer) => shown.push(answer), () => "drop", undefined, 2);
  live.overtaken = (answer, question) => overtaken.push([answer, question]);
  for (let i = 1; i <= 20; i += 1) live.want(i);
  assert.deepEqual(open.map(({ question }) => question), [1, 2]);
  assert.ok(live.busy);
  open[1].answer("two");
  await turn();
  assert.deepEqual(open.map(({ question }) => question), [1, 2, 20]);
  open[0].answer("one");
  await turn();
  assert.deepEqual([shown, overtaken], [["two"], [["one", 1]]]);
  assert.ok(!live.busy && !live.idle);
  live.want(21);
  live.forget();
  open[2].answer("twenty");
  open[3].answer("twenty-one");
  await turn();
  assert.deepEqual([shown, overtaken.length], [["two"], 1]);
  assert.ok(live.idle);
});

test("two under way: whatever the times, never out of order", async () => {
  const shown = [];
  let most = 0;
  const live = new Live(
    (question) => new Promise((done) => setTimeout(() => done(question), Math.random() * 8)),
    (answer) => shown.push(answer), () => "drop", undefined, 2);
  for (let i = 1; i <= 80; i += 1) {
    live.want(i);
    most = Math.max(most, live.underWay);
    await new Promise((done) => setTimeout(done, Math.random() * 2));
  }
  while (!live.idle) await new Promise((done) => setTimeout(done, 2));
  assert.equal(most, 2);
  assert.equal(shown.at(-1), 80);
  assert.deepEqual(shown, shown.toSorted((a, b) => a - b));
});

test("two under way: nothing older is shown after a newer line's trouble", async () => {
  const { open, ask } = service();
  const [shown, failed] = [[], []];
  const live = new Live(ask, (answer) => shown.push(answer), (error) => failed.push(error.message) && "drop", undefined, 2);
  live.want("inside");
  live.want("outside");
  open[1].fail(new Error("outside the raster"));
  await turn();
  open[0].answer("stale");
  await turn();
  assert.deepEqual([shown, failed], [[], ["outside the raster"]]);
});

test("two under way: of a service that is away the newer question is asked again, after one wait", async () => {
  const { open, ask } = service();
  const [shown, waits] = [[], []];
  let wake = () => {};
  const live = new Live(ask, (answer) => shown.push(answer), () => "again", (act, ms) => {
    waits.push(ms);
    wake = act;
  }, 2);
  live.want("older");
  live.want("newer");
  open[1].fail(new Error("away"));
  open[0].fail(new Error("away"));
  await turn();
  assert.equal(waits.length, 1);
  wake();
  assert.deepEqual(open.map(({ question }) => question), ["older", "newer", "newer"]);
  open[2].answer("back");
  await turn();
  assert.deepEqual(shown, ["back"]);
  assert.ok(live.idle);
});

test("beside: what a moving line leaves out keeps no picture waiting, and is asked once", async () => {
  const { open, ask } = service();
  const shown = [];
  const late = [];
  const live = new Live(ask, (answer) => shown.push(answer), () => "drop");
  live.overtaken = (answer) => late.push(answer);
  const first = live.want("1 look");
  live.beside("1 whole", first);
  live.want("2 look");
  live.beside("2 whole", 2);
  assert.deepEqual(open.map(({ question }) => question), ["1 look", "1 whole"]);
  open[0].answer("a");
  await turn();
  assert.deepEqual(open.map(({ question }) => question), ["1 look", "1 whole", "2 look"]);
  open[2].answer("b");
  await turn();
  assert.deepEqual([shown, late, live.idle], [["a", "b"], [], false]);
  open[1].answer("fittings");
  await turn();
  assert.deepEqual([shown, late, live.idle], [["a", "b"], ["fittings"], true]);
});

test("beside: what fails or is forgotten is not taken", async () => {
  const { open, ask } = service();
  const late = [];
  const live = new Live(ask, () => {}, () => "drop");
  live.overtaken = (answer) => late.push(answer);
  live.beside("whole", 1);
  open[0].fail(new Error("away"));
  await turn();
  assert.ok(live.idle);
  live.beside("whole", 1);
  live.forget();
  open[1].answer("old");
  await turn();
  assert.deepEqual([late, live.idle], [[], true]);
});
