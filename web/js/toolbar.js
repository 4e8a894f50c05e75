// @ts-check
/** The bar on top, the tools on the map, the tabs, the keys that work everywhere. */

import { byId } from "./dom.js";
import { fitLine } from "./map-view.js";
import { alarms } from "./panel-fittings.js";
import { activeLine } from "./plan.js";
import { zoomed } from "./profile-data.js";

/** @typedef {import("./state.js").State} State */

const STEP = 0.6;
const MESSAGE_MS = 9000;
/** Where the ledger lies below, as a sheet to pull up. */
export const NARROW = "(max-width: 900px)";

/** @param {State} state @param {any} parts */
export function bar(state, parts) {
  const { map, ground, profile, strip, saver, start, tools } = parts;
  undoRedo(state);
  roomForName();
  names(state);
  tabs(profile, strip);
  modes(state, tools);
  byId("new").addEventListener("click", () => start.fresh());
  byId("fit").addEventListener("click", () => {
    const { points } = activeLine(state.plan);
    if (points.length > 1) fitLine(map, points);
    else ground.fit();
  });
  byId("contours").addEventListener("click", () => {
    const on = byId("contours").getAttribute("aria-pressed") !== "true";
    byId("contours").setAttribute("aria-pressed", String(on));
    ground.setContours(on, state.plan.units);
  });
  byId("slope").addEventListener("click", () => {
    const on = byId("slope").getAttribute("aria-pressed") !== "true";
    byId("slope").setAttribute("aria-pressed", String(on));
    byId("slope-key").hidden = !on;
    ground.setSlope(on, state.plan.units);
  });
  byId("heads").addEventListener("click", () => {
    profile.heads = !profile.heads;
    byId("heads").setAttribute("aria-pressed", String(profile.heads));
    profile.update();
  });
  byId("hold").addEventListener("click", () => {
    profile.hold(profile.held === null);
    byId("hold").setAttribute("aria-pressed", String(profile.held !== null));
  });
  const zoom = (/** @type {number} */ factor) => {
    const view = state.view ?? [0, profile.length];
    state.setView(zoomed(/** @type {any} */ (view), state.hover ?? (view[0] + view[1]) / 2, factor, profile.length));
  };
  byId("closer").addEventListener("click", () => zoom(STEP));
  byId("farther").addEventListener("click", () => zoom(1 / STEP));
  byId("whole").addEventListener("click", () => state.setView(null));
  let fading = 0;
  state.on("say", () => {
    clearTimeout(fading);
    if (state.mode === "edit" && !state.message.problem)
      fading = window.setTimeout(() => (byId("message").hidden = true), MESSAGE_MS);
    byId("message").textContent = state.message.text;
    byId("message").hidden = !state.message.text;
    byId("message").classList.toggle("problem", state.message.problem);
  });
  state.on(["model", "plan"], () => {
    const count = alarms(state);
    byId("alarms").textContent = count ? String(count) : "";
    byId("alarms").hidden = !count;
    const trouble = activeLine(state.plan).points.length >= 2 ? state.trouble : "";
    byId("trouble").textContent = trouble;
    byId("trouble").hidden = !trouble;
  });
  document.addEventListener("keydown", (event) => shortcuts(event, state, saver));
  const menu = /** @type {HTMLDetailsElement} */ (document.querySelector(".menu"));
  document.addEventListener("pointerdown", (event) => {
    if (!menu.contains(/** @type {Node} */ (event.target))) menu.open = false;
  });
  menu.addEventListener("click", (event) => {
    if (/** @type {Element} */ (event.target).closest("button")) menu.open = false;
  });
  menu.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    menu.open = false;
    menu.querySelector("summary")?.focus();
  });
  for (const close of document.querySelectorAll("dialog [data-close]"))
    close.addEventListener("click", () => /** @type {HTMLDialogElement} */ (close.closest("dialog")).close());
}

/** Where the window is narrow the choices that are made once stand in the menu, so that the name has room. */
function roomForName() {
  const small = matchMedia(NARROW);
  const choices = [...document.querySelectorAll(".acts > .units")];
  const put = () => (small.matches ? document.querySelector(".sheet-menu")?.prepend(...choices) : byId("save").before(...choices));
  small.addEventListener("change", put);
  put();
}

/** @param {State} state */
function undoRedo(state) {
  byId("undo").addEventListener("click", () => state.undo());
  byId("redo").addEventListener("click", () => state.redo());
  const draw = () => {
    const { undoLabel, redoLabel } = state.history;
    byId("undo").setAttribute("aria-disabled", String(!undoLabel)); // stays where the focus is: it is pressed many times
    byId("redo").setAttribute("aria-disabled", String(!redoLabel));
    byId("undo").title = undoLabel ? `Take back: ${undoLabel}` : "Nothing to take back";
    byId("redo").title = redoLabel ? `Do again: ${redoLabel}` : "Nothing to do again";
  };
  state.on("plan", draw);
  draw();
}

/** @param {State} state */
function names(state) {
  const name = byId("study-name");
  const units = byId("units");
  name.addEventListener("change", () => state.change("Study named", { ...state.plan, name: name.value.trim().slice(0, 200) }));
  units.addEventListener("change", () => state.change("Units changed", { ...state.plan, units: units.value }));
  const draw = () => {
    if (document.activeElement !== name) name.value = state.plan.name;
    name.title = state.plan.name;
    units.value = state.plan.units;
    document.body.classList.toggle("us", state.plan.units === "us");
    document.title = state.plan.name ? `${state.plan.name} · Leatline` : "Leatline";
  };
  state.on("plan", draw);
  draw();
}

/** Tabs of the panels: on a desk one is always open, on a phone a second tap shuts it. @param {any} profile @param {any} strip */
function tabs(profile, strip) {
  const all = /** @type {HTMLButtonElement[]} */ ([...document.querySelectorAll("[role=tab]")]);
  const phone = matchMedia(NARROW);
  const open = (/** @type {HTMLButtonElement | null} */ chosen) => {
    for (const tab of all) {
      const on = tab === chosen;
      tab.setAttribute("aria-selected", String(on));
      tab.tabIndex = on || (!chosen && tab === all[0]) ? 0 : -1;
      byId(/** @type {string} */ (tab.getAttribute("aria-controls"))).hidden = !on;
    }
    document.body.classList.toggle("sheet", chosen !== null);
    document.body.classList.toggle("wide", chosen?.id === "tab-compare" && !phone.matches);
    document.dispatchEvent(new Event("leatline:tab"));
    profile.resize();
    strip.resize();
  };
  const now = () => all.find((tab) => tab.getAttribute("aria-selected") === "true") ?? null;
  for (const [i, tab] of all.entries()) {
    tab.addEventListener("click", () => {
      open(phone.matches && now() === tab ? null : tab);
      if (phone.matches && now()) tab.scrollIntoView({ block: "start" }); // where the window is low, the page scrolls
    });
    tab.addEventListener("keydown", (event) => {
      const place = { ArrowRight: i + 1, ArrowLeft: i - 1, ArrowDown: i + 1, ArrowUp: i - 1, Home: 0, End: -1 }[event.key];
      if (place === undefined) return;
      event.preventDefault();
      const next = all[(place + all.length) % all.length];
      open(next);
      next.focus();
    });
  }
  phone.addEventListener("change", () => open(phone.matches ? null : all[0]));
  open(phone.matches ? null : all[0]);
  document.addEventListener("leatline:fitting", () => open(/** @type {any} */ (byId("tab-fittings"))), true);
}

/** @param {State} state @param {any} tools */
function modes(state, tools) {
  const buttons = /** @type {NodeListOf<HTMLButtonElement>} */ (document.querySelectorAll("[data-mode]"));
  for (const node of buttons)
    node.addEventListener("click", () => {
      const mode = /** @type {any} */ (node.dataset.mode);
      if (state.mode === mode && mode === "draw") tools.finish();
      else state.setMode(state.mode === mode ? "edit" : mode);
      if (state.mode !== "edit") byId("map").focus({ preventScroll: true });
    });
  const draw = () => {
    for (const node of buttons) node.setAttribute("aria-pressed", String(node.dataset.mode === state.mode));
    byId("cross").hidden = state.mode === "edit";
  };
  state.on("mode", draw);
  draw();
}

/** Let a field that is being typed in count as typed. */
function settle() {
  const field = document.activeElement;
  if (!(field instanceof HTMLInputElement)) return;
  field.blur();
  field.focus();
}

/** @param {KeyboardEvent} event @param {State} state @param {any} saver */
function shortcuts(event, state, saver) {
  if (!(event.ctrlKey || event.metaKey) || document.querySelector("dialog[open]")) return;
  const key = event.key.toLowerCase();
  const typing = event.target instanceof HTMLInputElement && event.target.type !== "range" && event.target.dataset.dirty;
  if (key === "s") {
    settle();
    saver.save();
  }
  else if (key === "z" && !typing) event.shiftKey ? state.redo() : state.undo();
  else if (key === "y" && !typing) state.redo();
  else return;
  event.preventDefault();
}
