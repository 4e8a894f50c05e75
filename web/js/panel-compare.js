// @ts-check
/** The lines of a study side by side, their profiles overlaid. */

import uPlot from "uplot";

import { ask } from "./ask.js";
import { axis, css } from "./chart.js";
import { ROWS, best, cell, difference, differences, outOfReach, overlaid, pipeList } from "./compare.js";
import { byId, element } from "./dom.js";
import { group } from "./fields.js";
import { complete, previewBody } from "./plan.js";
import { show, unitOf } from "./units.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./compare.js").Entry} Entry */

const WAIT_MS = 250;
const INKS = ["--pipe", "--water", "--alert", "--flowing", "--mauve", "--earth"];
const DASHES = [[], [8, 3], [2, 3], [12, 3, 2, 3], [5, 2], [1, 4]];

export class Comparison {
  /** @param {State} state */
  constructor(state) {
    this.state = state;
    /** @type {any} */
    this.chart = null;
    this.table = element("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Lines side by side" });
    this.words = element("ul", { class: "rows" });
    this.plot = element("div", { class: "overlay", role: "img", "aria-label": "Pipe profiles overlaid" });
    byId("panel-compare").append(
      group("Side by side", this.table), group("Profiles overlaid", this.plot),
      group("What sets them apart", this.words));
    let timer = 0;
    const soon = () => {
      clearTimeout(timer);
      if (!byId("panel-compare").hidden) timer = window.setTimeout(() => this.draw(), WAIT_MS);
    };
    state.on("plan", soon);
    document.addEventListener("leatline:tab", soon);
  }

  async draw() {
    const { plan } = this.state;
    const lines = plan.lines.filter((line) => complete(plan, line.points));
    if (!this.words.children.length) this.words.replaceChildren(element("li", { class: "empty" }, "Working the lines out …"));
    try {
      const models = await Promise.all(lines.map((line) => ask(previewBody(plan, line), true)));
      if (plan !== this.state.plan) return;
      const entries = lines.map((line, i) => ({ name: line.name, model: models[i] }));
      this.#table(entries);
      this.#overlay(entries);
      this.words.replaceChildren(...(entries.length > 1
        ? differences(entries, plan.units).map((text) => element("li", {}, text))
        : [element("li", { class: "empty" }, "One line so far. “Copy this line” on the Line page makes a second to change.")]));
    } catch (error) {
      this.words.replaceChildren(element("li", { class: "empty" }, /** @type {Error} */ (error).message));
    }
  }

  /** @param {Entry[]} entries */
  #table(entries) {
    const { units } = this.state.plan;
    const row = (/** @type {string} */ label, /** @type {string[]} */ cells, /** @type {number[]} */ marked, key = "", /** @type {string[]} */ gaps = [], /** @type {string[]} */ out = []) =>
      element("tr", {}, element("th", { scope: "row" },
        key ? element("button", { type: "button", class: "number", "data-where": key }, label) : label),
        ...cells.map((text, i) => element("td", marked.includes(i) ? { class: "best" } : {}, out[i] ? element("s", {}, text) : text,
          ...(out[i] || gaps[i] ? [element("span", { class: "gap" }, out[i] || gaps[i])] : []))));
    const body = ROWS.map((each) => {
      const { label, key, kind, better, value } = each;
      const values = entries.map(({ model }) => value(model));
      const out = entries.map(({ model }) => outOfReach(each, model));
      const told = (/** @type {number | null} */ v) => cell(v, kind, units);
      return row(label, values.map(told), best(values.map((v, i) => (out[i] ? null : v)), better, told), key, values.map((v, i) => (i && !out[0] ? difference(values[0], v, kind, units) : "")), out);
    });
    const pipes = entries.map(({ model }) => [...pipeList(model)].map(([label, length]) => `${label}: ${show(length, "length", units)}`).join("; "));
    body.push(row("Pipe list", pipes, []));
    const costs = entries.map(({ model }) => model.cost);
    if (costs.some(Boolean)) {
      const totals = costs.map((cost) => cost?.total ?? null);
      body.push(row("Cost", costs.map((cost) => cell(cost?.total ?? null, "money", units, cost?.currency)), best(totals, -1), "", totals.map((v, i) => (i ? difference(totals[0], v, "money", units, costs[i]?.currency) : ""))));
      body.push(row("Not priced", costs.map((cost) => cost?.not_priced.join("; ") ?? "–"), []));
    }
    const head = element("tr", {}, element("td", {}), ...entries.map(({ name }, i) => {
      const key = element("span", { class: `ink ink-${i % INKS.length}`, "aria-hidden": "true" });
      return element("th", { scope: "col" }, key, name);
    }));
    this.table.replaceChildren(element("table", { class: "compare" }, element("thead", {}, head), element("tbody", {}, ...body)));
  }

  /** @param {Entry[]} entries */
  #overlay(entries) {
    this.chart?.destroy();
    this.chart = null;
    if (!entries.length) return;
    const { units } = this.state.plan;
    this.chart = new uPlot({
      width: Math.max(260, this.plot.clientWidth), height: 190, legend: { show: false }, padding: [8, 10, 0, 0],
      cursor: { show: false },
      scales: { x: { time: false } },
      axes: [axis(() => unitOf("station", units), 26, 2), axis(() => unitOf("elevation", units), 58, 3)],
      series: [{}, ...entries.map((_, i) => ({
        stroke: () => css(INKS[i % INKS.length]), width: 2, dash: DASHES[i % DASHES.length], spanGaps: true, points: { show: false },
      }))],
    }, /** @type {any} */ (overlaid(entries, units)), this.plot);
  }
}
