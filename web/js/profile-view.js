// @ts-check
/** The long section: ground, pipe, static and flowing lines over stations, with signs on it. */

import uPlot from "uplot";

import { axis, css, fewPoints, keys, navigate } from "./chart.js";
import { tellDots } from "./dots.js";
import { between, locate } from "./geometry.js";
import { heightsFor, profileOf, roomFor } from "./profile-data.js";
import { PIN_ROOM_PX, drawTroubles, placePins, rowsOf } from "./profile-marks.js";
import { rowsRoom } from "./profile-rows.js";
import { drawSign } from "./signs.js";
import { troubles } from "./trouble.js";
import { toShown, unitOf } from "./units.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./types.js").Model} Model */

const SIGN_PX = 26;
const STEM_PX = 13;
/** Room above and below the lines, so that no sign is cut off. */
const SIGN_ROOM_PX = 38;
/** Signs may stand out over the sides of the chart. */
const SIDE_PX = 13;
/** Axes and padding round the drawing area. */
const [LEFT_PX, RIGHT_PX, TOP_PX, FOOT_PX] = [68, 24, 8, 26];

export class ProfileView {
  /** @param {HTMLElement} node @param {HTMLElement} pins @param {State} state */
  constructor(node, pins, state) {
    this.node = node;
    this.state = state;
    this.pins = pins;
    /** Whether the static and flowing lines stay in view while zooming. */
    this.heads = false;
    /** The exaggeration that is held. @type {number | null} */
    this.held = null;
    /** @type {import("./trouble.js").Span[]} */
    this.troubles = [];
    /** @type {import("./profile-data.js").Profile | null} */
    this.profile = null;
    this.exaggeration = 1;
    /** As the observer last saw it: asking the document in every drag would lay it out anew. */
    this.size = { width: node.clientWidth, height: node.clientHeight };
    /** @type {() => void} */
    this.painted = () => {};
    const unit = (/** @type {any} */ kind) => unitOf(kind, state.plan.units);
    const line = { paths: fewPoints, pxAlign: 0, points: { show: false } };
    this.chart = new uPlot(
      {
        width: 400,
        height: 200,
        legend: { show: false },
        padding: [TOP_PX, RIGHT_PX, 0, 0],
        cursor: { y: false, drag: { x: false, y: false }, points: { show: false } },
        scales: {
          x: { time: false, range: () => this.#across() },
          y: { range: () => this.#up() },
        },
        axes: [axis(() => unit("station"), FOOT_PX, 2), axis(() => unit("elevation"), LEFT_PX, 3)],
        series: [
          {},
          { ...line, stroke: () => css("--earth"), width: 1.6, fill: () => css("--earth-fill"), dash: [7, 3] },
          { ...line, stroke: () => css("--water"), width: 1.4, dash: [14, 4, 2, 4] },
          { ...line, stroke: () => css("--flowing"), width: 1.8, dash: [2, 3] },
          { ...line, stroke: () => css("--rating"), width: 1.4, dash: [9, 3] },
          { ...line, stroke: () => css("--mauve"), width: 1.3, dash: [2, 4] },
          { ...line, stroke: () => css("--mauve"), width: 1.3, dash: [2, 4] },
          { ...line, stroke: () => css("--pipe"), width: 2.6 },
        ],
        hooks: { draw: [(/** @type {any} */ chart) => this.#signs(chart), () => this.#cursor()] },
      },
      [[], [], [], [], [], [], [], []],
      node,
    );
    navigate(this.chart.over, state, { length: () => this.length, claim: () => false });
    node.addEventListener("keydown", (event) => keys(event, state, this.length));
    state.on("view", () => this.#redraw());
    state.on("hover", () => this.#cursor());
    state.on(["look", "plan"], () => this.update());
    new ResizeObserver(() => this.resize()).observe(node);
    for (const event of ["leatline:colours", "leatline:language"]) document.addEventListener(event, () => this.#redraw());
  }

  get length() {
    return this.state.model?.summary.plan_length_m ?? 1;
  }

  resize() {
    const { clientWidth: width, clientHeight: height } = this.node;
    this.size = { width, height };
    if (width > 40 && height > 40) {
      this.chart.setSize({ width, height });
      this.#redraw(); // heights are those of the room there is now
    }
  }

  update() {
    const { model, plan } = this.state;
    const drawn = (this.state.draft ?? plan.lines[plan.active].points).length >= 2;
    this.profile = model && drawn ? profileOf(model, plan.units) : null;
    this.troubles = model && drawn ? troubles(model) : [];
    const p = this.profile;
    const data = p ? [p.station, p.ground, p.level, p.flowing, p.rating, p.surgeMax, p.surgeMin, p.pipe] : [[], [], [], [], [], [], [], []];
    this.chart.setData(/** @type {any} */ (data));
  }

  /** Hold the exaggeration as it is, or let it follow the zoom. @param {boolean} hold */
  hold(hold) {
    this.held = hold ? this.exaggeration : null;
    this.#redraw();
  }

  #redraw() {
    this.chart.setScale("x", this.#scale());
  }

  /** @returns {[number, number]} */
  #across() {
    const { min, max } = this.#scale();
    return [min, max];
  }

  #scale() {
    const { units } = this.state.plan;
    const { view } = this.state;
    const [from, to] = view && view[0] < this.length ? view : [0, this.length];
    return { min: toShown(from, "station", units), max: toShown(to, "station", units) };
  }

  /** @returns {[number, number]} */
  #up() {
    const p = this.profile;
    if (!p) return [0, 100];
    const [from, to] = this.#across();
    const rows = this.#rows();
    const all = this.heads || !this.state.view;
    const kept = [p.ground, p.pipe, ...(this.heads ? [p.surgeMax, p.surgeMin] : []), ...(all ? [p.level, p.flowing] : [])];
    const crossed = all ? [] : [...(rows.includes("static") ? [p.level] : []), ...(rows.includes("flowing") ? [p.flowing] : [])];
    const [low, high] = roomFor(p.station, kept, crossed, from, to);
    const { width: clientWidth, height: clientHeight } = this.size;
    const whole = Math.max(60, clientHeight - TOP_PX - FOOT_PX);
    const foot = Math.max(SIGN_ROOM_PX, rows.length && rowsRoom(rows.length, whole));
    const top = SIGN_ROOM_PX + (this.state.model?.verdict.faults ? PIN_ROOM_PX : 0);
    const height = Math.max(24, whole - top - foot);
    const across = (to - from) / Math.max(60, clientWidth - LEFT_PX - RIGHT_PX);
    const { times, middle, per } = heightsFor(low, high, { across, height, held: this.held });
    this.exaggeration = times;
    const base = middle - per * (height / 2 + foot);
    return [base, base + per * whole];
  }

  /** Kinds of trouble in view. */
  #rows() {
    const [from, to] = this.state.view ?? [0, this.length];
    return rowsOf(this.troubles, from, to);
  }

  /** At the place in hand; the chart has its scales only once it is drawn. */
  #cursor() {
    const { hover, plan } = this.state;
    if (hover === null || !this.profile) {
      this.chart.setCursor({ left: -10, top: -10 }, false);
      return;
    }
    const left = this.chart.valToPos(toShown(Math.min(hover, this.length), "station", plan.units), "x");
    this.chart.setCursor({ left, top: 10 }, false);
  }

  /** @param {any} chart */
  #signs(chart) {
    const { model } = this.state;
    const p = this.profile;
    if (!p || !model) {
      tellDots("profile", 0);
      return this.#pins(chart, null);
    }
    const { units } = this.state.plan;
    const scale = window.devicePixelRatio || 1;
    const pen = /** @type {CanvasRenderingContext2D} */ (chart.ctx);
    const { bbox } = chart;
    pen.save();
    pen.beginPath();
    pen.rect(bbox.left - SIDE_PX * scale, bbox.top, bbox.width + 2 * SIDE_PX * scale, bbox.height);
    pen.clip();
    const x = (/** @type {number} */ m) => chart.valToPos(toShown(m, "station", units), "x", true);
    const y = (/** @type {number} */ m) => chart.valToPos(toShown(m, "elevation", units), "y", true);
    const dragged = this.state.draft !== null; // then a fitting may be of the answer before
    let dots = 0;
    this.#bridges(pen, model, x, y, scale);
    const label = drawTroubles(chart, model, this.troubles, { x, y, scale, rows: this.#rows(), units });
    for (const kind of /** @type {const} */ (["drain", "vent"])) {
      const way = kind === "vent" ? -1 : 1;
      const items = kind === "vent" ? model.vents : model.drains;
      const ordered = items.toSorted((a, b) => Number(b.need === "must") - Number(a.need === "must"));
      /** @type {number[]} */
      const taken = [];
      for (const item of ordered) {
        const [px, py] = [x(item.station_m), y(dragged ? pipeAt(model, item.station_m) : item.pipe_m)];
        if (px < bbox.left - 4 || px > bbox.left + bbox.width + 4) continue;
        const crowded = taken.some((other) => Math.abs(other - px) < (SIGN_PX + 1) * scale);
        pen.fillStyle = pen.strokeStyle = css(kind === "vent" ? "--water" : "--alert");
        pen.lineWidth = 1.2 * scale;
        pen.beginPath();
        pen.arc(px, py, 2.4 * scale, 0, 7);
        pen.fill();
        if (crowded) {
          dots += 1;
          continue;
        }
        taken.push(px);
        pen.beginPath();
        pen.moveTo(px, py);
        pen.lineTo(px, py + way * STEM_PX * scale);
        pen.stroke();
        drawSign(pen, kind, px, py + way * STEM_PX * scale, SIGN_PX * scale, item.id, item.need);
      }
    }
    label();
    pen.restore();
    if (!dragged) tellDots("profile", dots);
    this.#pins(chart, model);
    this.painted();
  }

  /** @param {any} chart @param {Model | null} model */
  #pins(chart, model) {
    const left = (/** @type {number} */ m) => LEFT_PX + chart.valToPos(toShown(m, "station", this.state.plan.units), "x");
    placePins(this.pins, this.state, model, left, this.state.view ?? [0, this.length], this.size.width - LEFT_PX - RIGHT_PX);
  }

  /** @param {CanvasRenderingContext2D} pen @param {Model} model @param {(m: number) => number} x @param {(m: number) => number} y @param {number} scale */
  #bridges(pen, model, x, y, scale) {
    for (const span of model.trench.spans) {
      for (const [colour, width] of /** @type {[string, number][]} */ ([["--pipe", 5.5], ["--chart-paper", 2]])) {
        pen.strokeStyle = css(colour);
        pen.lineWidth = width * scale;
        pen.beginPath();
        for (const m of [span.from_m, span.to_m]) pen.lineTo(x(m), y(pipeAt(model, m)));
        pen.stroke();
      }
    }
  }

  get exaggerationText() {
    return `heights x ${Number(this.exaggeration.toPrecision(3))}`;
  }
}

/** The level of the pipe at a station. @param {Model} model @param {number} station */
const pipeAt = ({ col }, station) => between(col.pipe_m, locate(col.station_m, station)) ?? 0;
