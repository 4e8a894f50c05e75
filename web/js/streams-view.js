// @ts-check
/** Where the raster's water goes: its streams on the map, and the catchment of the intake. */

import * as L from "leaflet";

import * as api from "./api.js";
import { catchmentWords } from "./catchment.js";
import { element } from "./dom.js";
import { button, group } from "./fields.js";
import { activeLine } from "./plan.js";

/** @typedef {import("./state.js").State} State */

const INK = { stream: "#56B4E9", outline: "#0072B2" };

/** The group of the water panel, with what it draws. @param {State} state @param {L.Map} map */
export function streamsGroup(state, map) {
  const streams = L.layerGroup().addTo(map);
  const outline = L.layerGroup().addTo(map);
  const told = element("p", { class: "hint", role: "status", id: "water-told" });
  let shown = "";
  const key = () => `${state.plan.terrain.join()}|${crs()}`;
  const crs = () => activeLine(state.plan).settings.terrain?.crs;
  /** @param {() => Promise<void>} act */
  const busy = async (act) => {
    told.textContent = "Following the water …";
    try {
      await act();
    } catch (error) {
      told.textContent = /** @type {Error} */ (error).message;
    }
  };
  const press = (/** @type {boolean} */ on) => toggle.setAttribute("aria-pressed", String(on));
  const clear = () => {
    streams.clearLayers();
    outline.clearLayers();
    told.textContent = "";
    press(false);
  };
  const toggle = button("Streams on the map", () => {
    if (toggle.getAttribute("aria-pressed") === "true") return clear();
    return busy(async () => {
      shown = key();
      for (const id of state.plan.terrain) {
        const found = await api.streams(id, crs());
        L.geoJSON(found, {
          interactive: false, pane: "areas",
          style: (/** @type {any} */ feature) => ({ color: INK.stream, weight: Math.min(1 + feature.properties.order, 5) }),
        }).addTo(streams);
      }
      told.textContent = "Streams of 0.1 km² and more, as the raster shows them.";
      press(true);
    });
  }, { "aria-pressed": "false" });
  const ask = button("Catchment of the intake", () => busy(async () => {
    const { points } = activeLine(state.plan);
    if (!points.length || !state.plan.terrain.length) {
      told.textContent = "Draw the line first: its start is the intake.";
      return;
    }
    shown = key();
    const found = await api.catchment(state.plan.terrain[0], points[0], crs());
    outline.clearLayers();
    L.geoJSON(found.outline, {
      interactive: false, pane: "areas",
      style: { color: INK.outline, weight: 2.5, dashArray: "2 6", fillOpacity: 0.06 },
    }).addTo(outline);
    told.textContent = catchmentWords(found, state.plan.units);
  }));
  state.on("plan", () => {
    if (shown && shown !== key()) {
      shown = "";
      clear();
    }
  });
  return group("Where the water comes from", element("div", { class: "row" }, toggle, ask), told);
}
