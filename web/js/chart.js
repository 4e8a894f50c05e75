// @ts-check
/** What the charts share: look, zoom and pan by mouse, touch and keys. */

import { columnsOf, thinned } from "./geometry.js";
import { within, zoomed } from "./profile-data.js";
import { t } from "./words.js";

/** @typedef {import("./state.js").State} State */

/** Colours as the scheme of the moment has them; a canvas knows no custom properties. */
const known = new Map();
/** Forget the colours and have all that is drawn drawn anew. */
export function recolour() {
  known.clear();
  document.dispatchEvent(new Event("leatline:colours"));
}
for (const asked of ["(prefers-color-scheme: dark)", "(forced-colors: active)"]) matchMedia(asked).addEventListener("change", recolour);

/** @param {string} name of a custom property of the style sheet @returns {string} */
export function css(name) {
  let colour = known.get(name);
  if (!colour) {
    const probe = document.body.appendChild(document.createElement("i"));
    probe.style.color = `var(${name})`;
    probe.style.forcedColorAdjust = "none"; // a drawing in one colour would be none
    colour = getComputedStyle(probe).color;
    probe.remove();
    known.set(name, colour);
  }
  return colour;
}

const FONT = "12px system-ui, 'Leatline letters', sans-serif";

/** @param {() => string} label @param {number} size @param {number} side */
export const axis = (label, size, side) => ({
  side,
  size,
  stroke: () => css("--chart-ink"),
  grid: { stroke: () => css("--chart-grid"), width: 1 },
  ticks: { stroke: () => css("--chart-grid"), width: 1, size: 5 },
  font: FONT,
  gap: side === 3 ? 13 : 4,
  values: (/** @type {any} */ _chart, /** @type {number[]} */ splits) =>
    splits.map((value, i) => `${t(String(Number(value.toFixed(6))))}${i === splits.length - 1 ? ` ${label()}` : ""}`),
});

/** How far a drawn line may pass a station [px]; a stroke costs by the number of its points. */
const UNSEEN_PX = 0.35;

/** Pixels of a scale, which is even. @param {any} chart @param {string} name @returns {(value: number) => number} */
function pixels(chart, name) {
  const { min, max } = chart.scales[name];
  const first = chart.valToPos(min, name, true);
  const per = (chart.valToPos(max, name, true) - first) / (max - min);
  return (value) => first + (value - min) * per;
}

/**
 * The path of a series with no more points than the eye can tell, filled to the foot of the chart;
 * in the way of the chart library.
 * @param {any} chart @param {number} index of the series @param {number} from @param {number} to
 * @returns {any}
 */
export function fewPoints(chart, index, from, to) {
  const [x, y] = [pixels(chart, "x"), pixels(chart, "y")];
  const [stations, values] = [chart.data[0], chart.data[index]];
  const stroke = new Path2D();
  const fill = new Path2D();
  const foot = chart.bbox.top + chart.bbox.height;
  for (let i = from; i <= to; i += 1) {
    const [across, up] = [/** @type {number[]} */ ([]), /** @type {number[]} */ ([])];
    for (; i <= to && values[i] !== null; i += 1) {
      across.push(x(stations[i]));
      up.push(y(values[i]));
    }
    const kept = thinned(across, up, UNSEEN_PX * devicePixelRatio);
    if (!kept.length) continue;
    for (const path of [stroke, fill]) {
      path.moveTo(across[0], up[0]);
      for (const k of kept) path.lineTo(across[k], up[k]);
    }
    fill.lineTo(/** @type {number} */ (across.at(-1)), foot);
    fill.lineTo(across[0], foot);
  }
  return { stroke, fill: chart.series[index].fill ? fill : null, clip: null, band: null, gaps: null, flags: 1 };
}

/**
 * The same, filled to another series instead: as one outline, since a path for a clip costs a
 * browser without a graphics card many times as much as one that is filled.
 * @param {number} other index of that series @returns {typeof fewPoints}
 */
export const fewPointsTo = (other) => (chart, index, from, to) => {
  const [x, y] = [pixels(chart, "x"), pixels(chart, "y")];
  const [stations, near, far] = [0, index, other].map((k) => chart.data[k]);
  const fill = new Path2D();
  for (let i = from; i <= to; i += 1) {
    /** @type {[number[], number[], number[]]} */
    const [across, there, back] = [[], [], []];
    for (; i <= to && near[i] !== null && far[i] !== null; i += 1) {
      across.push(x(stations[i]));
      there.push(y(near[i]));
      back.push(y(far[i]));
    }
    if (!across.length) continue;
    const off = UNSEEN_PX * devicePixelRatio;
    fill.moveTo(across[0], there[0]);
    for (const k of thinned(across, there, off)) fill.lineTo(across[k], there[k]);
    for (const k of thinned(across, back, off).reverse()) fill.lineTo(across[k], back[k]);
    fill.closePath();
  }
  return { ...fewPoints(chart, index, from, to), fill };
};

/** From so many stations a pixel on lines are drawn column by column of pixels [-]. */
const DENSE = 1.5;

/** Whether more stations are in view than a path can show. @param {any} chart */
export function dense({ series, bbox }) {
  const [from, to] = series[0].idxs ?? [0, 0];
  return to - from > (DENSE * bbox.width) / devicePixelRatio;
}

/**
 * Draw two dense lines and what lies between them, a column of pixels at a time: without a graphics
 * card paths of more points than pixels cost ten times as much.
 * @param {any} chart @param {number[]} pair indices of the series @param {{ink: string, fill: string, thick: number}} look thickness of the lines [px]
 */
export function drawDense(chart, pair, { ink, fill, thick }) {
  const pen = /** @type {CanvasRenderingContext2D} */ (chart.ctx);
  const { left, top, width, height } = chart.bbox;
  const [first, count] = [Math.floor(left), Math.ceil(width) + 1];
  const [x, y] = [pixels(chart, "x"), pixels(chart, "y")];
  const across = Float64Array.from(chart.data[0], x);
  const lines = pair.map((k) => columnsOf(across, chart.data[k].map((/** @type {number | null} */ value) => (value === null ? null : y(value))), first, count));
  const most = thick * devicePixelRatio;
  const [upper, lower] = lines;
  pen.save();
  pen.beginPath();
  pen.rect(left, top, width, height);
  pen.clip();
  pen.fillStyle = fill;
  for (let k = 0; k < count; k += 1) {
    const from = (upper.low[k] + upper.high[k]) / 2;
    const tall = (lower.low[k] + lower.high[k]) / 2 - from;
    if (Number.isFinite(tall)) pen.fillRect(first + k, from, 1, tall);
  }
  pen.fillStyle = ink;
  for (const { low, high } of lines)
    for (let k = 0; k < count; k += 1)
      if (low[k] <= high[k]) pen.fillRect(first + k, low[k] - most / 2, 1, high[k] - low[k] + most);
  pen.restore();
}

const WHEEL = 1.0016;
const KEY_ZOOM = 0.7;

/**
 * Zoom and pan the stretch in view with the pointer over a chart.
 * @param {HTMLElement} over the chart's drawing area
 * @param {State} state
 * @param {{length: () => number, claim: (event: PointerEvent) => boolean}} options length of the
 *   line [m]; ``claim`` takes a press for itself, such as on a line that can be dragged
 */
export function navigate(over, state, { length, claim }) {
  /** @type {Map<number, number>} */
  const fingers = new Map();
  /** @type {{x: number, view: [number, number]} | null} */
  let pan = null;
  const view = () => state.view ?? /** @type {[number, number]} */ ([0, length()]);
  const stationAt = (/** @type {number} */ x) => {
    const [from, to] = view();
    return from + ((to - from) * x) / over.clientWidth;
  };
  const xOf = (/** @type {PointerEvent | WheelEvent} */ event) => event.clientX - over.getBoundingClientRect().left;

  over.addEventListener("wheel", (event) => {
    event.preventDefault();
    const sideways = Math.abs(event.deltaX) > Math.abs(event.deltaY);
    const [from, to] = view();
    if (sideways) {
      const shift = ((to - from) * event.deltaX) / over.clientWidth;
      state.setView(state.view && within([from + shift, to + shift], length()));
    } else state.setView(zoomed([from, to], stationAt(xOf(event)), WHEEL ** event.deltaY, length()));
  }, { passive: false });

  over.addEventListener("pointerdown", (event) => {
    if (claim(event)) return;
    fingers.set(event.pointerId, xOf(event));
    over.setPointerCapture(event.pointerId);
    if (event.pointerType === "mouse" && state.view) pan = { x: xOf(event), view: state.view };
    if (event.pointerType !== "mouse") state.setHover(stationAt(xOf(event)));
  });
  over.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (before === undefined) return;
    const x = xOf(event);
    if (fingers.size === 2) {
      const [other] = [...fingers].filter(([id]) => id !== event.pointerId).map(([, at]) => at);
      const factor = Math.abs(before - other) / Math.max(8, Math.abs(x - other));
      state.setView(zoomed(view(), stationAt((x + other) / 2), factor, length()));
      fingers.set(event.pointerId, x);
    } else if (pan) {
      const shift = ((pan.x - x) * (pan.view[1] - pan.view[0])) / over.clientWidth;
      state.setView(within([pan.view[0] + shift, pan.view[1] + shift], length()));
    } else if (event.pointerType !== "mouse") state.setHover(stationAt(x));
  });
  const up = (/** @type {PointerEvent} */ event) => {
    fingers.delete(event.pointerId);
    pan = null;
  };
  over.addEventListener("pointerup", up);
  over.addEventListener("pointercancel", up);
  over.addEventListener("mousemove", (event) => {
    const x = event.clientX - over.getBoundingClientRect().left;
    if (!pan) state.setHover(Math.min(length(), Math.max(0, stationAt(x))));
  });
}

/**
 * Keys on the profile, those of a slider: arrows walk along the line, with Shift or as pages ten
 * times as far; plus and minus zoom, zero shows it whole.
 * @param {KeyboardEvent} event @param {State} state @param {number} length
 */
export function keys(event, state, length) {
  const [from, to] = state.view ?? [0, length];
  const at = state.hover ?? from;
  const page = (to - from) / 20;
  const step = event.shiftKey ? page : page / 10;
  /** @type {Record<string, () => void>} */
  const acts = {
    ArrowLeft: () => walk(at - step),
    ArrowRight: () => walk(at + step),
    ArrowDown: () => walk(at - step),
    ArrowUp: () => walk(at + step),
    PageDown: () => walk(at - page),
    PageUp: () => walk(at + page),
    Home: () => walk(0),
    End: () => walk(length),
    "+": () => state.setView(zoomed([from, to], at, KEY_ZOOM, length)),
    "=": () => state.setView(zoomed([from, to], at, KEY_ZOOM, length)),
    "-": () => state.setView(zoomed([from, to], at, 1 / KEY_ZOOM, length)),
    0: () => state.setView(null),
  };
  const act = acts[event.key];
  if (!act) return;
  event.preventDefault();
  act();

  /** @param {number} station */
  function walk(station) {
    const next = Math.min(length, Math.max(0, station));
    if (state.view && (next < from || next > to)) {
      const shift = next < from ? next - from : next - to;
      state.setView(within([from + shift, to + shift], length));
    }
    state.setHover(next);
  }
}
