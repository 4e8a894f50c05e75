// @ts-check
/** The figures of the line under the map, and what stands at the place under the pointer. */

import { byId, element } from "./dom.js";
import { readingAt, worstShare } from "./profile-data.js";
import { show } from "./units.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./types.js").Model} Model */
/** @typedef {import("./units.js").Kind} Kind */
/** @typedef {{key: string, label: string, value: string, note?: string, alarm?: boolean}} Figure */

/**
 * @param {Model} model @param {import("./units.js").Units} units @returns {Figure[]}
 */
export function figuresOf(model, units) {
  const { summary } = model;
  const worst = worstShare(model);
  const say = (/** @type {number | undefined} */ value, /** @type {Kind} */ kind) => show(value, kind, units);
  const kilo = (/** @type {number | undefined} */ value) => (value === undefined ? undefined : value * 1000);
  /** @type {Figure[]} */
  const figures = [
    { key: "summary.plan_length_m", label: "Length", value: say(summary.plan_length_m, "length"), note: `pipe ${say(summary.pipe_length_m, "length")}` },
    { key: "summary.gross_head_m", label: "Gross head", value: say(summary.gross_head_m, "head"), note: error(summary, units), alarm: summary.gross_head_m <= 0 },
  ];
  if (model.flow)
    figures.push(
      { key: "summary.net_head_m", label: "Net head", value: say(summary.net_head_m, "head"), note: `lost ${say(summary.head_loss_m, "head")}`, alarm: (summary.net_head_m ?? 1) <= 0 },
      { key: "summary.power_kw", label: "Power", value: say(kilo(summary.power_kw), "power"), note: `at ${say(summary.flow_m3_s, "flow")}` },
    );
  figures.push(
    {
      key: "summary.max_static_pressure_kpa", label: "Highest static", value: say(kilo(summary.max_static_pressure_kpa), "pressure"),
      note: `at ${say(summary.max_static_station_m, "station")}`,
    },
    {
      key: "stations.rating_kpa", label: "Of rating", value: worst ? `${Math.round(worst.share * 100)} %` : "–",
      note: worst ? `at ${say(worst.station, "station")}` : "no rating known", alarm: Boolean(worst && worst.share > 1),
    },
    { key: "summary.vent_count", label: "Vents", value: String(model.vents.length), note: needed(model.vents) },
    { key: "summary.drain_count", label: "Drains", value: String(model.drains.length), note: needed(model.drains) },
    { key: "summary.trench_volume_m3", label: "Trench", value: say(summary.trench_volume_m3, "volume"), note: `deepest ${say(model.trench.deepest_m, "depth")}` },
  );
  const { cost } = model;
  if (cost)
    figures.push({ key: "cost", label: "Cost", value: `${Math.round(cost.total).toLocaleString("en")} ${cost.currency}`.trim(),
      note: cost.not_priced.length ? `${cost.not_priced.length} not priced` : cost.date ?? "", alarm: false });
  return figures;
}

/** @param {import("./types.js").Fitting[]} items */
function needed(items) {
  const count = (/** @type {string} */ need) => items.filter((item) => item.need === need).length;
  return `${count("must")} needed${count("level") ? `, ${count("level")} unsure` : ""}`;
}

/** Standard error of the gross head. @param {Model["summary"]} summary @param {import("./units.js").Units} units */
const error = ({ gross_head_sd_m: sd }, units) => (sd === null || sd === undefined ? undefined : `± ${show(sd, "head", units)}`);

/** @param {State} state */
export function showFigures(state) {
  const node = byId("figures");
  /** @type {Map<string, HTMLElement>} */
  const kept = new Map();
  const draw = () => {
    const { model, plan } = state;
    const drawn = model && plan.lines[plan.active].points.length + (state.draft ? 1 : 0) >= 2;
    node.hidden = !drawn;
    if (!drawn) return;
    const figures = figuresOf(model, plan.units);
    for (const figure of figures) {
      let tile = kept.get(figure.key);
      if (!tile) {
        tile = element("button", { type: "button", class: "figure", ...(figure.key === "cost" ? {} : { "data-where": figure.key }) },
          element("span", { class: "label" }), element("span", { class: "value" }), element("span", { class: "note" }));
        kept.set(figure.key, tile);
        node.append(tile);
      }
      const [label, value, note] = /** @type {any} */ (tile.children);
      label.textContent = figure.label;
      value.textContent = figure.value;
      note.textContent = figure.note ?? "";
      tile.classList.toggle("alarm", Boolean(figure.alarm));
      if (tile.dataset.where) tile.title = "Where does this come from?";
    }
    for (const [key, tile] of kept)
      tile.hidden = !figures.some((figure) => figure.key === key);
  };
  state.on(["model", "plan"], draw);
  draw();
}

/** @param {State} state @param {import("./profile-view.js").ProfileView} profile */
export function showReadout(state, profile) {
  const node = byId("readout");
  const slider = byId("profile");
  const names = ["Station", "Ground", "Depth", "Static", "Flowing"];
  const keys = ["station_m", "ground_m", "depth_m", "static_pressure_kpa", "flowing_pressure_kpa"].map((key) => `stations.${key}`);
  const cells = names.map((name, i) => {
    const value = element("b", {});
    node.append(element("button", { type: "button", class: "reading", "data-where": keys[i] }, `${name} `, value));
    return value;
  });
  const draw = () => {
    const { model, hover, plan } = state;
    const { units } = plan;
    if (!model || hover === null) {
      for (const cell of cells) cell.textContent = "–";
      return;
    }
    const r = readingAt(model, Math.min(hover, model.summary.plan_length_m));
    const both = (/** @type {number | null} */ head, /** @type {number | null} */ pressure) =>
      head === null ? "–" : `${show(head, "head", units)} · ${show(pressure, "pressure", units)}`;
    const texts = [
      show(r.station, "station", units), show(r.ground, "elevation", units),
      r.span ? "on a bridge" : show(r.depth, "depth", units),
      both(r.staticHead, r.staticPressure), both(r.flowingHead, r.flowingPressure),
    ];
    texts.forEach((text, i) => (cells[i].textContent = text));
    slider.setAttribute("aria-valuenow", r.station.toFixed(1));
    slider.setAttribute("aria-valuetext", names.map((name, i) => `${name} ${texts[i]}`).join(", "));
    slider.setAttribute("aria-valuemax", model.summary.plan_length_m.toFixed(1));
  };
  state.on(["hover", "model", "plan"], draw);
  profile.painted = () => {
    const text = profile.exaggerationText;
    if (byId("exaggeration").textContent !== text) byId("exaggeration").textContent = text;
  };
  draw();
}
