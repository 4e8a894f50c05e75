// @ts-check
/**
 * Contours as the service cuts them per tile, drawn crisp on canvas, every fifth one labelled. Each
 * tile becomes an image: a canvas of its own would be put together anew for each picture of the page.
 */

import * as L from "leaflet";

import { fixed } from "./units.js";
import { t } from "./words.js";

/** @typedef {{level: number, index: boolean, points: [number, number][]}} Contour */
/** @typedef {{interval: number, unit: string, lines: Contour[]}} ContourTile */

const INK = "#6b4a1f";
const ROOM_PX = 90;

/** @param {number} lon @param {number} lat @param {number} size world size [px] */
function pixel(lon, lat, size) {
  const sine = Math.sin((lat * Math.PI) / 180);
  return {
    x: ((lon + 180) / 360) * size,
    y: (0.5 - Math.log((1 + sine) / (1 - sine)) / (4 * Math.PI)) * size,
  };
}

/**
 * @param {string} base address of the tiles
 * @param {string} query what is asked of each
 * @param {any} options Leaflet's options for a grid
 */
export function contourLayer(base, query, options) {
  const Contours = L.GridLayer.extend({
    createTile(/** @type {any} */ coords, /** @type {(error: any, tile: HTMLElement) => void} */ done) {
      const image = new Image(256, 256);
      image.alt = "";
      fetch(`${base}/${coords.z}/${coords.x}/${coords.y}${query}`)
        .then((answer) => (answer.ok && answer.status !== 204 ? answer.json() : null))
        .then((tile) => tile && paint(image, tile, coords))
        .then(() => done(null, image), () => done(null, image));
      return image;
    },
  });
  return new /** @type {any} */ (Contours)({ updateWhenZooming: false, ...options });
}

/** @param {HTMLImageElement} image @param {ContourTile} tile @param {{x: number, y: number, z: number}} at */
async function paint(image, tile, at) {
  const scale = Math.min(3, window.devicePixelRatio || 1);
  const canvas = new OffscreenCanvas(256 * scale, 256 * scale);
  const pen = /** @type {OffscreenCanvasRenderingContext2D} */ (canvas.getContext("2d"));
  pen.scale(scale, scale);
  draw(pen, tile, at);
  image.src = URL.createObjectURL(await canvas.convertToBlob());
  await image.decode().finally(() => URL.revokeObjectURL(image.src));
}

/** @param {OffscreenCanvasRenderingContext2D} pen @param {ContourTile} tile @param {{x: number, y: number, z: number}} at */
function draw(pen, tile, at) {
  const world = 256 * 2 ** at.z;
  pen.strokeStyle = INK;
  pen.lineJoin = "round";
  /** @type {{line: Contour, track: {x: number, y: number}[]}[]} */
  const named = [];
  for (const line of tile.lines) {
    const track = line.points.map(([lon, lat]) => {
      const p = pixel(lon, lat, world);
      return { x: p.x - at.x * 256, y: p.y - at.y * 256 };
    });
    pen.globalAlpha = line.index ? 0.62 : 0.34;
    pen.lineWidth = line.index ? 1.15 : 0.7;
    pen.beginPath();
    track.forEach((p, i) => (i ? pen.lineTo(p.x, p.y) : pen.moveTo(p.x, p.y)));
    pen.stroke();
    if (line.index) named.push({ line, track });
  }
  /** @type {{x: number, y: number}[]} */
  const taken = [];
  for (const { line, track } of named) label(pen, line, track, taken);
}

/**
 * Write the level on a contour where it runs through the middle of the tile.
 * @param {OffscreenCanvasRenderingContext2D} pen @param {Contour} line @param {{x: number, y: number}[]} track
 * @param {{x: number, y: number}[]} taken
 */
function label(pen, line, track, taken) {
  let best = null;
  for (let i = 1; i < track.length; i += 1) {
    const x = (track[i].x + track[i - 1].x) / 2;
    const y = (track[i].y + track[i - 1].y) / 2;
    if (Math.min(x, y, 256 - x, 256 - y) < 26) continue;
    if (taken.some((p) => Math.hypot(p.x - x, p.y - y) < ROOM_PX)) continue;
    const off = Math.hypot(x - 128, y - 128);
    if (best === null || off < best.off) best = { off, x, y, i };
  }
  if (best === null) return;
  const from = track[Math.max(0, best.i - 3)];
  const to = track[Math.min(track.length - 1, best.i + 2)];
  if (Math.hypot(to.x - from.x, to.y - from.y) < 2) return;
  let angle = Math.atan2(to.y - from.y, to.x - from.x);
  if (Math.abs(angle) > Math.PI / 2) angle += Math.PI;
  const text = t(fixed(line.level, line.level % 1 ? 1 : 0));
  taken.push({ x: best.x, y: best.y });
  pen.save();
  pen.translate(best.x, best.y);
  pen.rotate(angle);
  pen.globalAlpha = 1;
  pen.font = "600 10.5px system-ui, 'Leatline letters', sans-serif";
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineWidth = 3.2;
  pen.strokeStyle = "rgba(250,248,240,.85)";
  pen.strokeText(text, 0, 0);
  pen.fillStyle = "#4d3414";
  pen.fillText(text, 0, 0);
  pen.restore();
}
