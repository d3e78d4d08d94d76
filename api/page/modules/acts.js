// What a person can have done: solve, stop, ask, apply. One thing runs at a time; a new one ends the old.
//
// What runs is kept for the tab with the name of its act: after a reload the same act is sent again, and the server,
// which knows it, begins nothing new.

import { Trouble, begin, follow, newAct, read, stop } from "./api.js";
import { bare, merged, placed, sameDocument } from "./documents.js";

const RUNNING = "weekwright.running";

export class Acts {
  constructor(store, say, arrived) {
    this.store = store;
    this.say = say;
    this.arrived = arrived; // a week that was solved for is on the page
    this.controller = null;
  }

  /**
   * Run work to its end; progress goes to the store. Returns the ended resource, or null where it was given up.
   * `call` is the method, with its arguments, that tries once more what failed or was cut off by a reload: as the same
   * act where the server may know it already.
   */
  async run(what, path, body, [method, ...args], act = newAct()) {
    await this.leave();
    const controller = new AbortController();
    this.controller = controller;
    const store = this.store;
    remember({ method, args, act });
    store.set({ work: { what, began: Date.now(), resource: null, progress: null }, trouble: null });
    this.say(`say.${what}`);
    try {
      const begun = await begin(path, body, { act, signal: controller.signal });
      store.set({ work: { ...store.state.work, resource: begun } });
      const progressed = (head) => store.set({ work: { ...store.state.work, progress: head.progress, state: head.state } });
      const done = await follow(begun, progressed, controller.signal);
      remember(null);
      store.set({ work: null });
      if (done.problem) throw new Trouble(done.problem, { status: done.problem.status });
      return done;
    } catch (error) {
      if (error.name === "AbortError") return null;
      if (this.controller === controller) {
        remember(null);
        store.set({ work: null, trouble: { ...troubleOf(error), again: () => this[method](...args, error.offline ? act : undefined) } });
      }
      if (!(error instanceof Trouble)) console.error(error);
      this.say("say.trouble");
      return null;
    }
  }

  /** Take up again what ran when the page was left. */
  resume() {
    const found = remembered();
    if (found && this.store.state.brief) this[found.method](...found.args, found.act);
  }

  async leave() {
    const { work } = this.store.state;
    this.controller?.abort();
    if (work?.resource) stop(work.resource).catch(() => {});
  }

  /** Give up what runs: another brief is opened, or none. */
  giveUp() {
    this.leave();
    remember(null);
    this.store.set({ work: null });
  }

  /** Stop the search and keep the best so far: the stream tells the end. */
  async stopNow() {
    const { work } = this.store.state;
    if (!work?.resource) return;
    this.store.set({ work: { ...work, stopping: true } });
    await stop(work.resource).catch(() => {});
  }

  solve() {
    return this.solveBrief(this.store.state.brief);
  }

  async solveBrief(asked, act) {
    const { brief: now, plan: before } = this.store.state;
    // Another brief by the time of another try is another act.
    const same = sameDocument(asked, now);
    const brief = same ? now : act ? asked : now;
    const done = await this.run("solve", "/v1/plans", brief, ["solveBrief", brief], act);
    if (!done) return;
    this.show(brief, done, before);
    this.arrived();
  }

  /** Show a plan of a brief, with the plan from before as its ghost. */
  show(brief, plan, before) {
    const store = this.store;
    const base = before && before.id !== plan.id && before.plan?.sessions.length ? before : store.state.base;
    store.solved(brief, plan);
    store.set({ plan, base: base?.id === plan.id ? null : base, difference: null, answer: null, sweep: null });
    this.say(plan.status === "impossible" ? "say.impossible" : "say.solved", { n: plan.plan?.sessions.length ?? 0 });
    this.compare();
  }

  /** What is different between the plan and its ghost, asked of the server. */
  async compare() {
    const { plan, base } = this.store.state;
    if (!base || !plan?.plan?.sessions.length) return;
    try {
      const difference = await read(`${plan.links.self}/difference?base=${base.id}`);
      if (this.store.state.plan === plan && this.store.state.base === base) this.store.set({ difference });
    } catch (error) {
      if (error.status === 404) this.store.set({ base: null, difference: null }); // erased, or another server
      else this.store.set({ trouble: troubleOf(error) });
    }
  }

  /** Back to the plan that is the ghost, with its brief. */
  back() {
    const { plan, base, past } = this.store.state;
    if (past.some((brief) => this.store.known.get(JSON.stringify(brief)) === base)) return this.store.undo();
    return this.show(this.store.state.brief, base, plan);
  }

  async ask(question, body, about, act) {
    const { plan } = this.store.state;
    if (!plan) return;
    this.store.set({ answer: { question, about, asking: true } });
    const done = await this.run(question, `${plan.links.self}/${question}`, body, ["ask", question, body, about], act);
    this.store.set({ answer: done?.answer ? { question, about, answer: done.answer, links: done.links } : null });
    if (done?.answer) this.say("say.answered");
  }

  /** Sweep one or two numbers of the brief: `vary` is [{path, values, label}]. */
  async sweep(vary, act) {
    const { plan } = this.store.state;
    if (!plan) return;
    this.store.set({ sweep: { vary, asking: true } });
    const body = { vary: vary.map(({ path, values }) => ({ path, values })) };
    const done = await this.run("tradeoff", `${plan.links.self}/tradeoff`, body, ["sweep", vary], act);
    this.store.set({ sweep: done?.answer ? { vary, found: done.answer } : null });
    if (done?.answer) this.say("say.answered");
  }

  /** A block of weeks; the store holds its resource, and what it was asked for. */
  async block(request, act) {
    const done = await this.run("block", "/v1/blocks", request, ["block", request], act);
    if (!done) return;
    this.store.set({ block: { found: done, asked: request } });
    this.say("say.block.there", { n: done.block?.weeks.length ?? 0 });
  }

  /** Log what was done in a week of the block at `path`; what comes of it is another block. */
  async log(path, body, act) {
    const done = await this.run("log", `${path}/logs`, body, ["log", path, body], act);
    if (!done?.answer) return;
    const report = { answer: done.answer, body, path };
    this.store.set({ block: { found: await read(done.links.new_block), report } });
    this.say("say.answered");
  }

  /** A change of the brief as a merge patch, and the plan that comes of it. */
  async apply(patch, { solve = true } = {}) {
    this.store.edit(merged(this.store.state.brief, patch));
    if (solve) await this.solve();
  }

  async pin(demand, patch = {}) {
    const pin = bare(demand);
    const { exercise, sets, ...rest } = pin;
    const pinned = exercise ? { ...rest, exercises: [sets ? { exercise, sets } : { exercise }] } : rest;
    const brief = merged(this.store.state.brief, patch);
    this.store.edit(placed(brief, "/pinned", [...(brief.pinned ?? []), pinned]));
    await this.solve();
  }

  /** Take a week that an answer holds as the plan: the server referees and keeps it, so that it can be asked about. */
  async take(week) {
    const { brief, plan: before } = this.store.state;
    try {
      this.show(brief, await begin("/v1/checks", week), before);
    } catch (error) {
      this.store.set({ trouble: { ...troubleOf(error), again: () => this.take(week) } });
    }
  }

  async replan(body, act) {
    const { plan: before } = this.store.state;
    this.lastReplan = body;
    const done = await this.run("replan", `${before.links.self}/replan`, body, ["replan", body], act);
    if (!done) return;
    this.store.set({ answer: { question: "replan", answer: done.answer, links: done.links } });
    if (!done.links.new_plan) return;
    const plan = await read(done.links.new_plan);
    const brief = bare(plan.plan.brief);
    this.store.edit(brief);
    const { answer } = this.store.state;
    this.show(brief, plan, before);
    this.store.set({ answer });
  }
}

function remember(found) {
  try {
    if (found) sessionStorage.setItem(RUNNING, JSON.stringify(found));
    else sessionStorage.removeItem(RUNNING);
  } catch {
    // no room: a reload will not find it again
  }
}

function remembered() {
  try {
    return JSON.parse(sessionStorage.getItem(RUNNING));
  } catch {
    return null;
  }
}

export function troubleOf(error) {
  const { problem = {}, offline = false, status = 0, faults = [] } = error;
  return { title: problem.title ?? String(error), detail: problem.detail ?? "", advice: problem.advice ?? "", offline, status, faults };
}
