// @ts-check
/** The signs of the papers, for the map and the chart: shape before colour. */

export const COLOURS = {
  vent: "#0072B2",
  drain: "#D55E00",
  intake: "#56B4E9",
  powerhouse: "#E69F00",
  ground: "#8A6D3B",
  flowing: "#009E73",
};

/** Outlines in a box of 32 by 32. */
export const SHAPES = {
  vent: "M16 2 L30.5 28 H1.5 Z",
  drain: "M16 31 C8 25 3 20 3 13.5 A13 12.5 0 0 1 29 13.5 C29 20 24 25 16 31 Z",
};
/** What a level decides first is drawn half. */
const LEFT_HALF = {
  vent: "M16 2 L1.5 28 H16 Z",
  drain: "M16 31 C8 25 3 20 3 13.5 A13 12.5 0 0 1 16 1 Z",
};
const LETTER_Y = { vent: 25.5, drain: 19 };

/** @typedef {"vent" | "drain"} Kind */
/** @typedef {import("./types.js").Fitting["need"]} Need */

/** Side of a sign on the map [px]. */
export const SIGN_PX = 28;

/**
 * A sign of the map at the end of its leader line, as an SVG element that the line reaches out of.
 * @param {Kind} kind @param {string} label @param {Need} need @param {{x: number, y: number}} off from its place to the middle of the sign [px]
 */
export function signNode(kind, label, need, off) {
  const hollow = need !== "must";
  const colour = COLOURS[kind];
  const node = svg("svg", { viewBox: "0 0 32 32", width: SIGN_PX, height: SIGN_PX });
  node.append(
    ...leader(16, 16, off, 32 / SIGN_PX),
    svg("path", { d: SHAPES[kind], fill: "none", stroke: "#fff", "stroke-width": 5, "stroke-linejoin": "round" }),
    svg("path", { d: SHAPES[kind], fill: hollow ? "#fff" : colour, stroke: hollow ? colour : "#000", "stroke-width": hollow ? 2.6 : 1.6, "stroke-linejoin": "round" }),
    ...(need === "level" ? [svg("path", { d: LEFT_HALF[kind], fill: colour })] : []));
  const text = svg("text", {
    x: 16, y: LETTER_Y[kind], "text-anchor": "middle", fill: hollow ? "#000" : "#fff",
    style: `font:700 ${label.length <= 2 ? 12 : 10}px sans-serif${need === "level" ? ";paint-order:stroke;stroke:#fff;stroke-width:3px" : ""}`,
  });
  text.textContent = label;
  node.append(text);
  return node;
}

/** Looks of the plain marks: level to take, crossing. */
const PLAIN = { level: { fill: "#f0e442", edge: "#111" }, crossing: { fill: "#fff", edge: "#5d3a9b" } };

/**
 * A mark with a word in a box at the end of its leader line.
 * @param {keyof typeof PLAIN} kind @param {string} label @param {{x: number, y: number}} off @param {{wide: number, tall: number}} size [px]
 */
export function markNode(kind, label, off, { wide, tall }) {
  const { fill, edge } = PLAIN[kind];
  const node = svg("svg", { viewBox: `0 0 ${wide} ${tall}`, width: wide, height: tall });
  const text = svg("text", { x: wide / 2, y: tall / 2 + 3.6, "text-anchor": "middle", fill: "#111", style: "font:700 10px sans-serif" });
  text.textContent = label;
  node.append(...leader(wide / 2, tall / 2, off, 1),
    svg("rect", { x: 0.75, y: 0.75, width: wide - 1.5, height: tall - 1.5, fill, stroke: edge, "stroke-width": 1.5 }), text);
  return node;
}

/** @param {number} x @param {number} y middle of the sign @param {{x: number, y: number}} off @param {number} scale */
function leader(x, y, off, scale) {
  const line = { x1: x, y1: y, x2: x - off.x * scale, y2: y - off.y * scale, "pointer-events": "none" };
  return [svg("line", { ...line, stroke: "#fff", "stroke-width": 4 }), svg("line", { ...line, stroke: "#111", "stroke-width": 1.5 })];
}

/** @param {string} name @param {Record<string, string | number>} attributes */
export function svg(name, attributes) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, String(value));
  return node;
}

/** Signs as they were drawn: a line being dragged shows the same ones many times a second. @type {Map<string, ImageBitmap>} */
const pictures = new Map();
const MOST_PICTURES = 600;
/** Room for the edge of a sign, in its box of 32 by 32. */
const EDGE = 1;

/**
 * Draw a sign on a canvas with its point at (x, y).
 * @param {CanvasRenderingContext2D} pen @param {Kind} kind @param {number} x @param {number} y
 * @param {number} size @param {string} label @param {Need} need
 */
export function drawSign(pen, kind, x, y, size, label, need) {
  const key = [kind, size, need, label].join(" ");
  let picture = pictures.get(key);
  if (!picture) {
    if (pictures.size > MOST_PICTURES) pictures.clear();
    picture = pictured(kind, size, label, need);
    pictures.set(key, picture);
  }
  const edge = (EDGE * size) / 32;
  pen.drawImage(picture, Math.round(x - size / 2 - edge), Math.round((kind === "vent" ? y - size : y) - edge));
}

/** @param {Kind} kind @param {number} size @param {string} label @param {Need} need */
function pictured(kind, size, label, need) {
  const hollow = need !== "must";
  const side = Math.ceil(size * (1 + EDGE / 16));
  const canvas = new OffscreenCanvas(side, side);
  const pen = /** @type {OffscreenCanvasRenderingContext2D} */ (canvas.getContext("2d"));
  pen.scale(size / 32, size / 32);
  pen.translate(EDGE, EDGE);
  const shape = new Path2D(SHAPES[kind]);
  pen.fillStyle = hollow ? "#fff" : COLOURS[kind];
  pen.strokeStyle = hollow ? COLOURS[kind] : "#000";
  pen.lineWidth = hollow ? 2.6 : 1.6;
  pen.lineJoin = "round";
  pen.fill(shape);
  pen.stroke(shape);
  pen.fillStyle = COLOURS[kind];
  if (need === "level") pen.fill(new Path2D(LEFT_HALF[kind]));
  pen.fillStyle = hollow ? "#000" : "#fff";
  pen.font = `700 ${label.length <= 2 ? 12 : 10}px sans-serif`;
  pen.textAlign = "center";
  pen.strokeStyle = "#fff";
  pen.lineWidth = 3;
  if (need === "level") pen.strokeText(label, 16, LETTER_Y[kind]);
  pen.fillText(label, 16, LETTER_Y[kind]);
  return canvas.transferToImageBitmap();
}
