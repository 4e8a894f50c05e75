// @ts-check
/** The trench: cover and depth, bridges, humps that could be dug through, no-go areas. */

import { byId, element } from "./dom.js";
import { bound, button, group, setting, swap } from "./fields.js";
import { depthsGroup, gradesGroup } from "./panel-grades.js";
import { activeLine, withDepth, withLine, withStretches } from "./plan.js";
import { ENTRY_M } from "./trouble.js";
import { parse, show, unitOf } from "./units.js";

/** @typedef {import("./state.js").State} State */

/** @param {State} state @param {HTMLElement} land what is laid over the map */
export function trenchPanel(state, land) {
  const spans = element("ul", { class: "rows" });
  const limits = element("ul", { class: "rows" });
  const offers = element("ul", { class: "rows offers" });
  const areas = element("ul", { class: "rows" });
  const depth = (/** @type {"cover" | "max_depth" | "bedding"} */ key) =>
    bound(state, {
      ...setting("trench", key),
      placeholder: () => (state.model ? show(state.model.trench[/** @type {const} */ (`${key}_m`)], "depth", state.plan.units) : ""),
      live: true,
    });
  byId("panel-trench").append(
    group("Limits of the trench",
      element("div", { class: "pair" }, depth("cover"), depth("max_depth")),
      element("div", { class: "pair" }, depth("bedding"), bound(state, setting("trench", "min_grade"))),
      element("p", { class: "hint" }, "Both limits can also be pulled in the strip under the profile.")),
    gradesGroup(state),
    depthsGroup(state),
    group("Humps that could be dug through", offers),
    group("Stretches with limits of their own", limits, element("div", { class: "row" },
      button("Another stretch", () => typeStretch(state, "limit")))),
    group("Pipe bridges", spans, element("div", { class: "row" },
      button("Pick on the map", () => state.setMode("span"), { "data-key": "pick-bridge" }), button("Type stations", () => typeStretch(state, "span")))),
    land,
    group("No-go areas", areas, element("div", { class: "row" }, button("Fence one off", () => state.setMode("nogo")))),
  );
  const draw = () => {
    if (byId("panel-trench").hidden) return;
    swap(spans, stretchRows(state, "span"));
    swap(limits, stretchRows(state, "limit"));
    swap(offers, offerRows(state));
    swap(areas, areaRows(state));
  };
  state.on(["plan", "model"], draw);
  document.addEventListener("leatline:tab", draw);
  draw();
}

/** @param {State} state */
function offerRows(state) {
  const { model, plan } = state;
  if (!model?.trench.offers.length) return [element("li", { class: "empty" }, "None on this line.")];
  return model.trench.offers.map((offer) => {
    const { units } = plan;
    const depth = Math.ceil(offer.depth_m * 100) / 100;
    const take = () => {
      const stretch = { from: offer.from_m, to: offer.to_m, depth };
      const settings = withDepth(activeLine(state.plan).settings, stretch, (text) => parse(text, "length"));
      state.change("Hump dug through", withLine(state.plan, { settings }));
    };
    const go = button(`Allow ${show(depth, "depth", units)} here`, take, {
      title: "Raises the greatest depth of this stretch alone", "data-key": `offer-${offer.vent_id}`,
    });
    const place = button(offer.vent_id, () => look(state, offer.from_m, offer.to_m), { class: "tag vent", title: "Show it on the profile" });
    const caution = depth > ENTRY_M ? " Nobody enters a trench of that depth unless it is shored or sloped back." : "";
    return element("li", {}, place,
      element("span", {},
        number("offers.extra_depth_m", show(offer.extra_depth_m, "depth", units)), " deeper, ",
        number("offers.extra_volume_m3", show(offer.extra_volume_m3, "volume", units)),
        ` more to dig, from ${show(offer.from_m, "station", units)} to ${show(offer.to_m, "station", units)}: `, saves(offer), caution),
      go);
  });
}

/** What digging through a hump saves. @param {import("./types.js").Offer} offer */
const saves = (offer) => {
  const { vent_id: vent, drain_id: drain } = offer;
  const [one] = [vent, drain].filter(Boolean);
  if (!one) return "no vent needed.";
  return vent && drain ? `saves ${vent} and ${drain} with ${offer.pits === 1 ? "its pit" : "their pits"}.` : `saves ${one} with ${offer.pits === 1 ? "its pit" : "their pits"}.`;
};

/** A number that tells on a press where it comes from. @param {string} key @param {string} text */
const number = (key, text) => element("button", { type: "button", class: "number", "data-where": key }, text);

/** Bring a stretch into view. @param {State} state @param {number} from @param {number} to */
export function look(state, from, to) {
  const length = state.model?.summary.plan_length_m ?? to;
  const room = Math.max(20, (to - from) * 0.8);
  state.setView([Math.max(0, from - room), Math.min(length, to + room)]);
  state.setHover((from + to) / 2);
}

/** What a kind of stretch is called, which lengths it has besides its ends, what stands where there is none. */
const STRETCHES = /** @type {const} */ ({
  span: { name: "Bridge", keys: ["support_spacing"], none: "None: the pipe is buried all along." },
  limit: { name: "Stretch", keys: ["max_depth", "cover"], none: "None: the limits above hold all along." },
});
const WORDS = /** @type {Record<string, string>} */ ({
  support_spacing: "supports every", max_depth: "at most", cover: "cover", from: "from", to: "to",
});

/** @param {State} state @param {keyof typeof STRETCHES} kind */
function stretchRows(state, kind) {
  const { name, keys, none } = STRETCHES[kind];
  const list = activeLine(state.plan).settings.trench?.[kind] ?? [];
  if (!list.length) return [element("li", { class: "empty" }, none)];
  return list.map((/** @type {any} */ each, /** @type {number} */ i) => {
    const length = (/** @type {string} */ key) => {
      const input = /** @type {HTMLInputElement} */ (element("input", {
        value: each[key] ?? "", placeholder: "–", "aria-label": `${name} ${i + 1}, ${WORDS[key]}`, "data-key": `${kind}-${key}-${i}`,
      }));
      input.addEventListener("change", () => {
        try {
          const unit = unitOf("station", state.plan.units);
          const typed = input.value.trim();
          const { [key]: _, ...rest } = each;
          if (typed) parse(typed, "length", unit);
          const text = /^[\d.]+$/.test(typed) ? `${typed} ${unit}` : typed;
          put(list.with(i, typed ? { ...each, [key]: text } : rest), `“${name}” changed`);
        } catch (error) {
          state.say(/** @type {Error} */ (error).message, true);
        }
      });
      return input;
    };
    const drop = button("×", () => put(list.toSpliced(i, 1), `${name} taken out`), { class: "quiet", "aria-label": `Take ${name.toLowerCase()} ${i + 1} out` });
    return element("li", { class: "ends" }, length("from"), "to", length("to"),
      ...keys.flatMap((key) => [WORDS[key], length(key)]), drop);
  });

  /** @param {any[]} rows @param {string} step */
  function put(rows, step) {
    state.change(step, withLine(state.plan, { settings: withStretches(activeLine(state.plan).settings, kind, rows) }));
  }
}

/** @param {State} state @param {keyof typeof STRETCHES} kind */
function typeStretch(state, kind) {
  const { settings } = activeLine(state.plan);
  const middle = (state.hover ?? (state.model?.summary.plan_length_m ?? 0) / 2) || 10;
  const ends = { from: `${Math.max(0, middle - 5).toFixed(1)} m`, to: `${(middle + 5).toFixed(1)} m` };
  const rows = [...(settings.trench?.[kind] ?? []), ends];
  state.change(`${STRETCHES[kind].name} put in`, withLine(state.plan, { settings: withStretches(settings, kind, rows) }));
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
