// @ts-check
/** The focus of a person at the keys is never lost: what is drawn anew, goes or is switched off hands it on. */

const ABLE = ["a[href]", "button", "input", "select", "textarea", "summary", "[tabindex]"].join();
const PARTS = "dialog, [role=tabpanel], .bar, #start, .hill, .long, .words";

/** What the keys can reach within a node, in their order. @param {ParentNode} within @returns {HTMLElement[]} */
const reached = (within) =>
  /** @type {HTMLElement[]} */ ([...within.querySelectorAll(ABLE)]).filter((node) => node.tabIndex >= 0 && able(node));

/** @param {HTMLElement} node */
const able = (node) => node.isConnected && !node.matches(":disabled") && node.checkVisibility({ visibilityProperty: true });

/** @typedef {{node: HTMLElement, about: HTMLElement[], part: Element | null}} Held what has the focus, among what */

/** @param {import("./state.js").State} state */
export function keepFocus(state) {
  /** @type {Held | null} */
  let held = null;
  let byKeys = false;
  let step = 0;
  let checking = false;
  const look = () => {
    checking = false;
    if (!byKeys) return;
    const { activeElement } = document;
    if (activeElement?.closest("[role=tabpanel] *")) activeElement.scrollIntoView({ block: "nearest" }); // what grew above may push it out
    else if (held && activeElement === document.body && !able(held.node)) heir(held, step)?.focus();
  };
  const soon = () => {
    if (checking || !byKeys) return;
    checking = true;
    requestAnimationFrame(() => setTimeout(look)); // only then does a browser take it from what is switched off
  };
  const pushedOut = new IntersectionObserver((told) => told.at(-1)?.intersectionRatio !== 1 && soon(), { threshold: [0, 1] });
  document.addEventListener("focusin", ({ target }) => {
    const node = /** @type {HTMLElement} */ (target);
    pushedOut.disconnect();
    if (node.closest("[role=tabpanel] *")) pushedOut.observe(node);
    held = { node, part: node.closest(PARTS), about: [] };
  });
  document.addEventListener("keydown", ({ key, shiftKey }) => {
    byKeys = true;
    step = /^Tab$/.test(key) ? (shiftKey ? -1 : 1) : 0;
    if (held?.part) held.about = reached(held.part);
    soon();
  }, true);
  for (const event of ["pointerdown", "wheel"]) document.addEventListener(event, () => {
    byKeys = false;
  }, { capture: true, passive: true });
  for (const event of ["keyup", "close"]) document.addEventListener(event, soon, true);
  state.on(["plan", "model", "saved", "say"], soon);
}

/**
 * The node that stands for one that went: the same drawn anew, else its nearest neighbour that is
 * left. Where the focus was on its way with Tab, it goes on from there.
 * @param {Held} held @param {number} step
 */
function heir({ node, about, part }, step) {
  const all = reached(part?.isConnected ? part : document);
  const anew = (/** @type {HTMLElement | undefined} */ old) =>
    old && all.findIndex((each) => each === old || (old.dataset.key && each.dataset.key === old.dataset.key));
  const same = anew(node) ?? -1;
  if (same >= 0) return all[same + step] ?? all[same];
  const rank = about.indexOf(node);
  for (let away = 1; away < about.length; away += 1) {
    for (const other of [about[rank + away], about[rank - away]]) {
      const left = anew(other) ?? -1;
      if (left >= 0) return all[left];
    }
  }
  return /** @type {HTMLElement | null} */ (document.querySelector("[role=tab][aria-selected=true]")) ?? document.getElementById("map");
}
