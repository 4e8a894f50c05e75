// @ts-check
/** The plain page: what there is, bring a terrain, lay a pipe along a line. */

import * as api from "./api.js";
import { byId, element, say } from "./dom.js";
import { parsed, studyBody } from "./form.js";
import { FIELDS } from "./setting-rows.js";
import { showStudies, showTerrains, showTrash } from "./lists.js";

for (const input of document.querySelectorAll("#study-form input")) {
  const { label, hint, example } = FIELDS[/** @type {HTMLInputElement} */ (input).name] ?? {};
  if (!label) continue;
  input.setAttribute("placeholder", example);
  input.before(`${label} `, element("span", { class: "hint" }, `${hint} `));
}

async function refresh() {
  const seen = api.listTrash().catch(() => []); // not everyone may see it
  const [terrains, studies, trash] = await Promise.all([api.listTerrains(), api.listStudies(), seen]);
  showTerrains(terrains, (terrain) =>
    remove(`Delete the terrain “${terrain.name}”?`, () => api.deleteTerrain(terrain.id)),
  );
  showStudies(studies, (study) =>
    remove(`Delete the study “${study.name}” with all its revisions?`, () =>
      api.deleteStudy(study.id, study.etag),
    ),
  );
  showTrash(
    trash,
    (item) =>
      attempt("Bringing back …", async () => {
        await api.bringBack(item.id);
        return `“${item.name}” is back.`;
      }),
    (item) => remove(`Delete “${item.name}” for good?`, () => api.removeForGood(item.id)),
  );
}

let begun = 0;

/**
 * Do something, say how it went, show what there is now. That it went well is not said over what a
 * later act has said since.
 * @param {string} doing
 * @param {() => Promise<string>} work
 */
async function attempt(doing, work) {
  const number = ++begun;
  say(doing);
  try {
    const done = await work();
    await refresh();
    if (number === begun) say(done);
  } catch (error) {
    say(error instanceof Error ? error.message : String(error), true);
  }
}

/** @param {string} question @param {() => Promise<unknown>} act */
function remove(question, act) {
  if (!confirm(question)) return;
  attempt("Deleting …", async () => {
    await act();
    return "Deleted.";
  });
}

/**
 * @param {string} id
 * @param {string} doing
 * @param {(form: HTMLFormElement) => Promise<string>} work
 */
function onSubmit(id, doing, work) {
  const form = /** @type {HTMLFormElement} */ (byId(id));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const button = /** @type {HTMLButtonElement} */ (form.querySelector("button"));
    button.disabled = true;
    await attempt(doing, () => work(form));
    button.disabled = false;
  });
}

onSubmit("terrain-form", "Bringing the terrain in …", async (form) => {
  const data = new FormData(form);
  if (!(/** @type {File} */ (data.get("prj")).size)) data.delete("prj");
  const terrain = await api.uploadTerrain(data);
  form.reset();
  return `Terrain “${terrain.name}” is in.`;
});

onSubmit("study-form", "Laying the pipe …", async (form) => {
  const data = new FormData(form);
  const route = parsed(await /** @type {File} */ (data.get("route")).text(), "The line");
  const file = /** @type {File} */ (data.get("settings"));
  const settings = file.size ? parsed(await file.text(), "The settings file") : {};
  const fields = Object.fromEntries([...data].filter(([, value]) => typeof value === "string"));
  const study = await api.createStudy(studyBody(/** @type {any} */ (fields), route, settings));
  const faults = study.warnings.filter((/** @type {any} */ found) => found.severity === "fault");
  const { vent_count: vents, drain_count: drains } = study.summary;
  const sum = `“${study.name}”: ${vents} vents, ${drains} drains.`;
  return [sum, ...faults.map((/** @type {any} */ found) => found.message)].join(" ");
});

byId("empty-trash").addEventListener("click", () =>
  remove("Delete all of these for good?", () => api.emptyTrash()),
);

attempt("Loading …", async () => {
  const about = await api.health();
  byId("about").textContent = `Leatline ${about.version}`;
  return "";
});
