// @ts-check
/** Red on the long section: stretches in trouble, and faults pinned at their station. */

import { css } from "./chart.js";
import { element } from "./dom.js";
import { between, locate } from "./geometry.js";
import { LINE_PX, LOW_ROW_PX, ROW_PX, inLines, rowsApart } from "./profile-rows.js";
import { look } from "./panel-trench.js";
import { settingWords } from "./setting-words.js";
import { pinned, words } from "./trouble.js";
import { show } from "./units.js";
import { t } from "./words.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./types.js").Model} Model */
/** @typedef {import("./trouble.js").Span} Span */

/** More room on top for the pins. */
export const PIN_ROOM_PX = 9;
const BAR_PX = 6;
const LEAST_PX = 4;
const PIN_PX = 24;
const NEAR_M = 15;
/** Kinds that the pipe itself is drawn red for; the others are of the trench. */
const ON_PIPE = ["static", "flowing", "rating"];

/** Kinds of trouble in view, one row of bars each. @param {Span[]} spans @param {number} from @param {number} to */
export const rowsOf = (spans, from, to) => [...new Set(spans.filter((span) => span.to >= from && span.from <= to).map(({ kind }) => kind))];

/**
 * @param {{ctx: CanvasRenderingContext2D, bbox: any}} chart @param {Model} model @param {Span[]} spans
 * @param {{x: (m: number) => number, y: (m: number) => number, scale: number, rows: string[], units: import("./units.js").Units}} how
 */
export function drawTroubles({ ctx: pen, bbox }, model, spans, { x, y, scale, rows, units }) {
  pen.save();
  pen.beginPath();
  pen.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  pen.clip();
  pen.lineCap = "round";
  const labelled = new Map();
  const own = rowsApart(rows.length, bbox.height / scale);
  const tall = own ? ROW_PX : LOW_ROW_PX;
  for (const span of spans) {
    const [a, b] = [Math.max(bbox.left, x(span.from)), Math.min(bbox.left + bbox.width, x(span.to))];
    if (b < bbox.left || a > bbox.left + bbox.width) continue;
    pen.strokeStyle = pen.fillStyle = css("--danger");
    if (ON_PIPE.includes(span.kind)) reddened(pen, model, span, x, y, scale);
    const row = rows.indexOf(span.kind);
    const top = bbox.top + bbox.height - (rows.length - row) * tall * scale;
    const width = Math.max(LEAST_PX * scale, b - a);
    pen.fillRect(a, top + (tall - BAR_PX - 2) * scale, width, BAR_PX * scale);
    const worst = labelled.get(span.kind);
    if (!worst || span.worst > worst.span.worst) labelled.set(span.kind, { span, a, top });
  }
  pen.restore();
  return () => labels(pen, bbox, rows.flatMap((kind) => labelled.get(kind) ?? []), { scale, rows: rows.length, units });
}

/** What is the matter, over the signs. @param {CanvasRenderingContext2D} pen @param {any} bbox @param {{span: Span, a: number, top: number}[]} found @param {{scale: number, rows: number, units: import("./units.js").Units}} how */
function labels(pen, bbox, found, { scale, rows, units }) {
  pen.save();
  pen.textAlign = "left";
  pen.font = `650 ${11.5 * scale}px system-ui, 'Leatline letters', sans-serif`;
  const own = rowsApart(rows, bbox.height / scale);
  const left = bbox.left + 4 * scale;
  const texts = found.map(({ span, a, top }) => ({ text: t(words(span, units)), a, top }));
  const wide = (/** @type {string} */ text) => pen.measureText(text).width;
  if (own) for (const { text, a, top } of texts) haloed(pen, text, Math.max(left, Math.min(a, bbox.left + bbox.width - wide(text) - 4 * scale)), top + 11 * scale, scale);
  else {
    const lines = inLines(texts.map(({ text }) => text), (text) => wide(text) <= bbox.width - 8 * scale);
    const foot = bbox.top + bbox.height - rows * LOW_ROW_PX * scale;
    lines.forEach((text, i) => haloed(pen, text, left, foot - ((lines.length - 1 - i) * LINE_PX + 3) * scale, scale));
  }
  pen.restore();
}

/** @param {CanvasRenderingContext2D} pen @param {string} text @param {number} x @param {number} y @param {number} scale */
function haloed(pen, text, x, y, scale) {
  pen.strokeStyle = css("--chart-paper");
  pen.lineWidth = 4 * scale;
  pen.fillStyle = css("--danger");
  pen.strokeText(text, x, y);
  pen.fillText(text, x, y);
}

/** @param {CanvasRenderingContext2D} pen @param {Model} model @param {Span} span @param {(m: number) => number} x @param {(m: number) => number} y @param {number} scale */
function reddened(pen, model, { from, to }, x, y, scale) {
  const { station_m: station, pipe_m: pipe } = model.col;
  const point = (/** @type {number} */ m) => pen.lineTo(x(m), y(between(pipe, locate(station, m)) ?? 0));
  pen.lineWidth = 5 * scale;
  pen.beginPath();
  point(from);
  for (let i = locate(station, from).high; station[i] < to; i += 1) point(station[i]);
  point(to);
  pen.stroke();
}

/**
 * Pins over the chart; pressed, they bring their place into view.
 * @param {HTMLElement} node @param {State} state @param {Model | null} model @param {(m: number) => number} left of a station [px]
 * @param {[number, number]} view @param {number} width [px]
 */
export function placePins(node, state, model, left, view, width) {
  const near = ((view[1] - view[0]) * PIN_PX) / Math.max(1, width);
  const pins = model ? pinned(model, near).filter(({ station }) => station >= view[0] && station <= view[1]) : [];
  const key = JSON.stringify([state.plan.units, pins]);
  if (node.dataset.key !== key) node.replaceChildren(...pins.map((pin) => pinNode(state, pin)));
  node.dataset.key = key;
  pins.forEach(({ station }, i) => {
    const { style } = /** @type {HTMLElement} */ (node.children[i]);
    const at = `${Math.round(left(station))}px`;
    if (style.left !== at) style.left = at;
  });
}

/** @param {State} state @param {ReturnType<typeof pinned>[number]} pin */
function pinNode(state, { station, messages }) {
  const where = show(station, "station", state.plan.units);
  const many = messages.length > 1 ? `${messages.length} faults at ${where}:` : `Fault at ${where}:`;
  const text = `${many} ${settingWords(messages.join(" "))}`;
  const node = element("button", { type: "button", class: "pin", "aria-label": text, title: text },
    element("span", {}, messages.length > 1 ? String(messages.length) : "!"));
  node.addEventListener("click", () => look(state, station - NEAR_M, station + NEAR_M));
  return node;
}
