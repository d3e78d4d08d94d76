// What the page knows, and what of it outlives a reload.

import { sameDocument } from "./documents.js";
import { keep, kept } from "./kept.js";

const PLACE = "weekwright.page.1";
const MOST_STEPS = 60;
const KEPT = ["brief", "past", "future", "plan", "base", "difference", "variants"];

export class Store {
  constructor() {
    this.listeners = [];
    this.state = {
      brief: null, past: [], future: [], // the brief, and the briefs to go back and forth to
      plan: null, // the resource of the plan that is shown
      base: null, difference: null, // the plan from before, as a ghost, and what is different
      variants: [], // {name, brief, plan}
      answer: null, // {question, about, answer} or {asking}
      sweep: null, // {vary, found} or {vary, asking}
      block: null, // {found, asked, report}: the block of weeks, and what the last log said
      work: null, // what runs: {what, resource, progress}
      trouble: null, // the last error
      ...restored(),
    };
    this.known = new Map(); // plans by brief: going back shows the plan of that time
  }

  on(names, listener) {
    this.listeners.push([new Set(names), listener]);
  }

  set(changes, origin = null) {
    Object.assign(this.state, changes);
    const names = Object.keys(changes);
    for (const [heard, listener] of this.listeners) if (names.some((name) => heard.has(name))) listener(this.state, origin);
    if (KEPT.some((name) => name in changes)) this.keep();
  }

  /** Another brief, by a person's act: it can be undone. Letters typed into one `field` are one step. */
  edit(brief, origin = null, field = null) {
    const { brief: before, past } = this.state;
    if (before && sameDocument(before, brief)) return;
    const goesOn = field !== null && field === this.lastField;
    this.lastField = field;
    this.set({ brief, past: before && !goesOn ? [...past, before].slice(-MOST_STEPS) : past, future: [] }, origin);
  }

  undo() {
    const { brief, past, future } = this.state;
    if (past.length) this.goTo(past.at(-1), past.slice(0, -1), brief ? [brief, ...future] : future);
  }

  redo() {
    const { brief, past, future } = this.state;
    if (future.length) this.goTo(future[0], [...past, brief], future.slice(1));
  }

  goTo(brief, past, future) {
    const plan = this.known.get(JSON.stringify(brief));
    this.lastField = null;
    this.set({ brief, past, future, trouble: null, ...(plan ? { plan, base: null, difference: null, answer: null } : {}) });
  }

  /** Begin with another brief altogether. */
  open(brief) {
    this.edit(brief);
    this.set({ plan: null, base: null, difference: null, answer: null, trouble: null });
  }

  solved(brief, plan) {
    this.known.set(JSON.stringify(brief), plan);
  }

  /** Whether the plan shown is not that of the brief as it stands. */
  get stale() {
    const { brief, plan } = this.state;
    return plan !== null && this.known.get(JSON.stringify(brief)) !== plan;
  }

  keep() {
    const { brief, past, future, plan, base, difference, variants } = this.state;
    const fresh = plan !== null && !this.stale;
    const whole = { brief, past, future, plan, base, difference, variants, fresh };
    // Where there is no room for all of it, what was typed comes last.
    keep(PLACE, whole, { ...whole, past: [], future: [], base: null, difference: null }, { brief, variants: [] });
  }
}

function restored() {
  const { fresh, ...found } = kept(PLACE);
  return { ...found, restored: fresh };
}
