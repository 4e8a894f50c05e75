// @ts-check
/** What is laid over the map, and where the line crosses it. */

import * as api from "./api.js";
import { byId, element } from "./dom.js";
import { button, group, swap } from "./fields.js";
import { KINDS, contentWords, crossingWords, layerChanged, layersOf, likelyKind, picturesOf, withLayer, withPicture, withoutLayer, withoutPicture } from "./land.js";
import { look } from "./panel-trench.js";
import { activeLine } from "./plan.js";
import { unitOf } from "./units.js";

/** @typedef {import("./state.js").State} State */

const NEAR_M = 15;
/** Keys of a layer that are set here, with what they mean; the others stand in a settings file. */
const KEYS = /** @type {const} */ ({ width: "width", consent: "consent, by reference", flood_depth: "depth in flood" });

/** @param {State} state */
export function landGroup(state) {
  const rows = element("ul", { class: "rows layers" });
  const pictures = element("ul", { class: "rows" });
  const file = /** @type {HTMLInputElement} */ (element("input", { type: "file", id: "layer-file", hidden: "", multiple: "", tabindex: "-1", "aria-label": "Layer file", accept: ".geojson,.json,.gpkg,.kml,.kmz,.zip,.shp,.tif,.tiff" }));
  file.addEventListener("change", async () => {
    await layOver(state, ...(file.files ?? []));
    file.value = "";
  });
  const draw = () => {
    if (byId("panel-trench").hidden) return;
    const layers = layersOf(state.plan);
    swap(rows, layers.length ? layers.map((layer, i) => layerRow(state, layer, i)) : [element("li", { class: "empty" }, "Nothing yet.")]);
    swap(pictures, picturesOf(state.plan).map(({ name }, i) => element("li", {}, element("span", { translate: "no" }, name), button("×", () => state.change("Picture taken away", withoutPicture(state.plan, i)), { class: "quiet", "aria-label": `Take “${name}” away` }))));
  };
  state.on(["plan"], draw);
  document.addEventListener("leatline:tab", draw);
  draw();
  return group("Land about the line", rows, pictures, element("div", { class: "row" }, button("Lay a file over the map …", () => file.click(), { "data-key": "lay-over" })), file,
    element("p", { class: "hint" }, "Parcels, roads, streams, services, protected areas as GeoJSON, GeoPackage, KML or zipped shapefile; a GeoTIFF picture lies beneath the line and is saved with the study."));
}

/** Lay files over the map, and say of each what has become of it. @param {State} state @param {...File} files */
export async function layOver(state, ...files) {
  const told = [];
  for (const file of files) told.push(await laidOver(state, file).catch((/** @type {Error} */ error) => ({ text: `“${file.name}”: ${error.message}`, problem: true })));
  const text = told.map((each) => each.text).filter(Boolean).join(" ");
  if (text) state.say(text, told.some(({ problem }) => problem));
}

/** @param {State} state @param {File} file @returns {Promise<{text: string, problem: boolean}>} */
async function laidOver(state, file) {
  if (/\.tiff?$/i.test(file.name)) {
    state.change("Picture laid over", withPicture(state.plan, await api.overlay(file)));
    return { text: "", problem: false };
  }
  const { name, features } = await api.layerFile(file);
  state.change("Layer laid over", withLayer(state.plan, { name, table: { kind: likelyKind(name), features } }));
  return { text: `“${name}” is in as ${KINDS[likelyKind(name)].words}: ${contentWords(features)}. Say on “Trench” what it is.`, problem: false };
}

/** A bare number is in the unit that is shown. @param {string} text @param {import("./units.js").Units} units */
const withUnit = (text, units) => (/^[\d.,]+$/.test(text) ? `${text.replace(",", ".")} ${unitOf("depth", units)}` : text);

/** @param {State} state @param {import("./land.js").Layer} layer @param {number} i */
function layerRow(state, { name, table }, i) {
  const select = /** @type {HTMLSelectElement} */ (element("select", { "aria-label": `What “${name}” is`, "data-key": `layer-kind-${i}` },
    ...Object.entries(KINDS).map(([kind, { words }]) => element("option", { value: kind }, words))));
  select.value = table.kind;
  select.addEventListener("change", () => state.change("Kind of layer changed", layerChanged(state.plan, i, { kind: select.value })));
  const more = Object.entries(KEYS).filter(([key]) => key !== "flood_depth" || table.kind === "stream").filter(([key]) => key !== "width" || ["road", "stream", "service", "right of way"].includes(table.kind)).map(([key, words]) => {
    const input = /** @type {HTMLInputElement} */ (element("input", { value: table[key] ?? "", autocomplete: "off", "aria-label": `“${name}”: ${words}`, "data-key": `layer-${key}-${i}` }));
    input.addEventListener("change", () => state.change("Layer changed", layerChanged(state.plan, i, { [key]: key === "consent" ? input.value.trim() : withUnit(input.value.trim(), state.plan.units) })));
    return element("label", { class: "field" }, words, input);
  });
  return element("li", {}, element("b", { translate: "no" }, name), select,
    button("×", () => state.change("Layer taken away", withoutLayer(state.plan, i)), { class: "quiet", "aria-label": `Take “${name}” away` }),
    element("span", { class: "facts" }, contentWords(table.features)), element("div", { class: "pair" }, ...more));
}

/** Where the line crosses what is laid over. @param {State} state */
export function crossingsGroup(state) {
  const list = element("ol", { class: "crossings" });
  const draw = () => {
    if (byId("panel-fittings").hidden || state.draft) return;
    const { units } = state.plan;
    const found = activeLine(state.plan).points.length >= 2 ? (state.model?.crossings ?? []) : [];
    swap(list, found.length ? found.map((each) => {
      const { where, what, more } = crossingWords(each, units);
      const row = element("li", {}, button(each.id, () => look(state, each.station_m - NEAR_M, each.to_m + NEAR_M), { class: "tag across", "data-key": `cross-${each.id}`, title: "Show it" }),
        element("div", {}, element("b", {}, where), ` ${what}${more ? `, ${more}` : ""}`,
          element("ul", {}, ...each.asks.map((text) => element("li", {}, text)))));
      row.addEventListener("mouseenter", () => state.setHover(each.station_m));
      return row;
    }) : [element("li", { class: "empty" }, layersOf(state.plan).length ? "The line crosses nothing of what is laid over." : "Nothing is laid over the map: see “Trench”.")]);
  };
  state.on(["plan", "model"], draw);
  document.addEventListener("leatline:tab", draw);
  draw();
  return group("Crossings by station", list);
}
