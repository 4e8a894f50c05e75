// @ts-check
/** What crews brought home, beside the fitting it is about: a mark on the map, its words in the ledger. */

import * as L from "leaflet";

import * as api from "./api.js";
import { entriesOf, standing } from "./crew.js";
import { byId, element } from "./dom.js";
import { button, group, swap } from "./fields.js";
import { between, locate } from "./geometry.js";
import { toMap } from "./map-view.js";
import { look } from "./panel-trench.js";
import { show } from "./units.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./crew.js").Entry} Entry */

const NEAR_M = 15;
const INK = { done: "#009E73", check: "#D55E00", noted: "#F0E442" };
const WORDS = { done: "done", check: "check", noted: "noted" };

/** @param {State} state @param {L.Map} map */
export function crewGroup(state, map) {
  const marks = L.layerGroup().addTo(map);
  const list = element("ul", { class: "rows crew" });
  const told = element("p", { class: "hint", role: "status" });
  const whole = group("From the crew", told, list);
  whole.id = "crew";
  whole.hidden = true;
  byId("panel-fittings").prepend(whole);
  /** @type {Entry[]} */
  let entries = [];
  let home = "";
  let sequence = 0;

  const read = async () => {
    const id = state.saved?.id ?? "";
    const asked = (sequence += 1);
    if (id !== home) [entries, home, told.textContent] = [[], id, ""];
    if (id)
      try {
        const { records, conflicts } = await api.crewRecords(id);
        if (asked !== sequence) return;
        entries = entriesOf(records, conflicts);
        told.textContent = "";
      } catch (error) {
        if (asked !== sequence) return;
        told.textContent = `What the crew brought home could not be read. ${/** @type {Error} */ (error).message}`;
      }
    draw();
  };
  const draw = () => {
    whole.hidden = !entries.length && !told.textContent;
    place();
    if (!byId("panel-fittings").hidden && !state.draft) swap(list, entries.map((entry) => row(state, entry, home)));
  };
  /** The mark of each entry at the place where its station lies on the line as it is drawn now. */
  const place = () => {
    marks.clearLayers();
    const { model } = state;
    if (!model?.n || state.draft) return;
    for (const entry of entries) {
      if (entry.station_m === null) continue;
      const at = locate(model.col.station_m, entry.station_m);
      const lon = between(model.col.lon, at), lat = between(model.col.lat, at);
      if (lon === null || lat === null) continue;
      const kind = standing(entry);
      L.circleMarker(toMap([lon, lat]), { pane: "markerPane", radius: 6, color: "#111", weight: 1.5, fillColor: INK[kind], fillOpacity: 1, className: `crew-mark is-${kind}` })
        .bindTooltip(`${entry.name} ${WORDS[kind]}`.trim())
        .on("click", () => document.dispatchEvent(new CustomEvent("leatline:fitting", { detail: entry.name || entry.key })))
        .addTo(marks);
    }
  };
  state.on("saved", read);
  state.on(["model", "plan"], draw);
  window.addEventListener("focus", read);
  document.addEventListener("leatline:tab", () => void (byId("panel-fittings").hidden || read()));
  document.addEventListener("leatline:fitting", (event) => {
    draw();
    list.querySelector(`[data-crew="${CSS.escape(/** @type {CustomEvent} */ (event).detail)}"]`)?.scrollIntoView({ block: "center" });
  });
  read();
}

/** @param {State} state @param {Entry} entry @param {string} home */
function row(state, entry, home) {
  const { units } = state.plan;
  const at = entry.station_m;
  const kind = standing(entry);
  const head = [
    element("b", { translate: "no" }, entry.name),
    ...(at === null ? [] : [button(show(at, "station", units), () => look(state, at - NEAR_M, at + NEAR_M), { class: "link", title: "Show it" })]),
    element("span", { class: `crew-state is-${kind}` }, WORDS[kind]),
  ];
  const pictures = entry.photos.map((photo, i) => {
    const src = `/api/studies/${home}/${photo}`;
    return element("a", { href: src, target: "_blank", rel: "noopener" }, element("img", { src, loading: "lazy", alt: `Photograph ${i + 1} of ${entry.name}` }));
  });
  return element("li", { "data-crew": entry.name || entry.key }, element("div", {}, ...head), ...words(state, entry), ...(pictures.length ? [element("div", { class: "shots" }, ...pictures)] : []));
}

/** Each of an entry's last words as a line. @param {State} state @param {Entry} entry */
function words(state, entry) {
  const { units } = state.plan;
  const lines = [];
  const { was_m: was, tick, built, note } = entry;
  if (was !== null) lines.push([`Was at ${show(was, "station", units)}: check whether it is the same place.`, tick]);
  if (entry.differs) lines.push(["Two devices say different things; the newest counts.", null]);
  if (tick && was === null) lines.push([tick.done ? "Done." : "Not done.", tick]);
  if (built) lines.push([builtWords(state, entry), built]);
  for (const each of entry.readings) lines.push([`Gauge ${show((each.gauge_kpa ?? 0) * 1000, "pressure", units)}, ${readIn(each, units)}.`, each]);
  const said = lines.map(([text, record]) => element("p", {}, /** @type {string} */ (text), ...when(/** @type {any} */ (record))));
  if (note) said.push(element("p", {}, element("q", { translate: "no" }, note.note ?? ""), ...when(note)));
  return said;
}

/** What a gauge was read in: the flow, or a step of a test with its water and time. @param {import("./crew.js").Said} said @param {any} units */
function readIn(said, units) {
  if (!said.step) return said.flow_m3_s ? show(said.flow_m3_s, "flow", units) : "outlet shut";
  const [each, drum] = units === "us" ? [264.172, "gal"] : [1000, "L"]; // as a drum is measured
  const water = said.water_m3 === undefined ? [] : [`${(each * said.water_m3).toFixed(1)} ${drum}`];
  const lasted = said.lasted_s === undefined ? [] : [`${Math.round(said.lasted_s / 60)} min`];
  return [said.step, ...water, ...lasted].join(", ");
}

/** @param {import("./crew.js").Said | null} record */
const when = (record) => (record ? [element("small", { translate: "no" }, ` ${record.time.slice(0, 16).replace("T", " ")} UTC, ${record.device}`)] : []);

/** The level as built against the pipe as it is drawn now. @param {State} state @param {Entry} entry */
function builtWords({ plan, model }, { built, station_m }) {
  const level = built?.invert_m ?? null;
  if (level === null) return "As built.";
  const told = `Invert as built ${show(level, "elevation", plan.units)}`;
  if (!model?.n || station_m === null) return `${told}.`;
  const at = locate(model.col.station_m, station_m);
  const ground = between(model.col.ground_m, at), depth = between(model.col.depth_m, at);
  if (ground === null || depth === null) return `${told}.`;
  const off = level - (ground - depth);
  return `${told}, ${show(Math.abs(off), "depth", plan.units)} ${off < 0 ? "below" : "above"} the line as drawn.`;
}
