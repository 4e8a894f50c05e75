import assert from "node:assert/strict";
import test from "node:test";

import { Errand } from "../../web/js/errand.js";

/** @type {any} */
const PLANNED = { plan: { terrain: ["t1"] } };

test("errand: cancelled before the service has answered that it began, it is stopped all the same", async () => {
  /** @type {string[]} */
  const asked = [];
  globalThis.fetch = async (path, { method = "GET" } = {}) => {
    asked.push(`${method} ${path}`);
    const state = asked.some((each) => each.startsWith("DELETE")) ? "stopped" : "done";
    const body = method === "DELETE" ? null : JSON.stringify({ id: "7", state, progress: 0.1, doing: "", result: "lines", problem: null });
    return new Response(body, { status: body ? 200 : 204, headers: { "content-type": "application/json" } });
  };
  /** @type {(job: any) => void} */
  let began = () => {};
  const errand = new Errand(PLANNED, () => new Promise((done) => { began = done; }), () => "found", "It was cancelled.");
  const whole = errand.begin({});
  await errand.stop();
  assert.deepEqual(asked, []);
  began({ id: "7", state: "waiting", progress: 0, doing: "", result: null, problem: null });
  await whole;
  assert.equal(asked[0], "DELETE /api/jobs/7");
  assert.equal(errand.words, "It was cancelled.");
  assert.equal(errand.running, false);
  // The next errand is not stopped for that.
  asked.length = 0;
  const next = errand.begin({});
  began({ id: "8", state: "waiting", progress: 0, doing: "", result: null, problem: null });
  await next;
  assert.deepEqual([errand.words, asked.some((each) => each.startsWith("DELETE"))], ["found", false]);
});
