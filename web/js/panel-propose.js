// @ts-check
/** Lines proposed between two places: asked for as a job, shown on the map, taken into the plan by a press. */

import * as L from "leaflet";

import * as api from "./api.js";
import { element } from "./dom.js";
import { Errand } from "./errand.js";
import { bound, button, chosen, group, setting, swap } from "./fields.js";
import { toMap } from "./map-view.js";
import { finding } from "./panel-fittings.js";
import { openSetting } from "./panel-money.js";
import { activeLine } from "./plan.js";
import { between, boundWords, lacking, proposalWords, searchBody, settingName, stretches, withProposals } from "./propose.js";
import { named } from "./setting-words.js";
import { pointsOf } from "./study-doc.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./propose.js").Found} Found */
/** @typedef {import("./propose.js").Wish} Wish */

const INK = "#7a1fa2";
const STREAM = "#0072B2";

/** The proposals on the map, the one in hand stands out; and stretches of stream that an end may lie on. */
class Proposed {
  /** @param {L.Map} map */
  constructor(map) {
    this.map = map;
    this.layer = L.layerGroup().addTo(map);
    this.ends = L.layerGroup().addTo(map);
    /** @type {L.Polyline[]} */
    this.lines = [];
  }

  /** @param {Found | null} found */
  show(found) {
    this.layer.clearLayers();
    this.lines = (found?.alternatives ?? []).map(({ route }) =>
      L.polyline(pointsOf(route).map(toMap), { pane: "line", interactive: false, color: INK, weight: 2, dashArray: "3 5" }).addTo(this.layer));
  }

  /** @param {[number, number][][]} pairs of places between which an end may lie */
  stretch(pairs) {
    this.ends.clearLayers();
    for (const pair of pairs) L.polyline(pair.map(toMap), { pane: "areas", interactive: false, color: STREAM, weight: 14, opacity: 0.35 }).addTo(this.ends);
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

/** A box to tick. @param {string} key @param {string} words @param {() => void} act */
function tick(key, words, act) {
  const box = /** @type {HTMLInputElement} */ (element("input", { type: "checkbox", "data-key": key }));
  box.addEventListener("change", act);
  return { box, row: element("label", { class: "check" }, box, words) };
}

/** @param {State} state @param {L.Map} map */
export function proposeGroup(state, map) {
  const proposed = new Proposed(map);
  const told = element("p", { class: "hint", role: "status", id: "propose-told" });
  const bar = /** @type {HTMLProgressElement} */ (element("progress", { max: "1", hidden: "", "aria-label": "How far the search is" }));
  const list = element("ol", { class: "proposals" });
  const rest = element("div", {});
  const through = tick("propose-through", "through the points between, in order", () => draw());
  const intake = tick("propose-intake", "intake anywhere along the stream between the first two points", () => draw());
  const house = tick("propose-house", "powerhouse anywhere along the stream between the last two points", () => draw());
  /** @returns {Wish} */
  const wish = () => ({ through: through.box.checked, intake: intake.box.checked, powerhouse: house.box.checked });
  /** @type {Errand<Found>} */
  const seek = new Errand(state, api.startSearch, ({ alternatives: { length: count } }) =>
    `${count} line${count === 1 ? "" : "s"}, each a full study; a press takes one into the plan.`, "The search was cancelled.");
  const go = button("Propose lines", () => seek.begin(searchBody(state.plan, wish())), { class: "strong", "data-key": "propose" });
  const stop = button("Cancel", () => seek.stop(), { "data-key": "propose-stop" });
  const draw = () => {
    const { plan } = state;
    const count = plan.lines[plan.active].points.length;
    if (count < 3) for (const { box } of [intake, house]) box.checked = false;
    const why = lacking(plan, wish());
    go.hidden = seek.running;
    go.disabled = why !== "";
    stop.hidden = bar.hidden = !seek.running;
    bar.value = seek.job?.progress ?? 0;
    through.row.hidden = between(plan, wish()).length === 0;
    intake.row.hidden = house.row.hidden = count < 3;
    proposed.stretch(why ? [] : stretches(plan, wish()));
    told.textContent = seek.running ? `${seek.job?.doing ?? "starting"} …` : why || seek.words;
  };
  const drawFound = () => {
    const { found } = seek;
    proposed.show(found);
    swap(list, (found?.alternatives ?? []).map((each, i) => row(state, proposed, /** @type {Found} */ (found), each, i)));
    rest.replaceChildren(...(found ? afterwards(state, seek, found) : []), ...mends(seek, proposed));
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
  return group("Lines proposed", told, element("div", { class: "pair" }, bound(state, { ...setting("flow", "design"), key: "propose-flow" }), chosen(state, { ...setting("search", "pipe"), label: "Pipe", key: "propose-pipe" }, pipeUnless)),
    intake.row, house.row, through.row, element("div", { class: "row" }, go, stop, bar), list, rest);
}

/** What pipe a search takes that is told none: the line's own where it has one. @param {import("./plan.js").Plan} plan */
const pipeUnless = (plan) => (activeLine(plan).settings.pipe?.length ? "as given" : "by flow and head");

/** @param {State} state @param {Proposed} proposed @param {Found} found @param {import("./propose.js").Proposal} each @param {number} at */
function row(state, proposed, found, each, at) {
  const facts = proposalWords(each, found.cost_unit, state.plan.units);
  const take = button(each.name, () => {
    state.change("Proposal taken", withProposals(state.plan, [each]));
    state.say("The proposal is a line of the plan now, beside the others; Compare sets them side by side.");
  }, { class: "pipe-name", "data-key": `proposal-${at}`, title: "Take it as a line of the plan" });
  const faults = each.fault_findings.map(({ message }) => finding("fault", message, ""));
  const node = element("li", {}, take, listed(facts), ...(faults.length ? [element("ul", { class: "findings" }, ...faults)] : []));
  pointed(node, (on) => proposed.point(on ? at : -1));
  return node;
}

/** Facts in a row, each with a place of its own. @param {string[]} facts */
export const listed = (facts) =>
  element("span", { class: "facts" }, ...facts.flatMap((text, i) => (i ? [", ", element("span", {}, text)] : [element("span", {}, text)])));

/** Tell when the pointer or the keys stand on a row. @param {HTMLElement} node @param {(on: boolean) => void} tell */
export function pointed(node, tell) {
  for (const [on, off] of [["mouseenter", "mouseleave"], ["focusin", "focusout"]]) {
    node.addEventListener(on, () => tell(true));
    node.addEventListener(off, () => tell(false));
  }
}

/** What stands under the proposals. @param {State} state @param {Errand<Found>} seek @param {Found} found */
function afterwards(state, seek, found) {
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

/** Where no line passed, and the settings to lift, each with its field. @param {Errand<Found>} seek @param {Proposed} proposed */
function mends({ lift, barrier }, proposed) {
  const where = barrier ? [button("Where?", () => proposed.stand(barrier), { class: "link", "data-key": "propose-where" })] : [];
  return where.length + lift.length ? [element("div", { class: "row" }, ...where, ...lifts(lift))] : [];
}

/** A button for each setting that would help. @param {string[]} lift */
export const lifts = (lift) => lift.map((path) => button(settingName(path), () => openSetting(path), { class: "link mend" }));
