// @ts-check
/** Saving: the browser keeps every change at once, the service every revision; nobody is overwritten unasked. */

import * as api from "./api.js";
import { byId, element } from "./dom.js";
import { button } from "./fields.js";
import { complete, activeLine } from "./plan.js";
import { apartFrom, bodyOf, planOf, unfinished } from "./study-doc.js";
import { show } from "./units.js";
import { moment } from "./words.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./keep.js").Keep} Keep */

const KEEP_MS = 200;

export class Saver {
  /** @param {State} state @param {Keep} keep */
  constructor(state, keep) {
    this.state = state;
    this.keep = keep;
    this.busy = false;
    this.room = true;
    let timer = 0;
    state.on("plan", () => {
      clearTimeout(timer);
      timer = window.setTimeout(() => this.write(), KEEP_MS);
    });
    window.addEventListener("pagehide", () => this.write());
    document.addEventListener("visibilitychange", () => document.hidden && this.write());
    state.on(["plan", "saved"], () => this.show());
    byId("save").addEventListener("click", () => this.save());
    byId("save-named").addEventListener("click", () => this.saveNamed());
    byId("history-open").addEventListener("click", () => this.showRevisions());
    this.show();
  }

  /** Keep the plan in the browser; a plan as saved needs no keeping. */
  write() {
    const { state } = this;
    const study = state.saved?.id ?? null;
    const empty = state.plan.lines.every((line) => !line.points.length) && !state.plan.terrain.length;
    if (!state.dirty || empty) {
      this.keep.drop(study);
      return;
    }
    const { etag = "", revision = 0 } = state.saved ?? {};
    this.room = this.keep.write(study, { plan: state.plan, etag, revision, when: new Date().toISOString() });
    this.show();
  }

  show() {
    const { state } = this;
    const drawn = activeLine(state.plan).points.length > 0;
    const node = byId("saved");
    node.textContent = this.busy
      ? "Saving …"
      : !state.dirty && state.saved
        ? `Saved, revision ${state.saved.revision}`
        : !drawn ? "" : this.room ? "Kept in this browser, not saved yet" : "Not saved, and this browser keeps nothing";
    byId("save").disabled = this.busy || !state.dirty || !complete(state.plan, activeLine(state.plan).points);
    const { saved } = state;
    byId("history-open").disabled = !saved;
    byId("exports").hidden = !saved;
    byId("exports-none").hidden = Boolean(saved);
    if (!saved) return;
    const base = `/api/studies/${saved.id}`;
    for (const link of /** @type {NodeListOf<HTMLAnchorElement>} */ (byId("exports").querySelectorAll("a"))) {
      link.hidden = "several" in link.dataset && (state.savedPlan?.lines.length ?? 1) < 2;
      link.href = link.dataset.page === "field" ? `/field/${saved.id}` : base + link.dataset.path;
    }
    byId("exports-stale").hidden = !state.dirty;
  }

  saveNamed() {
    const label = prompt("Name of this revision, such as “before the site visit”:")?.trim();
    if (label) this.save(label);
  }

  /** @param {string} [label] @param {{id: string, etag: string} | null} [over] @returns {Promise<boolean>} */
  async save(label = "", over = this.state.saved) {
    const { state } = this;
    if (this.busy) return false;
    if (!complete(state.plan, activeLine(state.plan).points)) {
      state.say("Nothing to save yet: a study wants a terrain and a line on it.", true);
      return false;
    }
    const { plan } = state;
    const short = unfinished(plan);
    const whole = { ...plan, lines: plan.lines.filter((line) => line.points.length >= 2) };
    whole.active = whole.lines.indexOf(activeLine(plan));
    this.busy = true;
    this.show();
    try {
      const { study, etag } = await api.saveStudy(bodyOf(whole, label), over);
      this.keep.drop(over?.id ?? null);
      this.accept(study, etag, plan);
      const kept = short.length ? `“${short.join(", ")}” has no line yet and stays in this browser.` : "";
      state.say([`Saved as revision ${study.revision}.`, kept].join(" ").trim());
      return true;
    } catch (error) {
      if (/** @type {any} */ (error).status === 412) this.conflict();
      else state.say(`Not saved; your work is kept in this browser. ${/** @type {Error} */ (error).message}`, true);
      return false;
    } finally {
      this.busy = false;
      this.show();
    }
  }

  /** @param {any} study @param {string} etag @param {import("./plan.js").Plan} plan what was saved */
  accept(study, etag, plan) {
    const { state } = this;
    state.saved = { id: study.id, etag, revision: study.revision };
    state.savedPlan = plan;
    window.history.replaceState(null, "", `/?study=${study.id}`);
    state.tell("saved");
    this.write();
  }

  /** Somebody else saved in between: say what differs and let the user choose. */
  async conflict() {
    const { state } = this;
    if (!state.saved) return;
    const { study, etag } = await api.getStudy(state.saved.id);
    const dialog = /** @type {HTMLDialogElement} */ (byId("conflict"));
    const { units } = state.plan;
    const told = (/** @type {import("./types.js").Summary} */ sum) =>
      `${show(sum.plan_length_m, "length", units)} long, ${show(sum.gross_head_m, "head", units)} gross head, ` +
      `${sum.vent_count} vents, ${sum.drain_count} drains`;
    byId("conflict-facts").textContent =
      `Revision ${study.revision} was saved elsewhere after your revision ${state.saved.revision}. ` +
      `Theirs: ${told(study.summary)}.${state.model ? ` Yours: ${told(state.model.summary)}.` : ""}`;
    byId("conflict-differs").replaceChildren(...apartFrom(state.plan, planOf(study)).map((text) => element("li", {}, text)));
    const close = (/** @type {() => void} */ act) => () => {
      dialog.close();
      act();
    };
    byId("conflict-choices").replaceChildren(
      button("Keep both: save mine as a new study", close(() => {
        const { plan } = state;
        const name = `${plan.name || activeLine(plan).name} (mine)`;
        this.keep.drop(study.id);
        state.saved = null;
        state.savedPlan = null;
        state.change("Saved as a new study", { ...plan, name });
        this.save("", null);
      })),
      button(`Mine becomes revision ${study.revision + 1}; theirs stays in the revisions`, close(() =>
        this.save("", { id: study.id, etag }))),
      button("Take theirs; mine stays as one step of undo", close(() => {
        state.saved = { id: study.id, etag, revision: study.revision };
        const plan = planOf(study);
        state.change("Their revision taken", plan);
        state.savedPlan = plan;
        state.tell("saved");
        this.write();
      })),
      button("Decide later", close(() => {}), { class: "quiet-wide" }));
    dialog.showModal();
  }

  async showRevisions() {
    const { state } = this;
    if (!state.saved) return;
    const dialog = /** @type {HTMLDialogElement} */ (byId("revisions"));
    const list = byId("revision-list");
    list.replaceChildren();
    dialog.showModal();
    try {
      const answer = await api.revisions(state.saved.id);
      const rows = answer.revisions ?? answer;
      list.replaceChildren(...rows.map((/** @type {any} */ row) => {
        const label = row.label ? ` “${row.label}”` : "";
        const when = moment(row.saved ?? row.created ?? row.updated);
        const back = button("Bring it back", () => this.#bringBack(row.revision, dialog));
        return element("li", {}, element("span", {}, `Revision ${row.revision}${label}, ${when}`), back);
      }));
    } catch (error) {
      list.replaceChildren(element("li", { class: "empty" }, /** @type {Error} */ (error).message));
    }
  }

  /** @param {number} revision @param {HTMLDialogElement} dialog */
  async #bringBack(revision, dialog) {
    const { state } = this;
    if (!state.saved) return;
    dialog.close();
    const { study } = await api.getStudy(state.saved.id, revision);
    state.change(`Revision ${revision} brought back`, planOf(study));
  }
}
