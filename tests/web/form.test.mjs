import assert from "node:assert/strict";
import test from "node:test";

import { parsed, studyBody } from "../../web/js/form.js";

const LINE = { type: "LineString", coordinates: [[-14.2, 62.1], [-14.19, 62.105]] };

test("studyBody: empty fields leave the settings alone", () => {
  const settings = { trench: { cover: "1 m", bedding: "0.1 m" } };
  const body = studyBody({ terrain: "a", "trench.cover": " ", name: "" }, LINE, settings);
  assert.deepEqual(body, { terrain: "a", route: LINE, settings });
});

test("studyBody: fields win over the settings file and leave it unchanged", () => {
  const settings = { trench: { cover: "1 m", bedding: "0.1 m" }, pipe: [{ catalogue: "x" }] };
  const before = structuredClone(settings);
  const fields = { terrain: "a", name: " Beck ", "trench.cover": "0.8 m", "flow.design": "18 L/s", pipe: "y" };
  const body = studyBody(fields, LINE, settings);
  assert.equal(body.name, "Beck");
  assert.deepEqual(body.settings, {
    trench: { cover: "0.8 m", bedding: "0.1 m" },
    flow: { design: "18 L/s" },
    pipe: [{ catalogue: "y" }],
  });
  assert.deepEqual(settings, before);
});

test("parsed: says which file is broken", () => {
  assert.throws(() => parsed("{", "The line"), /The line is not JSON/);
});
