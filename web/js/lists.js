// @ts-check
/** The lists of studies and terrains. */

import { byId, element } from "./dom.js";
import { moment } from "./words.js";

/** What is handed out of a study, by its form, in the words of the planning page. */
const EXPORTS = {
  package: "Permit package", stakes: "Stake-out list", xlsx: "Workbook", dxf: "DXF", gpkg: "GeoPackage",
  geojson: "GeoJSON", kml: "KML", gpx: "GPX", csv: "CSV", shp: "Shapefile",
};

/**
 * @param {string} label
 * @param {() => void} act
 */
function action(label, act) {
  const button = element("button", { type: "button" }, label);
  button.addEventListener("click", act);
  return button;
}

/** @param {string} iso */
const when = (iso) => moment(iso);

/**
 * @param {any[]} studies
 * @param {(study: any) => void} remove
 */
export function showStudies(studies, remove) {
  byId("no-studies").hidden = studies.length > 0;
  byId("studies").replaceChildren(
    ...studies.map((study) => {
      const base = `/api/studies/${study.id}`;
      const link = (/** @type {string} */ text, /** @type {string} */ href) =>
        element("a", { href }, text);
      return element(
        "li",
        {},
        element("div", { class: "name", translate: "no" }, study.name),
        element("div", { class: "facts" }, `revision ${study.revision}, ${when(study.updated)}`),
        element(
          "div",
          { class: "links" },
          link("Plan", `/?study=${study.id}`),
          link("Map", `${base}/map`),
          link("Profile", `${base}/profile`),
          link("Sheets", `${base}/sheet.pdf`),
          link("Report", `${base}/report.pdf`),
          link("Field sheet", `/field/${study.id}`),
          ...Object.entries(EXPORTS).map(([form, words]) => link(words, `${base}/export?format=${form}`)),
          link("study.json", base),
          action("Delete", () => remove(study)),
        ),
      );
    }),
  );
}

/**
 * @param {any[]} deleted
 * @param {(item: any) => void} bringBack
 * @param {(item: any) => void} remove
 */
export function showTrash(deleted, bringBack, remove) {
  byId("trash-section").hidden = deleted.length === 0;
  byId("trash").replaceChildren(
    ...deleted.map((item) =>
      element(
        "li",
        {},
        element("div", { class: "name", translate: "no" }, item.name),
        element("div", { class: "facts" }, trashFacts(item)),
        element(
          "div",
          { class: "links" },
          action("Bring back", () => bringBack(item)),
          action("Delete for good", () => remove(item)),
        ),
      ),
    ),
  );
}

/** @param {any} item */
function trashFacts({ kind, who, deleted, until }) {
  return `${kind}; ${who ? `deleted by “${who}”` : "deleted"}: ${when(deleted)}; goes for good: ${when(until)}`;
}

/** @param {Record<string, any>} facts */
function described(facts) {
  const parts = [];
  const [rows, columns] = facts.shape ?? [facts.rows, facts.columns];
  if (columns && rows) parts.push(`${columns} × ${rows} cells`);
  if (facts.cell_m) parts.push(`${Number(facts.cell_m).toPrecision(3)} m each`);
  parts.push(facts.crs ?? "no coordinate system: the planning page asks for it");
  if (facts.unit) parts.push(`heights in ${facts.unit}`);
  return parts.join(", ");
}

/**
 * @param {any[]} terrains
 * @param {(terrain: any) => void} remove
 */
export function showTerrains(terrains, remove) {
  byId("no-terrains").hidden = terrains.length > 0;
  byId("terrains").replaceChildren(
    ...terrains.map((terrain) =>
      element(
        "li",
        {},
        element("div", { class: "name", translate: "no" }, terrain.name),
        element("div", { class: "facts" }, described(terrain.facts)),
        element(
          "div",
          { class: "links" },
          element("a", { href: `/?terrain=${terrain.id}` }, "Plan on it"),
          action("Delete", () => remove(terrain)),
        ),
      ),
    ),
  );
  const select = byId("study-form").elements.terrain;
  const chosen = select.value;
  select.replaceChildren(
    ...terrains.map((terrain) => element("option", { value: terrain.id, translate: "no" }, terrain.name)),
  );
  if (terrains.some((terrain) => terrain.id === chosen)) select.value = chosen;
}
