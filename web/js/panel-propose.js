// @ts-check
/** Lines proposed between two places: asked for as a job, shown on the map, taken into the plan by a press. */

import * as L from "leaflet";

import * as api from "./api.js";
import { element } from "./dom.js";
import { bound, button, chosen, group, setting, swap } from "./fields.js";
import { toMap } from "./map-view.js";
import { openSetting } from "./panel-money.js";
import { boundWords, lacking, proposalWords, searchBody, settingName, withProposals } from "./propose.js";
import { named } from "./setting-words.js";
import { pointsOf } from "./study-doc.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./propose.js").Found} Found */
/** @typedef {{id: string, state: string, progress: number, doing: string, result: Found | null, problem: any}} Job */

const POLL_MS = 300;
const INK = "#7a1fa2";

/** The proposals on the map; the one in hand stands out. */
class Proposed {
  /** @param {L.Map} map */
  constructor(map) {
    this.map = map;
    this.layer = L.layerGroup().addTo(map);
    /** @type {L.Polyline[]} */
    this.lines = [];
  }

  /** @param {Found | null} found */
  show(found) {
    this.layer.clearLayers();
    this.lines = (found?.alternatives ?? []).map(({ route }) =>
      L.polyline(pointsOf(route).map(toMap), { pane: "line", interactive: false, color: INK, weight: 2, dashArray: "3 5" }).addTo(this.layer));
  }

  /** Show where no line passed. @param {[number, number]} place */
  stand(place) {
    this.layer.clearLayers();
    L.circleMarker(toMap(place), { pane: "markerPane", radius: 11, color: "#b3261e", weight: 4, fill: false, interactive: false }).addTo(this.layer);
    this.map.panTo(toMap(place));
  }

  /** @param {number} at of the one in hand, -1 for none */
  point(at) {
    this.lines.forEach((line, i) => {
      line.setStyle(i === at ? { weight: 6, dashArray: "", opacity: 0.9 } : { weight: 2, dashArray: "3 5", opacity: at < 0 ? 1 : 0.5 });
      if (i === at) line.bringToFront();
    });
  }
}

/** @param {State} state @param {L.Map} map */
export function proposeGroup(state, map) {
  const proposed = new Proposed(map);
  const told = element("p", { class: "hint", role: "status", id: "propose-told" });
  const bar = /** @type {HTMLProgressElement} */ (element("progress", { max: "1", hidden: "", "aria-label": "How far the search is" }));
  const list = element("ol", { class: "proposals" });
  const rest = element("div", {});
  const through = /** @type {HTMLInputElement} */ (element("input", { type: "checkbox", "data-key": "propose-through" }));
  const between = element("label", { class: "check" }, through, "through the points between, in order");
  const seek = new Search(state);
  const go = button("Propose lines", () => seek.begin(through.checked && !between.hidden), { class: "strong", "data-key": "propose" });
  const stop = button("Cancel", () => seek.stop(), { "data-key": "propose-stop" });
  const draw = () => {
    const { plan } = state;
    const why = lacking(plan);
    go.hidden = seek.running;
    go.disabled = why !== "";
    stop.hidden = bar.hidden = !seek.running;
    bar.value = seek.job?.progress ?? 0;
    between.hidden = plan.lines[plan.active].points.length < 3;
    told.textContent = seek.running ? `${seek.job?.doing ?? "starting"} …` : why || seek.words;
  };
  const drawFound = () => {
    const { found } = seek;
    proposed.show(found);
    swap(list, (found?.alternatives ?? []).map((each, i) => row(state, proposed, /** @type {Found} */ (found), each, i)));
    rest.replaceChildren(...(found ? afterwards(state, seek) : []), ...mends(seek, proposed));
  };
  seek.heard = () => {
    draw();
    if (!seek.running) drawFound();
  };
  state.on("plan", () => {
    seek.follow();
    draw();
  });
  draw();
  return group("Lines proposed", told, element("div", { class: "pair" }, bound(state, { ...setting("flow", "design"), key: "propose-flow" }), chosen(state, { ...setting("search", "pipe"), label: "Pipe", key: "propose-pipe" }, "by flow and head")),
    between, element("div", { class: "row" }, go, stop, bar), list, rest);
}

/** @param {State} state @param {Proposed} proposed @param {Found} found @param {import("./propose.js").Proposal} each @param {number} at */
function row(state, proposed, found, each, at) {
  const facts = proposalWords(each, found.currency, state.plan.units);
  const take = button(each.name, () => {
    state.change("Proposal taken", withProposals(state.plan, [each]));
    state.say("The proposal is a line of the plan now, beside the others; Compare sets them side by side.");
  }, { class: "pipe-name", "data-key": `proposal-${at}`, title: "Take it as a line of the plan" });
  const faults = each.faults.length;
  const node = element("li", {}, take, element("span", { class: "facts" }, ...facts.flatMap((text, i) => (i ? [", ", element("span", {}, text)] : [element("span", {}, text)]))),
    ...(faults ? [element("b", { class: "why" }, `${faults} fault${faults === 1 ? "" : "s"}`)] : []));
  for (const [on, off] of [["mouseenter", "mouseleave"], ["focusin", "focusout"]]) {
    node.addEventListener(on, () => proposed.point(at));
    node.addEventListener(off, () => proposed.point(-1));
  }
  return node;
}

/** What stands under the proposals. @param {State} state @param {Search} seek */
function afterwards(state, seek) {
  const found = /** @type {Found} */ (seek.found);
  const all = button("Take all of them", () => {
    state.change("Proposals taken", withProposals(state.plan, found.alternatives));
    document.getElementById("tab-compare")?.click();
  }, { "data-key": "take-proposals" });
  const away = button("Put them away", () => seek.forget(), { "data-key": "drop-proposals" });
  const closed = found.banned.map(({ what, share, lift }) => element("li", {}, element("span", {}, what), `: ${(share * 100).toFixed(0)} %. `, element("span", {}, named(lift).text)));
  return [
    element("p", { class: "hint" }, boundWords(found)),
    element("div", { class: "row" }, all, away),
    element("details", { class: "fold" }, element("summary", {}, element("b", {}, "How it was sought")),
      element("ul", { class: "assumed" }, ...found.notes.map((text) => element("li", {}, text)), ...(closed.length ? [element("li", {}, element("span", {}, "Ground closed to lines, of all that was looked at:"), element("ul", {}, ...closed))] : []))),
  ];
}

/** Where no line passed, and the settings to lift, each with its field. @param {Search} seek @param {Proposed} proposed */
function mends({ lift, barrier }, proposed) {
  const where = barrier ? [button("Where?", () => proposed.stand(barrier), { class: "link", "data-key": "propose-where" })] : [];
  const fields = lift.map((path) => button(settingName(path), () => openSetting(path), { class: "link mend" }));
  return where.length + fields.length ? [element("div", { class: "row" }, ...where, ...fields)] : [];
}

/** One search at a time. */
class Search {
  /** @param {State} state */
  constructor(state) {
    this.state = state;
    /** @type {Job | null} */
    this.job = null;
    /** @type {Found | null} */
    this.found = null;
    this.running = false;
    this.words = "";
    /** Settings that would let a line through. @type {string[]} */
    this.lift = [];
    /** Where none passed. @type {[number, number] | null} */
    this.barrier = null;
    this.terrain = "";
    this.heard = () => {};
  }

  /** Proposals are of one terrain: another one puts them away. */
  follow() {
    if (this.found && this.terrain !== this.state.plan.terrain.join()) this.forget();
  }

  forget() {
    Object.assign(this, { found: null, words: "", lift: [], barrier: null });
    this.heard();
  }

  /** @param {boolean} through */
  async begin(through) {
    Object.assign(this, { running: true, job: null, found: null, words: "", lift: [], barrier: null, terrain: this.state.plan.terrain.join() });
    this.heard();
    try {
      this.job = await api.startSearch(searchBody(this.state.plan, through));
      while (this.job && ["waiting", "running"].includes(this.job.state)) {
        this.heard();
        await new Promise((done) => setTimeout(done, POLL_MS));
        this.job = await api.job(this.job.id);
      }
      this.#end(/** @type {Job} */ (this.job));
    } catch (error) {
      this.words = /** @type {Error} */ (error).message;
    }
    this.running = false;
    this.heard();
  }

  /** @param {Job} job */
  #end({ state, result, problem }) {
    if (state === "stopped") this.words = "The search was cancelled.";
    else if (problem) {
      const { text, rows } = named([problem.detail, problem.hint].filter(Boolean).join(" "));
      Object.assign(this, { words: text, lift: [...new Set(rows)], barrier: typeof problem.lon === "number" ? [problem.lon, problem.lat] : null });
    } else if (result) {
      const count = result.alternatives.length;
      Object.assign(this, { found: result, words: `${count} line${count === 1 ? "" : "s"}, each a full study; a press takes one into the plan.` });
    }
  }

  async stop() {
    if (this.job) await api.stopJob(this.job.id).catch(() => {});
  }
}
