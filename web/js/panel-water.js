// @ts-check
/** Pipes along the line, flow, turbine: what runs through, and in what. */

import { Chooser } from "./catalogue.js";
import { byId, element } from "./dom.js";
import { bound, button, chosen, group, setting, swap } from "./fields.js";
import { Trial, pipesGroup } from "./panel-pipes.js";
import { activeLine, withLine, withPipes } from "./plan.js";
import { fromShown, parse, parsedOrNull, quantity, show, toShown, unitOf } from "./units.js";

/** @typedef {import("./state.js").State} State */

const SLIDER_STEPS = 250;
const FALLBACK_FLOW = 0.05;

/** A round step of 1, 2 or 5 that leaves about so many steps up to a value. @param {number} top */
function roundStep(top) {
  const rough = top / SLIDER_STEPS;
  const power = 10 ** Math.floor(Math.log10(rough));
  return power * ([1, 2, 5].find((lead) => lead * power >= rough) ?? 10);
}

/** @param {State} state @param {Node} streams the group of streams and catchment */
export function waterPanel(state, streams) {
  const pipes = element("ul", { class: "rows pipes" });
  const trial = new Trial(state);
  const chooser = new Chooser(state, trial);
  const field = (/** @type {string} */ table, /** @type {string} */ key) => bound(state, setting(table, key));
  byId("panel-water").append(
    group("Pipes along the line", pipes, element("div", { class: "row" },
      button("Add a pipe …", () => addPipe(state, chooser)))),
    pipesGroup(state, trial, () => wholeLine(state, chooser)),
    group("Flow", flowSlider(state),
      element("div", { class: "pair" }, field("flow", "design"), field("flow", "temperature")),
      element("div", { class: "pair" }, field("intake", "loss"), field("flow", "local_loss"))),
    group("Turbine", element("div", { class: "pair" },
      chosen(state, setting("turbine", "kind"), "not chosen"), field("turbine", "efficiency")),
      element("div", { class: "pair" }, field("turbine", "closure_time"))),
    streams,
  );
  const draw = () => {
    if (!byId("panel-water").hidden) swap(pipes, pipeRows(state, chooser));
  };
  state.on(["plan", "model"], draw);
  document.addEventListener("leatline:tab", draw);
  draw();
}

/** @param {State} state */
function flowSlider(state) {
  const input = /** @type {HTMLInputElement} */ (element("input", {
    type: "range", min: "0", id: "flow-slider", "data-key": "flow-slider", "aria-describedby": "flow-most",
  }));
  const out = element("output", { for: "flow-slider" });
  const most = element("span", { class: "hint", id: "flow-most" });
  const design = () => parsedOrNull(activeLine(state.plan).settings.flow?.design ?? "", "flow");
  const draw = () => {
    const { units } = state.plan;
    const flow = design();
    const capacity = state.model?.summary.flow_capacity_m3_s;
    if (document.activeElement !== input) {
      const top = toShown(Math.max((capacity ?? FALLBACK_FLOW) * 1.05, (flow ?? 0) * 1.1), "flow", units);
      const step = roundStep(top);
      input.step = String(step);
      input.max = String(Math.ceil(top / step) * step);
    }
    input.value = String(toShown(flow ?? 0, "flow", units));
    out.textContent = flow ? show(flow, "flow", units) : "no flow";
    input.setAttribute("aria-valuetext", out.textContent);
    most.textContent = capacity ? `all head lost at ${show(capacity, "flow", units)}` : "";
  };
  input.addEventListener("input", () => {
    const { plan } = state;
    const shown = Number(input.value);
    const digits = Math.max(0, -Math.floor(Math.log10(Number(input.step))));
    const text = shown > 0 ? quantity(fromShown(shown, "flow", plan.units), "flow", plan.units, digits) : "";
    state.change("Flow changed", setting("flow", "design").write(plan, text), "flow-slider");
  });
  input.addEventListener("change", () => state.history.settle());
  state.on(["plan", "model"], draw);
  draw();
  return element("div", { class: "slider" }, element("label", { for: "flow-slider" }, "Pull the flow"), out, input, most);
}

/** @param {State} state @param {Chooser} chooser */
async function addPipe(state, chooser) {
  const found = await chooser.ask();
  if (!found) return;
  const pipes = activeLine(state.plan).settings.pipe ?? [];
  const from = pipes.length ? state.hover ?? (state.model?.summary.plan_length_m ?? 0) / 2 : 0;
  put(state, [...pipes, { from: quantity(from, "station", "metric", 1), catalogue: found }], "Pipe added");
}

/** One pipe from end to end. @param {State} state @param {Chooser} chooser */
async function wholeLine(state, chooser) {
  const found = await chooser.ask();
  if (found) put(state, [{ from: "0 m", catalogue: found }], "Pipe chosen");
}

/** @param {State} state @param {any[]} pipes @param {string} step */
function put(state, pipes, step) {
  const sorted = pipes.toSorted((a, b) => metres(a) - metres(b));
  if (sorted.length) sorted[0] = { ...sorted[0], from: "0 m" };
  state.change(step, withLine(state.plan, { settings: withPipes(activeLine(state.plan).settings, sorted) }));
}

/** @param {any} pipe */
const metres = (pipe) => parsedOrNull(pipe.from ?? "0 m", "length") ?? 0;

/** @param {State} state @param {Chooser} chooser */
function pipeRows(state, chooser) {
  const pipes = activeLine(state.plan).settings.pipe ?? [];
  if (!pipes.length)
    return [element("li", { class: "empty" }, "Not chosen: the trench is made for a pipe 200 mm wide outside; flow and pressure rating are not checked.")];
  const { units } = state.plan;
  return pipes.map((/** @type {any} */ pipe, /** @type {number} */ i) => {
    const laid = state.model?.pipes[i];
    const from = /** @type {HTMLInputElement} */ (element("input", { value: pipe.from ?? "0 m", "aria-label": `Pipe ${i + 1} starts at station`, "data-key": `pipe-from-${i}` }));
    from.disabled = i === 0;
    from.addEventListener("change", () => {
      try {
        const unit = unitOf("station", units);
        const value = parse(from.value, "length", unit);
        put(state, pipes.with(i, { ...pipe, from: /[a-z]/i.test(from.value) ? from.value.trim() : `${from.value.trim()} ${unit}` }), "Pipe joint moved");
        state.setHover(value);
      } catch (error) {
        state.say(/** @type {Error} */ (error).message, true);
      }
    });
    const name = laid?.label ?? pipe.catalogue ?? pipe.material ?? "pipe";
    const swapPipe = button(name, async () => {
      const found = await chooser.ask();
      if (found) put(state, pipes.with(i, { from: pipe.from, catalogue: found }), "Pipe changed");
    }, { class: "pipe-name", title: "Choose another", "data-key": `pipe-${i}` });
    const drop = button("×", () => put(state, pipes.toSpliced(i, 1), "Pipe taken out"), { class: "quiet", "aria-label": `Take pipe ${i + 1} out` });
    const facts = laid
      ? [`${show(laid.inside_diameter_m, "diameter", units)} bore`, rated(laid.derated_rating_kpa, units),
        `${show(laid.length_m, "length", units)} long`].join(", ")
      : "";
    return element("li", {}, from, swapPipe, drop, element("span", { class: "facts" }, facts));
  });
}

/** @param {number | null} kpa @param {import("./units.js").Units} units */
const rated = (kpa, units) => (kpa === null ? "rating not known" : `good for ${show(kpa * 1000, "pressure", units)}`);
