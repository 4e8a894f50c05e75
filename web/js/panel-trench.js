// @ts-check
/** The trench: cover and depth, bridges, humps that could be dug through, no-go areas. */

import { byId, element } from "./dom.js";
import { bound, button, group, swap } from "./fields.js";
import { activeLine, withLine, withSetting, withSpans } from "./plan.js";
import { setLimit } from "./strip-view.js";
import { parse, show, unitOf } from "./units.js";

/** @typedef {import("./state.js").State} State */

/** @param {State} state @param {string} table @param {string} key */
export const setting = (state, table, key) => ({
  key: `${table}-${key}`,
  read: (/** @type {import("./plan.js").Plan} */ plan) => activeLine(plan).settings[table]?.[key],
  write: (/** @type {import("./plan.js").Plan} */ plan, /** @type {any} */ value) =>
    withLine(plan, { settings: withSetting(activeLine(plan).settings, table, key, value) }),
});

/** @param {State} state */
export function trenchPanel(state) {
  const spans = element("ul", { class: "rows" });
  const offers = element("ul", { class: "rows offers" });
  const areas = element("ul", { class: "rows" });
  const from = (/** @type {"cover_m" | "max_depth_m" | "bedding_m"} */ key) => () =>
    state.model ? show(state.model.trench[key], "depth", state.plan.units) : "";
  const depth = /** @type {const} */ ({ dimension: "length", kind: "depth" });
  byId("panel-trench").append(
    group("Limits of the trench",
      element("div", { class: "pair" },
        bound(state, { ...setting(state, "trench", "cover"), ...depth, label: "Least cover", hint: "ground to crown", step: "Cover changed", placeholder: from("cover_m") }),
        bound(state, { ...setting(state, "trench", "max_depth"), ...depth, label: "Greatest depth", hint: "to trench bottom", step: "Greatest depth changed", placeholder: from("max_depth_m") })),
      element("div", { class: "pair" },
        bound(state, { ...setting(state, "trench", "bedding"), ...depth, label: "Bedding", hint: "under the pipe", step: "Bedding changed", placeholder: from("bedding_m") }),
        gradeField(state)),
      element("p", { class: "hint" }, "Both limits can also be pulled in the strip under the profile.")),
    group("Humps that could be dug through", offers),
    group("Pipe bridges", spans, element("div", { class: "row" },
      button("Pick on the map", () => state.setMode("span")), button("Type stations", () => typeSpan(state)))),
    group("No-go areas", areas, element("div", { class: "row" }, button("Fence one off", () => state.setMode("nogo")))),
  );
  const draw = () => {
    if (byId("panel-trench").hidden) return;
    swap(spans, spanRows(state));
    swap(offers, offerRows(state));
    swap(areas, areaRows(state));
  };
  state.on(["plan", "model"], draw);
  document.addEventListener("leatline:tab", draw);
  draw();
}

/** @param {State} state */
function gradeField(state) {
  const own = setting(state, "trench", "min_grade");
  return bound(state, {
    ...own, label: "Least rising grade", hint: "rise over length", step: "Grade changed", placeholder: () => "0.002",
    write: (plan, text) => own.write(plan, text === "" ? "" : Number(text)),
  });
}

/** @param {State} state */
function offerRows(state) {
  const { model, plan } = state;
  if (!model?.trench.offers.length) return [element("li", { class: "empty" }, "None on this line.")];
  return model.trench.offers.map((offer) => {
    const { units } = plan;
    const deep = model.trench.max_depth_m + offer.extra_depth_m;
    const go = button(`Allow ${show(deep, "depth", units)}`, () => setLimit(state, "max_depth", Math.ceil(deep * 100) / 100), {
      title: "Raises the greatest depth of the whole line to this", "data-key": `offer-${offer.vent_id}`,
    });
    const place = button(offer.vent_id, () => look(state, offer.from_m, offer.to_m), { class: "tag vent", title: "Show it on the profile" });
    return element("li", {}, place,
      element("span", {},
        number("offers.extra_depth_m", show(offer.extra_depth_m, "depth", units)), " deeper, ",
        number("offers.extra_volume_m3", show(offer.extra_volume_m3, "volume", units)), ` more to dig, from ${show(offer.from_m, "station", units)} to ${show(offer.to_m, "station", units)}: no vent needed.`),
      go);
  });
}

/** A number that tells on a press where it comes from. @param {string} key @param {string} text */
const number = (key, text) => element("button", { type: "button", class: "number", "data-where": key }, text);

/** Bring a stretch into view. @param {State} state @param {number} from @param {number} to */
export function look(state, from, to) {
  const length = state.model?.summary.plan_length_m ?? to;
  const room = Math.max(20, (to - from) * 0.8);
  state.setView([Math.max(0, from - room), Math.min(length, to + room)]);
  state.setHover((from + to) / 2);
}

/** @param {State} state */
function spanRows(state) {
  const line = activeLine(state.plan);
  const list = line.settings.trench?.span ?? [];
  if (!list.length) return [element("li", { class: "empty" }, "None: the pipe is buried all along.")];
  return list.map((/** @type {any} */ span, /** @type {number} */ i) => {
    const end = (/** @type {"from" | "to"} */ key) => {
      const input = /** @type {HTMLInputElement} */ (element("input", { value: span[key], "aria-label": `Bridge ${i + 1}, ${key}`, "data-key": `span-${key}-${i}` }));
      input.addEventListener("change", () => {
        try {
          const unit = unitOf("station", state.plan.units);
          parse(input.value, "length", unit);
          const text = /^[\d.]+$/.test(input.value.trim()) ? `${input.value.trim()} ${unit}` : input.value.trim();
          put(list.with(i, { ...span, [key]: text }), "Bridge moved");
        } catch (error) {
          state.say(/** @type {Error} */ (error).message, true);
        }
      });
      return input;
    };
    const drop = button("×", () => put(list.toSpliced(i, 1), "Bridge taken out"), { class: "quiet", "aria-label": `Take bridge ${i + 1} out` });
    return element("li", { class: "ends" }, end("from"), "to", end("to"), drop);
  });

  /** @param {any[]} spans @param {string} step */
  function put(spans, step) {
    state.change(step, withLine(state.plan, { settings: withSpans(activeLine(state.plan).settings, spans) }));
  }
}

/** @param {State} state */
function typeSpan(state) {
  const { settings } = activeLine(state.plan);
  const middle = (state.hover ?? (state.model?.summary.plan_length_m ?? 0) / 2) || 10;
  const span = { from: `${Math.max(0, middle - 5).toFixed(1)} m`, to: `${(middle + 5).toFixed(1)} m` };
  const spans = [...(settings.trench?.span ?? []), span];
  state.change("Bridge put in", withLine(state.plan, { settings: withSpans(settings, spans) }));
}

/** @param {State} state */
function areaRows(state) {
  const { plan } = state;
  if (!plan.nogo.length) return [element("li", { class: "empty" }, "None.")];
  return plan.nogo.map((ring, i) =>
    element("li", {}, element("span", {}, `No-go ${i + 1}, ${ring.length} corners`),
      button("×", () => state.change("No-go area taken away", { ...plan, nogo: plan.nogo.toSpliced(i, 1) }), {
        class: "quiet", "aria-label": `Take no-go area ${i + 1} away`,
      })));
}
