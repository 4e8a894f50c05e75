// @ts-check
/** The figures of the line under the map, and what stands at the place under the pointer. */

import { byId, element, write } from "./dom.js";
import { readingAt, worstShare } from "./profile-data.js";
import { idle, words } from "./trouble.js";
import { show } from "./units.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./types.js").Model} Model */
/** @typedef {import("./units.js").Kind} Kind */
/** ``struck``: why the value cannot be had. @typedef {{key: string, label: string, value: string, note?: string, money?: string, alarm?: boolean, struck?: string}} Figure */

/**
 * The figures in an order that never changes, so that nothing moves; a dash where there is none.
 * @param {Model | null} model @param {import("./units.js").Units} units @returns {Figure[]}
 */
export function figuresOf(model, units) {
  const summary = model?.summary;
  const worst = model ? worstShare(model) : null;
  const say = (/** @type {number | undefined} */ value, /** @type {Kind} */ kind) => show(value, kind, units);
  const kilo = (/** @type {number | undefined} */ value) => (value === undefined ? undefined : value * 1000);
  const flow = model?.flow ? summary : undefined;
  const why = model && flow ? idle(model) : null;
  const struck = why ? { struck: why.message, note: why.why, alarm: true } : {};
  const cost = model?.cost;
  return [
    { key: "summary.plan_length_m", label: "Length", value: say(summary?.plan_length_m, "length"), note: summary && `pipe ${say(summary.pipe_length_m, "length")}` },
    { key: "summary.gross_head_m", label: "Gross head", value: say(summary?.gross_head_m, "head"), note: summary && error(summary, units), alarm: summary && summary.gross_head_m <= 0 },
    { key: "summary.net_head_m", label: "Net head", value: say(flow?.net_head_m, "head"), note: flow ? `lost ${say(flow.head_loss_m, "head")}` : "no pipe or flow", alarm: (flow?.net_head_m ?? 1) <= 0, ...struck },
    { key: "summary.power_kw", label: "Power", value: say(kilo(flow?.power_kw), "power"), note: flow ? `at ${say(flow.flow_m3_s, "flow")}` : "no pipe or flow", ...struck },
    {
      key: "summary.max_static_pressure_kpa", label: "Highest static", value: say(kilo(summary?.max_static_pressure_kpa), "pressure"),
      note: summary && `at ${say(summary.max_static_station_m, "station")}`,
    },
    {
      key: "stations.rating_kpa", label: "Share of rating", value: worst ? `${Math.round(worst.share * 100)} %` : "–",
      note: worst ? `at ${say(worst.station, "station")}` : "no rating yet", alarm: Boolean(worst && worst.share > 1),
    },
    { key: "summary.vent_count", label: "Vents", value: model ? String(model.vents.length) : "–", note: model ? needed(model.vents) : "" },
    { key: "summary.drain_count", label: "Drains", value: model ? String(model.drains.length) : "–", note: model ? needed(model.drains) : "" },
    { key: "summary.trench_volume_m3", label: "Trench", value: say(summary?.trench_volume_m3, "volume"), note: model ? `deepest ${say(model.trench.deepest_m, "depth")}` : "" },
    {
      key: "cost", label: "Cost", money: cost?.currency ?? "", value: cost ? Math.round(cost.total).toLocaleString("en") : "–",
      note: !cost ? "no prices yet" : cost.not_priced.length ? `${cost.not_priced.length} not priced` : (cost.date ?? ""),
    },
  ];
}

/** @param {import("./types.js").Fitting[]} items */
function needed(items) {
  const count = (/** @type {string} */ need) => items.filter((item) => item.need === need).length;
  const [must, level] = [count("must"), count("level")];
  return level ? `${must} needed, ${level} unsure` : `${must} needed`;
}

/** How far the gross head may be off, as the papers tell it. @param {Model["summary"]} summary @param {import("./units.js").Units} units */
const error = ({ gross_head_off_m: off }, units) => (off ? `± ${show(off, "head", units)} (90 %)` : undefined);

/** @param {State} state */
export function showFigures(state) {
  const node = byId("figures");
  const tiles = figuresOf(null, state.plan.units).map(({ key }) => {
    /** @type {Record<string, string>} */
    const told = key === "cost" ? {} : { "data-where": key };
    const tile = element("button", { type: "button", class: "figure", ...told },
      element("span", { class: "label" }), element("span", { class: "value" }), element("span", { class: "note" }));
    if (key === "cost") tile.addEventListener("click", () => byId("tab-money").click());
    return tile;
  });
  node.append(...tiles);
  const draw = () => {
    const { model, plan } = state;
    const drawn = plan.lines[plan.active].points.length + (state.draft ? 1 : 0) >= 2;
    figuresOf(drawn ? model : null, plan.units).forEach((figure, i) => {
      const [label, value, note] = /** @type {any} */ (tiles[i].children);
      if (!label.textContent) label.append(figure.label, element("span", { translate: "no" }));
      write(label.lastChild, figure.money ? `, ${figure.money}` : "");
      write(value, figure.value);
      write(note, figure.note ?? "");
      tiles[i].classList.toggle("alarm", Boolean(figure.alarm));
      tiles[i].classList.toggle("struck", Boolean(figure.struck));
      const title = figure.struck ?? (figure.key === "cost" ? "The account and your prices" : "Where does this come from?");
      if (tiles[i].title !== title) tiles[i].title = title;
    });
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
  const trouble = byId("here");
  const cells = names.map((name, i) => {
    const value = element("b", {});
    node.append(element("button", { type: "button", class: "reading", "data-where": keys[i] }, `${name} `, value));
    return value;
  });
  const draw = () => {
    const { model, hover, plan } = state;
    const { units } = plan;
    if (!model || hover === null) {
      for (const cell of [...cells, trouble]) write(cell, cell === trouble ? "" : "–");
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
    texts.forEach((text, i) => write(cells[i], text));
    write(trouble, profile.troubles.filter((span) => hover >= span.from && hover <= span.to).map((span) => words(span, units)).join(", "));
    slider.setAttribute("aria-valuenow", r.station.toFixed(1));
    slider.setAttribute("aria-valuetext", [...names.map((name, i) => `${name} ${texts[i]}`), trouble.textContent].filter(Boolean).join(", "));
    slider.setAttribute("aria-valuemax", model.summary.plan_length_m.toFixed(1));
  };
  state.on(["hover", "model", "plan"], draw);
  profile.painted = () => write(byId("exaggeration"), profile.exaggerationText);
  draw();
}
