// The block: this week and the weeks after it. Asked for here; drawn, opened and logged by the modules beside it.

import { begin, read, readBlob } from "./api.js";
import { logForm, reportOf } from "./blocklog.js";
import { mendsOf, requestForm, requestOf } from "./blockrequest.js";
import { remarks, weeksTable } from "./blocktable.js";
import { weekOf } from "./blockweek.js";
import { bare, merged, sameDocument } from "./documents.js";
import { button, download, fileName, fill, h } from "./dom.js";
import { keep, kept } from "./kept.js";
import { explained } from "./sentences.js";
import { told, toldIn } from "./told.js";
import { t } from "./words.js";

const PLACE = "weekwright.block.1";
const NAMELESS = "lifter"; // whom the server takes a brief for that names nobody
const NOTHING = { asked: { weeks: 8, easyWeeks: 1, differing: [], mended: [], distinct: {} }, link: null, of: null, report: null };

export class BlockView {
  constructor(node, store, acts, problem) {
    Object.assign(this, { node, store, acts, problem });
    // What was asked, the link of the block and its brief, and what the last log said, with what was sent.
    this.kept = { ...structuredClone(NOTHING), ...kept(PLACE) };
    this.found = null; // the resource of the block that is shown
    this.before = null; // the block that was shown before it
    this.chosen = null; // the week that is opened
    store.on(["brief", "plan", "variants"], (state, origin) => { if (origin !== "typing") this.draw(); });
    store.on(["work"], () => this.drawProgress());
    store.on(["block"], ({ block }) => this.taken(block));
    this.draw();
    if (this.kept.link) this.restore();
  }

  async restore() {
    try {
      this.show(await read(this.kept.link));
    } catch (error) {
      if (error.status === 404) this.keep({ link: null }); // erased, or another server
    }
  }

  keep(changes) {
    Object.assign(this.kept, changes);
    keep(PLACE, this.kept);
  }

  plan() {
    const { brief, variants } = this.store.state;
    return this.acts.block(requestOf(brief, variants, this.kept.asked));
  }

  /** One week of the block gives way, as a mend says, and the block is planned anew. */
  mend(week, explanation, patch) {
    const { changes } = explanation.mends.find((each) => each.patch === patch);
    const { brief } = this.store.state;
    const { title, week: { start } } = brief;
    const mine = mendsOf(brief, this.kept.asked);
    const others = mine.filter((each) => each.week !== week);
    const before = mine.find((each) => each.week === week);
    const sentences = changes.map((change) => change.sentence);
    this.keep({ asked: { ...this.kept.asked, mended: [...others, { title, start, week, patch: merged(before?.patch ?? {}, patch), sentences: [...before?.sentences ?? [], ...sentences] }] } });
    this.draw();
    return this.plan();
  }

  /** A block has come: planned anew, or from a log. */
  taken({ found, asked = null, report = null }) {
    this.keep({ report, ...(asked ? { of: asked.brief } : {}) });
    this.chosen = report ? report.answer.next_week : null;
    const last = this.found?.block;
    this.before = last && last.title === found.block?.title && last.brief.week.start === found.block.brief.week.start ? last : null;
    this.show(found);
    document.getElementById(report ? "block-report" : "block-found")?.focus();
  }

  show(resource) {
    this.found = resource;
    const typed = this.kept.link === resource.links.self ? this.kept.typed ?? null : null;
    // Made once: what is typed stays, over a reload too.
    this.logging = resource.block ? logForm(resource.block, (body) => this.acts.log(resource.links.self, body), typed, (now) => this.keep({ typed: now })) : null;
    this.keep({ link: resource.links.self, typed });
    this.draw();
  }

  /** A week of the block as the week of the page: then it can be asked about, like any other. */
  async openWeek(week) {
    try {
      // What hurt and is not cleared is in the outlook's figures; as a week of its own it is left out.
      const left = new Set(week.left_out ?? []);
      const asked = bare(week.plan.brief);
      const brief = left.size ? { ...asked, exercises: { ...asked.exercises, avoided: [...new Set([...(asked.exercises?.avoided ?? []), ...left])] } } : asked;
      const sessions = week.plan.sessions.map((session) => ({ ...session, entries: session.entries.filter((entry) => !left.has(entry.exercise)) }));
      const checked = await begin("/v1/checks", left.size ? { ...week.plan, brief, sessions: sessions.filter((session) => session.entries.length) } : week.plan);
      this.store.edit(brief);
      this.acts.show(brief, checked, null);
      document.getElementById("week-title")?.scrollIntoView();
    } catch (error) {
      this.problem(error);
    }
  }

  drawProgress() {
    const place = this.node.querySelector(".block-progress");
    if (!place) return;
    const { work } = this.store.state;
    const { week = 0, of = 0 } = work?.what === "block" ? work.progress ?? {} : {};
    fill(place, of ? h("ol", { class: "steps weeks-planned", vars: { "--n": of }, "aria-label": t("block.progress") },
      Array.from({ length: of }, (_, i) => h("li", { class: i < week ? "past" : i === week ? "now" : null, "aria-current": i === week ? "step" : null }, String(i + 1)))) : null);
  }

  draw() {
    const { brief, variants } = this.store.state;
    if (!brief) return fill(this.node);
    fill(this.node, h("section", { class: "block-of-weeks noprint", "aria-labelledby": "block-title" },
      h("h2", { id: "block-title" }, t("block.title")),
      h("p", {}, t("block.what")),
      requestForm(brief, variants, this.kept.asked, { save: () => this.keep({}), redraw: () => this.draw(), plan: () => this.plan() }),
      h("div", { class: "block-progress" }),
      this.found ? this.drawn() : null));
    this.drawProgress();
  }

  drawn() {
    const { block, explanation } = this.found;
    if (!block) return h("p", {}, t("block.none"));
    const chosen = block.weeks.find((week) => week.number === this.chosen) ?? null;
    const choose = (number) => {
      this.chosen = this.chosen === number ? null : number;
      this.draw();
      // The focus stays on the button; what it opened may lie below the screen, and what was closed may have been long.
      const pick = document.getElementById(`block-week-${number}`);
      pick.focus({ preventScroll: true });
      (this.node.querySelector(".block-week") ?? pick).scrollIntoView({ block: "nearest" });
    };
    const { brief } = this.store.state;
    const { report } = this.kept;
    const anothers = !isOf(block, brief);
    const back = () => { this.store.open(this.kept.of ?? bare(block.brief)); document.getElementById("block-found")?.focus(); };
    const stale = this.kept.of && !sameDocument(this.kept.of, brief);
    const broken = block.findings.filter((each) => !each.kept);
    const impossible = block.weeks.find((week) => week.plan.status === "impossible");
    return h("div", { class: "block-found" },
      h("h3", { id: "block-found", tabindex: -1 }, headline(block)),
      anothers ? h("p", { id: "block-anothers" }, t("block.anothers", { title: block.title, name: block.brief.lifter.name }), " ", button(t("block.anothers.back"), back, { id: "block-back" })) : stale ? h("p", { class: "small" }, t("block.stale")) : null,
      // In the open: each week may be best, and the block lack something.
      broken.length ? h("div", { id: "block-broken" }, findings(broken)) : null,
      report && !anothers ? reportOf(report, { easy: () => this.acts.log(report.path, { ...report.body, easy: true }), dismiss: () => { this.keep({ report: null }); this.draw(); } }) : null,
      impossible ? h("div", { class: "impossible" }, h("h3", {}, t("block.impossible", { n: impossible.number })), explanation ? explained(explanation, block.logs.length ? null : (patch) => this.mend(impossible.number, explanation, patch)) : null) : null,
      weeksTable(block, this.before, chosen, choose),
      remarks(block),
      chosen ? weekOf(block, chosen, { open: () => this.openWeek(chosen), close: () => choose(chosen.number) }) : null,
      h("details", { id: "block-findings" }, h("summary", {}, broken.length ? t("block.findings", { n: broken.length }) : t("block.findings.none")), findings(block.findings)),
      anothers ? null : this.logging, // a week of one person is not logged under the name of another
      this.takeaway(block),
      toldIn("p", block.method.join(" "), { class: "small" }),
      h("section", { class: "cautions", "aria-labelledby": "block-cautions" }, h("h3", { id: "block-cautions" }, t("cautions.title")), block.cautions.map((note) => toldIn("p", [note.text, " ", h("cite", {}, note.source)]))));
  }

  takeaway(block) {
    const form = (name, accept) => async () => {
      try {
        download(fileName(block.title, name), await readBlob(this.found.links.self, accept));
      } catch (error) {
        this.problem(error);
      }
    };
    const json = () => download(fileName(block.title, "block.json"), new Blob([JSON.stringify(block, null, 2)], { type: "application/json" }));
    return h("div", { class: "row", role: "group", "aria-label": t("block.take") },
      button(t("block.take.ics"), form("block.ics", "text/calendar"), { id: "block-ics" }),
      button(t("block.take.sheet"), form("block.html", "text/html"), { id: "block-sheet" }),
      button(t("take.csv"), form("block.csv", "text/csv"), { id: "block-csv" }),
      button(t("block.take.json"), json, { id: "block-json" }));
  }
}

/** Whether a block is of the person of a brief: by name; where nobody is named, by the title, with which its weeks begin. */
function isOf(block, brief) {
  const [asked, now] = [block.brief, brief].map(({ lifter }) => lifter?.name ?? NAMELESS);
  const named = ![NAMELESS, t("empty.lifter")].includes(asked);
  return asked === now && (named || (brief.title ?? "").startsWith(block.title));
}

function headline(block) {
  const easy = block.weeks.filter((week) => week.role === "easy").length;
  const proved = block.weeks.every((week) => week.plan.status === "proved best");
  return [t("block.building", { n: block.weeks.length - easy }), easy ? t("block.easy", { n: easy }) : null, t(proved ? "block.proved" : "block.not-proved")].filter(Boolean).join(" ");
}

const findings = (found) => h("ul", { class: "findings" }, found.map((each) => h("li", { class: each.kept ? null : "worse" },
  told(each.sentence), " ", h("span", { class: each.kept ? "kept" : "broken" }, t(each.kept ? "kept" : each.must ? "broken" : "block.gives-way")),
  each.kept ? null : h("ul", {}, each.found.map((text) => toldIn("li", text))),
  each.source ? [" ", toldIn("span", each.source, { class: "small" })] : null)));
