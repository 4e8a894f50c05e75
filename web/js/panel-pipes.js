// @ts-check
/** Which pipe for this line: the best of the catalogue, tried by the full study, while the line is at rest. */

import * as api from "./api.js";
import { costWords, pipesOf, reasons, rowWords } from "./choice.js";
import { byId, element } from "./dom.js";
import { button, group, swap } from "./fields.js";
import { Live } from "./live.js";
import { activeLine, complete, previewBody, withLine, withPipes } from "./plan.js";
import { troubles } from "./trouble.js";
import { show } from "./units.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./choice.js").Choice} Choice */

const BEST = 5;
const WAIT_MS = 150;

/** Answers of the service for the plan in hand; a plan is asked for once. */
export class Trial {
  /** @param {State} state */
  constructor(state) {
    this.state = state;
    /** @type {{key: string, choice: Choice, ms: number} | null} */
    this.last = null;
    this.trouble = "";
    /** @type {(() => void)[]} */
    this.heard = [];
    this.live = new Live(
      async (/** @type {{key: string, body: any, sizes: boolean}} */ { key, body, sizes }) => {
        const began = performance.now();
        return { key, choice: await api.choosePipes(body, sizes), ms: performance.now() - began };
      },
      (answer) => this.#told(answer, ""),
      (error) => {
        this.#told(null, error.message);
        return "drop";
      },
    );
  }

  /** @param {Trial["last"]} answer @param {string} trouble */
  #told(answer, trouble) {
    this.last = answer;
    this.trouble = trouble;
    for (const hear of this.heard) hear();
  }

  /** What is asked now, or why nothing can be. */
  get question() {
    const { plan } = this.state;
    const line = activeLine(plan);
    if (!complete(plan, line.points)) return { why: "No line yet." };
    if (!line.settings.flow?.design) return { why: "Give the design flow: a pipe is chosen by what it loses." };
    const body = previewBody(plan, line);
    return { body, key: JSON.stringify({ ...body, settings: { ...body.settings, pipe: undefined } }) };
  }

  /** @param {boolean} sizes */
  ask(sizes) {
    const { body, key } = this.question;
    if (!body || !key) return;
    if (this.last?.key === key && (!sizes || this.last.choice.diameters || this.last.choice.class_line)) return;
    this.live.want({ body, key, sizes });
    for (const hear of this.heard) hear();
  }

  /** The answer to the plan as it is, or null. */
  get choice() {
    return this.last && this.last.key === this.question.key ? this.last.choice : null;
  }
}

/** @param {State} state @param {Trial} trial @param {() => void} openAll */
export function pipesGroup(state, trial, openAll) {
  const told = element("p", { class: "hint", role: "status" });
  const list = element("ol", { class: "tried" });
  const against = element("ul", { class: "rows", "aria-label": "What turns pipes down" });
  const several = element("div", {});
  const all = button("All of them …", openAll, { "data-key": "all-pipes" });
  const sizes = button("Several sizes along the line", () => trial.ask(true), { "data-key": "several-sizes" });
  const draw = () => {
    if (byId("panel-water").hidden) return;
    const { choice } = trial;
    const { why } = trial.question;
    const { units } = state.plan;
    told.textContent = why ?? (trial.trouble || (choice ? summary(choice, trial.last?.ms ?? 0, lineFirst(state)) : "Trying the whole catalogue …"));
    const fitting = choice?.sweep.filter((row) => row.fits).slice(0, BEST) ?? [];
    swap(against, choice && !fitting.length ? reasons(choice.sweep).map(([verdict, count]) => element("li", {}, element("b", {}, verdict), ` ${count} of ${choice.tried} pipes`)) : []);
    swap(list, fitting.map((row) => element("li", {}, button(row.label, () => take(state, [{ from: "0 m", catalogue: row.id }]), { class: "pipe-name", "data-key": `tried-${row.id}`, "aria-pressed": String(row.in_study) }),
      element("span", { class: "facts" }, rowWords(/** @type {Choice} */ (choice), row, units)))));
    several.replaceChildren(...sequences(state, choice));
    all.disabled = sizes.disabled = !choice;
  };
  trial.heard.push(draw);
  let timer = 0;
  const soon = () => {
    clearTimeout(timer);
    if (byId("panel-water").hidden || state.draft) return;
    draw();
    timer = window.setTimeout(() => trial.ask(false), WAIT_MS);
  };
  state.on("plan", soon);
  document.addEventListener("leatline:tab", soon);
  return group("Which pipe", told, against, list, element("div", { class: "row" }, all, sizes), several);
}

/** Whether the line lies too high for any pipe. @param {State} state */
export const lineFirst = ({ model }) => model !== null && troubles(model).some(({ kind }) => kind === "static");

/** @param {Choice} choice @param {number} ms @param {boolean} high whether the line itself is in the way */
function summary({ tried, fitting, ranked_by }, ms, high) {
  if (!fitting && high) return `None of ${tried} pipes holds this line, as it rises above the intake's water: mend the line first. What else turns pipes down:`;
  const best = { mass: "the best by mass, as there are no prices:", price: "the best by price:", "yearly cost": "the best by pipe and lost energy a year:" }[ranked_by];
  return fitting ? `${fitting} of ${tried} pipes hold this line, tried in ${(ms / 1000).toFixed(1)} s` + `; ${best}` : `None of ${tried} pipes holds this line, with what turns them down:`;
}

/** @param {State} state @param {Choice | null} choice */
function sequences(state, choice) {
  if (!choice) return [];
  const rows = /** @type {const} */ ([["class_line", "The same size, lighter classes above"], ["diameters", "Several sizes"]]);
  return rows.flatMap(([key, title]) => {
    const found = choice[key];
    if (!found) return [];
    const { units } = state.plan;
    const lost = found.loss_m === undefined ? "" : `, ${show(found.loss_m, "head", units)} lost`;
    return [element("div", { class: "sequence", "data-sequence": key }, element("h3", {}, `${title}: ${costWords({ ...choice, ranked_by: choice.ranked_by === "mass" ? "mass" : "price" }, found.cost)}${lost}`),
      element("ul", { class: "rows" }, ...found.runs.map((run) => element("li", {}, element("span", {}, `${show(run.from_m, "station", units)} to ${show(run.to_m, "station", units)}: ${run.label}`)))),
      button("Take these", () => take(state, pipesOf(found))))];
  });
}

/** @param {State} state @param {any[]} pipes */
function take(state, pipes) {
  state.change(pipes.length > 1 ? "Pipes chosen" : "Pipe chosen", withLine(state.plan, { settings: withPipes(activeLine(state.plan).settings, pipes) }));
}
