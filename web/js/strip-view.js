// @ts-check
/** The trench under the profile: depth below ground, and its two limits to take hold of. */

import uPlot from "uplot";

import { axis, css, dense, drawDense, fewPoints, fewPointsTo, navigate } from "./chart.js";
import { activeLine, withLine, withSetting } from "./plan.js";
import { fromShown, quantity, show, toShown, unitOf } from "./units.js";
import { t } from "./words.js";

/** @typedef {import("./state.js").State} State */

const GRIP_PX = 10;
const LEAST_M = 0.2;
const LINE_PX = 1.2;
const LABEL_PX = 92;
/** Room that the limits' own labels take at the right. */
const LIMIT_LABEL_PX = 190;

/** The limits: key in the settings, label, key of the answer. */
const LIMITS = /** @type {const} */ ([
  { key: "cover", label: "Least cover", field: "cover_m" },
  { key: "max_depth", label: "Greatest depth", field: "max_depth_m" },
]);
/** @typedef {(typeof LIMITS)[number]} Limit */

/** No path where {@link drawTrench} draws. @param {typeof fewPoints} paths @returns {typeof fewPoints} */
const unlessDense = (paths) => (chart, index, from, to) => (dense(chart) ? null : paths(chart, index, from, to));

/** The trench where more stations are in view than pixels. @param {any} chart */
function drawTrench(chart) {
  if (dense(chart)) drawDense(chart, [1, 2], { ink: css("--pipe"), fill: css("--trench-fill"), thick: LINE_PX });
}

export class StripView {
  /** @param {HTMLElement} node @param {State} state @param {import("./profile-view.js").ProfileView} profile */
  constructor(node, state, profile) {
    this.node = node;
    this.state = state;
    this.profile = profile;
    /** @type {Limit | null} */
    this.held = null;
    /** The depth range while a limit is held: the scale must not run away under the finger. */
    this.frozen = 0;
    const line = { stroke: () => css("--pipe"), width: LINE_PX, pxAlign: 0, points: { show: false } };
    this.chart = new uPlot(
      {
        width: 400,
        height: 80,
        legend: { show: false },
        padding: [9, 24, 2, 0],
        cursor: { y: false, drag: { x: false, y: false }, points: { show: false } },
        scales: {
          x: { time: false, range: () => this.#across() },
          y: { range: () => [0, this.#deepest()], dir: -1 },
        },
        axes: [{ show: false }, { ...axis(() => unitOf("depth", state.plan.units), 68, 3), space: 22 }],
        series: [
          {},
          { ...line, paths: unlessDense(fewPointsTo(2)), fill: () => css("--trench-fill") },
          { ...line, paths: unlessDense(fewPoints) },
        ],
        hooks: { draw: [drawTrench, (/** @type {any} */ chart) => this.#limits(chart), () => this.#cursor()] },
      },
      [[], [], []],
      node,
    );
    navigate(this.chart.over, state, { length: () => profile.length, claim: (event) => this.#grab(event) });
    this.chart.over.addEventListener("mousemove", (event) => this.#point(event));
    state.on(["model", "plan"], () => this.update());
    state.on("view", () => this.chart.setScale("x", scaleOf(this.#across())));
    state.on("hover", () => this.#cursor());
    for (const event of ["leatline:colours", "leatline:language"]) document.addEventListener(event, () => this.update());
    new ResizeObserver(() => this.resize()).observe(node);
  }

  resize() {
    const { clientWidth: width, clientHeight: height } = this.node;
    if (width > 40 && height > 20) {
      this.chart.setSize({ width, height });
    }
  }

  update() {
    const p = this.profile.profile;
    this.chart.setData(/** @type {any} */ (p ? [p.station, p.crown, p.bottom] : [[], [], []]));
  }

  /** @returns {[number, number]} */
  #across() {
    const { units } = this.state.plan;
    const [from, to] = this.state.view ?? [0, this.profile.length];
    return [toShown(from, "station", units), toShown(to, "station", units)];
  }

  #deepest() {
    if (this.frozen) return this.frozen;
    const { model, plan } = this.state;
    const least = toShown(Math.max(model?.trench.max_depth_m ?? 1, 0.8) * 1.45, "depth", plan.units);
    const deep = this.profile.profile?.bottom.reduce((a, b) => Math.max(a ?? 0, b ?? 0), 0) ?? 0;
    return Math.max(least, deep * 1.12);
  }

  #cursor() {
    const { hover, plan } = this.state;
    const shown = hover !== null && this.profile.profile;
    const left = shown ? this.chart.valToPos(toShown(Math.min(hover, this.profile.length), "station", plan.units), "x") : -10;
    this.chart.setCursor({ left, top: shown ? 5 : -10 }, false);
  }

  /** @param {any} chart */
  #limits(chart) {
    const { model } = this.state;
    if (!model || !this.profile.profile) return;
    const { units } = this.state.plan;
    const scale = window.devicePixelRatio || 1;
    const pen = /** @type {CanvasRenderingContext2D} */ (chart.ctx);
    const { left, width } = chart.bbox;
    pen.save();
    this.#offers(pen, chart, scale);
    for (const limit of LIMITS) {
      const y = chart.valToPos(toShown(model.trench[limit.field], "depth", units), "y", true);
      pen.strokeStyle = pen.fillStyle = css("--alert");
      pen.lineWidth = (this.held === limit ? 3 : 1.6) * scale;
      pen.setLineDash(limit.key === "cover" ? [3 * scale, 3 * scale] : []);
      pen.beginPath();
      pen.moveTo(left, y);
      for (const stretch of model.trench.limits) {
        const own = stretch[limit.field];
        if (own === null) continue;
        const [from, to] = [stretch.from_m, stretch.to_m].map((m) =>
          Math.min(left + width, Math.max(left, chart.valToPos(toShown(m, "station", units), "x", true))));
        const deep = chart.valToPos(toShown(own, "depth", units), "y", true);
        for (const [x, at] of [[from, y], [from, deep], [to, deep], [to, y]]) pen.lineTo(x, at);
      }
      pen.lineTo(left + width, y);
      pen.stroke();
      pen.setLineDash([]);
      pen.font = `600 ${11 * scale}px system-ui, 'Leatline letters', sans-serif`;
      pen.textAlign = "right";
      const grip = document.documentElement.classList.contains("on-paper") ? "" : "  ⇕";
      const text = `${t(limit.label)} ${t(quantity(model.trench[limit.field], "depth", units))}${grip}`;
      const above = limit.key === "cover";
      pen.lineWidth = 3 * scale;
      pen.strokeStyle = css("--chart-paper");
      const at = Math.min(y + (above ? -4 : 13) * scale, chart.bbox.top + chart.bbox.height);
      pen.strokeText(text, left + width - 6 * scale, at);
      pen.fillText(text, left + width - 6 * scale, at);
    }
    pen.restore();
  }

  /** Humps that could be dug through, with their price, below the limit. @param {CanvasRenderingContext2D} pen @param {any} chart @param {number} scale */
  #offers(pen, chart, scale) {
    const { model, plan } = this.state;
    const { units } = plan;
    const { offers } = /** @type {import("./types.js").Model} */ (model).trench;
    const x = (/** @type {number} */ m) => chart.valToPos(toShown(m, "station", units), "x", true);
    const y = (/** @type {number} */ m) => chart.valToPos(toShown(m, "depth", units), "y", true);
    const floor = chart.bbox.top + chart.bbox.height;
    pen.beginPath();
    pen.rect(chart.bbox.left, chart.bbox.top, chart.bbox.width, chart.bbox.height);
    pen.save();
    pen.clip();
    let free = chart.bbox.left;
    for (const offer of offers) {
      const [a, b] = [x(offer.from_m), x(offer.to_m)];
      const [top, base] = [y(offer.depth_m - offer.extra_depth_m), Math.min(floor, y(offer.depth_m))];
      pen.fillStyle = css("--offer-fill");
      pen.fillRect(a, top, b - a, base - top);
      const [start, end] = [(a + b - LABEL_PX * scale) / 2, (a + b + LABEL_PX * scale) / 2];
      const right = chart.bbox.left + chart.bbox.width - LIMIT_LABEL_PX * scale;
      if (b - a < 0.6 * LABEL_PX * scale || start < free || end > right) continue;
      free = end;
      pen.font = `600 ${10.5 * scale}px system-ui, 'Leatline letters', sans-serif`;
      pen.textAlign = "center";
      pen.fillStyle = css("--flowing");
      const text = `${offer.vent_id}: +${show(offer.extra_depth_m, "depth", units)}, ${show(offer.extra_volume_m3, "volume", units)}`;
      pen.fillText(t(text), (a + b) / 2, Math.min(top + 13 * scale, floor - 3 * scale));
    }
    pen.restore();
  }

  /** @param {MouseEvent} event @returns {Limit | null} */
  #near(event) {
    const { model, plan } = this.state;
    if (!model || !this.profile.profile) return null;
    const y = event.clientY - this.chart.over.getBoundingClientRect().top;
    const off = (/** @type {Limit} */ limit) =>
      Math.abs(this.chart.valToPos(toShown(model.trench[limit.field], "depth", plan.units), "y") - y);
    const [nearest] = LIMITS.toSorted((a, b) => off(a) - off(b));
    return off(nearest) <= GRIP_PX ? nearest : null;
  }

  /** @param {MouseEvent} event */
  #point(event) {
    this.chart.over.style.cursor = this.held || this.#near(event) ? "ns-resize" : "crosshair";
  }

  /** @param {PointerEvent} event */
  #grab(event) {
    const limit = this.#near(event);
    if (!limit) return false;
    const { over } = this.chart;
    this.held = limit;
    this.frozen = /** @type {number} */ (this.chart.scales.y.max);
    over.setPointerCapture(event.pointerId);
    const pull = (/** @type {PointerEvent} */ move) => this.#pull(limit, move);
    over.addEventListener("pointermove", pull);
    over.addEventListener("lostpointercapture", () => {
      over.removeEventListener("pointermove", pull);
      this.held = null;
      this.frozen = 0;
      this.state.history.settle();
      this.update();
    }, { once: true });
    return true;
  }

  /** @param {Limit} limit @param {PointerEvent} event */
  #pull(limit, event) {
    const { state } = this;
    const { units } = state.plan;
    const y = event.clientY - this.chart.over.getBoundingClientRect().top;
    const metres = fromShown(this.chart.posToVal(y, "y"), "depth", units);
    setLimit(state, limit.key, Math.max(LEAST_M, metres));
  }
}

/** @param {[number, number]} range */
const scaleOf = ([min, max]) => ({ min, max });

/** @param {State} state @param {"cover" | "max_depth"} key @param {number} metres */
export function setLimit(state, key, metres) {
  const { plan } = state;
  const digits = plan.units === "us" ? 1 : 2;
  const text = quantity(metres, "depth", plan.units, digits);
  const settings = withSetting(activeLine(plan).settings, "trench", key, text);
  const label = key === "cover" ? "Cover changed" : "Greatest depth changed";
  state.change(label, withLine(plan, { settings }), `limit-${key}`);
}
