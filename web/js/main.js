// @ts-check
/** The planning page: puts the state, the map, the profile and the panels together. */

import * as api from "./api.js";
import { crewGroup } from "./crew-view.js";
import { CrsChooser } from "./crs.js";
import { BandsView } from "./bands-view.js";
import { divider } from "./divider.js";
import { byId } from "./dom.js";
import { showFigures, showReadout } from "./figures.js";
import { keepFocus } from "./focus.js";
import { Keep, browserStore } from "./keep.js";
import { languages } from "./language.js";
import { LandView } from "./land-view.js";
import { LineView } from "./line-view.js";
import { Live } from "./live.js";
import { Ground, createMap, fitLine, keepLine, toMap } from "./map-view.js";
import { MarksView } from "./marks-view.js";
import { Comparison } from "./panel-compare.js";
import { fittingsPanel } from "./panel-fittings.js";
import { landGroup, layOver } from "./panel-land.js";
import { linePanel } from "./panel-line.js";
import { moneyPanel } from "./panel-money.js";
import { proposeGroup } from "./panel-propose.js";
import { screenGroup } from "./panel-screen.js";
import { settingsPanel } from "./panel-settings.js";
import { trenchPanel } from "./panel-trench.js";
import { waterPanel } from "./panel-water.js";
import { activeLine, complete, previewBody } from "./plan.js";
import { paper } from "./paper.js";
import { ProfileView } from "./profile-view.js";
import { Saver } from "./save.js";
import { snapTo } from "./snap.js";
import { Start } from "./start.js";
import { State } from "./state.js";
import { streamsGroup } from "./streams-view.js";
import { StripView } from "./strip-view.js";
import { NARROW, bar } from "./toolbar.js";
import { Tools } from "./tools.js";
import { whereFrom } from "./where.js";
import { decode } from "./wire.js";


await languages();
const state = new State();
const keep = new Keep(browserStore());
const { tiles = "", credit = "" } = document.body.dataset;
const map = createMap(byId("map"), { tiles, credit });
const ground = new Ground(map);
const line = new LineView(map, state);
const marks = new MarksView(map, state, line);
const tools = new Tools(map, state, line, marks);
export const profile = new ProfileView(byId("profile"), byId("pins"), state);
new BandsView(byId("bands"), state, profile);
const strip = new StripView(byId("strip"), state, profile);

/** What the page last asked and painted; the tests of the page read it. */
export const trace = { asked: 0, painted: 0, applied: /** @type {number[]} */ ([]) };

/** While one look at a line being dragged is on its way or drawn, the next is worked out. */
const AT_ONCE = 2;

const live = new Live(
  async (/** @type {{body: any, look: import("./api.js").Look}} */ { body, look }, sequence) => decode(await preparing(api.preview(body, sequence, look))),
  (model, sequence) => {
    trace.painted = sequence;
    if (trace.applied.at(-1) !== sequence) trace.applied.push(sequence);
    if (trace.applied.length > 2000) trace.applied.shift();
    away(false);
    if (model.fitted === false) looks += 1;
    else [fitted, looks] = [performance.now(), 0];
    state.setModel(model);
  },
  (error) => {
    if (error.away) {
      away(true);
      return "again";
    }
    away(false);
    state.setModel(null, error.message);
    return "drop";
  },
  undefined,
  AT_ONCE,
);

/** Say once that the service is away, and that it is back. @param {boolean} gone */
function away(gone) {
  const node = byId("away");
  if (node.hidden === !gone) return;
  node.hidden = !gone;
}

/** So long an answer may take before one asks whether the service is still preparing itself [ms]. */
const PATIENCE_MS = 2000;

/** Say that the service prepares its calculations, where that is why an answer takes so long. @template T @param {Promise<T>} answer */
async function preparing(answer) {
  const node = byId("warming");
  let open = true;
  const patience = setTimeout(async () => {
    const { warming } = await api.health().catch(() => ({ warming: false }));
    node.hidden = !(open && warming);
  }, PATIENCE_MS);
  try {
    return await answer;
  } finally {
    open = false;
    clearTimeout(patience);
    if (!node.hidden) node.hidden = true; // said again it would style the page anew at every answer
  }
}

/** Ask for the line as it is now, dragged or at rest. */
function ask() {
  const { plan } = state;
  const points = state.draft ?? activeLine(plan).points;
  if (!complete(plan, points)) {
    live.forget();
    if (points.length < 2) state.setModel(null);
    return;
  }
  const body = previewBody(plan, activeLine(plan), points);
  const look = state.draft === null ? "rest" : state.model === null ? "dragged" : "line";
  trace.asked = live.want({ body, look });
  if (look === "line" && looks >= FITTED_LOOKS && performance.now() - fitted >= FITTED_MS) live.beside({ body, look: "dragged" }, trace.asked);
}

/**
 * Vents and drains of a line being dragged take as long as all the rest: they come anew where the
 * hand pauses, else once they are so old [ms] and so many pictures went without them, and no
 * picture of the line waits for them.
 */
const [FITTED_MS, FITTED_LOOKS] = [600, 30];
let [fitted, looks] = [0, 0];

live.more = (/** @type {{body: any, look: import("./api.js").Look}} */ { body, look }) => (look === "line" ? { body, look: /** @type {const} */ ("dragged") } : null);

live.overtaken = (/** @type {import("./types.js").Model} */ model) => {
  if (model.fitted === false) return;
  [fitted, looks] = [performance.now(), 0];
  state.setFittings(model);
};

// What nobody waits for fails where nobody hears it: it is said here.
window.addEventListener("unhandledrejection", (event) => {
  if (!(event.reason instanceof api.Problem)) return;
  event.preventDefault();
  state.say(event.reason.message, true);
});

const start = new Start(state, keep, () => fitLine(map, activeLine(state.plan).points));
start.areas = (/** @type {File} */ file, /** @type {Error} */ error) => (/LINE|polygon|area/i.test(error.message) ? layOver(state, file) : Promise.reject(error));
const saver = new Saver(state, keep);
linePanel(state, {
  importLine: () => byId("line-file").click(),
  snap: (end, level) => snapTo(state, end, level),
  fit: () => fitLine(map, activeLine(state.plan).points),
}, proposeGroup(state, map), screenGroup(state, map));
new LandView(map, state);
trenchPanel(state, landGroup(state));
waterPanel(state, streamsGroup(state, map));
fittingsPanel(state);
crewGroup(state, map);
moneyPanel(state, browserStore());
settingsPanel(state);
new Comparison(state);
showFigures(state);
showReadout(state, profile);
/** Half the window for the profile where map and ledger stand beside each other [%]. */
const usualShare = () => (matchMedia(NARROW).matches ? 48 : (51 * innerHeight) / byId("bench").clientHeight);
divider(byId("divider"), byId("bench"), browserStore(), { least: 25, most: 78, usual: usualShare });
new CrsChooser(state, (box) => map.fitBounds([[box.south, box.west], [box.north, box.east]], { animate: false }));
map.on("resize", (/** @type {any} */ sizes) => state.draft === null && keepLine(map, sizes, activeLine(state.plan).points));
paper(state, live);
keepFocus(state);
whereFrom(state);
bar(state, { map, ground, line, profile, strip, saver, start, tools });

state.on(["plan", "draft"], ask);
line.eager = () => !live.busy;
state.on(["plan", "terrains"], () => {
  const chosen = state.plan.terrain.map((id) => state.terrains.find((terrain) => terrain.id === id));
  ground.show(chosen.filter((terrain) => terrain !== undefined), state.plan.units, activeLine(state.plan).settings.terrain);
});

/** For the page's tests and for the curious. */
Object.assign(window, {
  leatline: { state, trace, live, pixel: (/** @type {[number, number]} */ point) => map.latLngToContainerPoint(toMap(point)) },
});

start.begin();
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js").catch(() => {});
