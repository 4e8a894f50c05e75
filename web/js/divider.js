// @ts-check
/** The divider between map and profile: by pointer or keys, kept in the browser. */

/** @typedef {{least: number, most: number, usual: () => number}} Ends shares of the bench for the profile [%] */

const KEY = "leatline-profile-share";
const STEP = 4;

/**
 * @param {HTMLElement} handle @param {HTMLElement} bench @param {Storage | null} storage @param {Ends} ends
 */
export function divider(handle, bench, storage, { least, most, usual }) {
  const kept = Number(storage?.getItem(KEY));
  let own = kept > 0;
  let share = own ? kept : usual();
  const put = (/** @type {number} */ next, keep = true) => {
    share = Math.min(most, Math.max(least, next));
    bench.style.setProperty("--profile-share", `${share.toFixed(2)}%`);
    handle.setAttribute("aria-valuenow", String(Math.round(share)));
    handle.setAttribute("aria-valuetext", `profile ${Math.round(share)} % of the height`);
    try {
      own ||= keep;
      if (keep) storage?.setItem(KEY, share.toFixed(2));
    } catch {
      // A full or forbidden store only forgets the height.
    }
  };
  handle.setAttribute("aria-valuemin", String(least));
  handle.setAttribute("aria-valuemax", String(most));
  put(share, false);
  window.addEventListener("resize", () => own || put(usual(), false));
  handle.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    handle.focus();
    handle.setPointerCapture(event.pointerId);
    const box = bench.getBoundingClientRect();
    const below = bench.querySelector(".ledger")?.getBoundingClientRect();
    const foot = below && below.top > event.clientY ? below.top : box.bottom;
    const grip = event.clientY - handle.getBoundingClientRect().bottom;
    const pull = (/** @type {PointerEvent} */ move) => put(((foot - move.clientY + grip) / box.height) * 100);
    handle.addEventListener("pointermove", pull);
    handle.addEventListener("lostpointercapture", () => handle.removeEventListener("pointermove", pull), { once: true });
  });
  handle.addEventListener("dblclick", () => put(usual()));
  handle.addEventListener("keydown", (event) => {
    const next = { ArrowUp: share + STEP, ArrowDown: share - STEP, Home: least, End: most, Enter: usual() }[event.key];
    if (next === undefined) return;
    event.preventDefault();
    put(next);
  });
}
