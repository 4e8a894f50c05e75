// @ts-check
/** Bands between the long section and the trench: one row each for grades, pipes, and what is no trench. */

import { bandsOf } from "./bands.js";
import { css } from "./chart.js";
import { t } from "./words.js";

/** @typedef {import("./state.js").State} State */

/** Where the chart's drawing area begins and how far from the right it ends, as in the long section [px]. */
const [LEFT_PX, RIGHT_PX] = [68, 24];
const ROW_PX = 14;
const FONT = "10.5px system-ui, 'Leatline letters', sans-serif";
const PAD_PX = 4;
/** Fill and ink of each look. @type {Record<string, [string, string]>} */
const LOOKS = {
  even: ["--trench-fill", "--chart-ink"], odd: ["--earth-fill", "--chart-ink"], rise: ["--alert-wash", "--alert"],
  span: ["--chart-paper", "--chart-ink"], across: ["--mauve", "--chart-ink"], land: ["--offer-fill", "--chart-ink"], "no-go": ["--danger", "--chart-paper"],
};

/** What has room beside it for its words where it is too short for them. */
const BESIDE = ["across", "land", "no-go"];
/** A road or a stream is crossed at one station: so wide it is drawn [px]. */
const TICK_PX = 4;

export class BandsView {
  /** @param {HTMLCanvasElement} node @param {State} state @param {import("./profile-view.js").ProfileView} profile */
  constructor(node, state, profile) {
    this.node = node;
    this.state = state;
    this.profile = profile;
    this.frame = 0;
    this.wide = 0;
    state.on(["model", "plan", "view"], () => this.#soon());
    new ResizeObserver(([entry]) => {
      this.wide = Math.round(entry.contentRect.width);
      this.#soon();
    }).observe(/** @type {HTMLElement} */ (node.parentElement));
    for (const event of ["leatline:colours", "leatline:language"]) document.addEventListener(event, () => this.draw());
    node.addEventListener("mousemove", (event) => this.#point(event));
  }

  /** Draw once a frame, and not while the line is dragged. */
  #soon() {
    if (this.state.draft && this.node.height > 1) return;
    this.frame ||= requestAnimationFrame(() => {
      this.frame = 0;
      this.draw();
    });
  }

  get rows() {
    const { model } = this.state;
    return model && this.profile.profile ? bandsOf(model) : [];
  }

  /** @param {number} x [px] */
  #station(x) {
    const [from, to] = this.state.view ?? [0, this.profile.length];
    return from + ((to - from) * (x - LEFT_PX)) / Math.max(1, this.wide - LEFT_PX - RIGHT_PX);
  }

  /** @param {MouseEvent} event */
  #point(event) {
    const station = this.#station(event.offsetX);
    if (station < 0 || station > this.profile.length) return;
    this.state.setHover(station);
    const row = this.rows[Math.floor(event.offsetY / ROW_PX)];
    const near = Math.abs(this.#station(TICK_PX) - this.#station(0));
    const found = row?.stretches.findLast(({ from, to }) => station >= from - near && station <= to + near);
    this.node.title = found ? [row.name, found.words].filter(Boolean).join(": ") : "";
  }

  draw() {
    const { rows, node, wide } = this;
    const tall = rows.length * ROW_PX;
    const scale = window.devicePixelRatio || 1;
    node.style.height = `${tall}px`;
    node.style.width = `${wide}px`;
    Object.assign(node, { width: wide * scale, height: Math.max(1, tall * scale) });
    const pen = /** @type {CanvasRenderingContext2D} */ (node.getContext("2d"));
    pen.scale(scale, scale);
    pen.font = FONT;
    pen.textBaseline = "middle";
    const [from, to] = this.state.view ?? [0, this.profile.length];
    const right = wide - RIGHT_PX;
    const x = (/** @type {number} */ m) => LEFT_PX + ((m - from) / (to - from)) * (right - LEFT_PX);
    rows.forEach(({ name, stretches }, i) => {
      const middle = i * ROW_PX + ROW_PX / 2;
      pen.fillStyle = css("--chart-ink");
      pen.textAlign = "right";
      pen.fillText(t(name), LEFT_PX - 8, middle);
      pen.textAlign = "center";
      for (const stretch of stretches) {
        const half = stretch.look === "across" ? TICK_PX / 2 : 0;
        const [a, b] = [Math.max(LEFT_PX, x(stretch.from) - half), Math.min(right, x(stretch.to) + half)];
        if (b <= LEFT_PX || a >= right || b - a < 0.5) continue;
        const [fill, ink] = LOOKS[stretch.look];
        pen.fillStyle = css(fill);
        pen.fillRect(a, i * ROW_PX + 1, b - a, ROW_PX - 2);
        if (stretch.look === "span") bridge(pen, a, b, i * ROW_PX);
        const text = [stretch.words, stretch.short].map(t).find((words) => words && pen.measureText(words).width < b - a - PAD_PX);
        pen.fillStyle = css(ink);
        if (text) pen.fillText(text, (a + b) / 2, middle);
        else if (BESIDE.includes(stretch.look)) beside(pen, t(stretch.words), b, middle, freeAfter(stretch, stretches, x, right));
        if (half) continue;
        pen.fillStyle = css("--chart-paper");
        pen.fillRect(b - 0.5, i * ROW_PX + 1, 1, ROW_PX - 2);
      }
    });
  }
}

/** A bridge as in the long section: two lines with air between. @param {CanvasRenderingContext2D} pen @param {number} a @param {number} b @param {number} top */
function bridge(pen, a, b, top) {
  pen.fillStyle = css("--pipe");
  for (const y of [top + 1, top + ROW_PX - 3]) pen.fillRect(a, y, b - a, 2);
}

/** Up to where nothing stands to the right of a stretch. @param {import("./bands.js").Stretch} stretch @param {import("./bands.js").Stretch[]} all @param {(m: number) => number} x @param {number} right */
const freeAfter = (stretch, all, x, right) =>
  Math.min(right, ...all.filter((each) => each !== stretch && each.to > stretch.to).map(({ from }) => x(from)));

/** Words to the right of what is too short for them, where nothing else stands. @param {CanvasRenderingContext2D} pen @param {string} words @param {number} b @param {number} middle @param {number} free */
function beside(pen, words, b, middle, free) {
  if (b + 2 * PAD_PX + pen.measureText(words).width > free) return;
  pen.fillStyle = css("--chart-ink");
  pen.textAlign = "left";
  pen.fillText(words, b + PAD_PX, middle);
  pen.textAlign = "center";
}
