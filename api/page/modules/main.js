// The page put together: the store in the middle, panels that draw it, acts that change it.

import { Acts, troubleOf } from "./acts.js";
import { begin, follow } from "./api.js";
import { answer, demandForm } from "./ask.js";
import { BlockView } from "./block.js";
import { card } from "./card.js";
import { dayList } from "./days.js";
import { bare } from "./documents.js";
import { button, fill, h } from "./dom.js";
import { editor } from "./editor.js";
import { head } from "./head.js";
import { ledger } from "./ledger.js";
import { differences, explained } from "./sentences.js";
import { audit } from "./audit.js";
import { others } from "./others.js";
import { briefOfLink } from "./share.js";
import { search } from "./search.js";
import { start } from "./start.js";
import { NARROW } from "./paper.js";
import { Store } from "./store.js";
import { takeaway } from "./takeaway.js";
import { tradeoff } from "./tradeoff.js";
import { replan } from "./replan.js";
import { markFaults, trouble } from "./trouble.js";
import { variants } from "./variants.js";
import { cautions, notes, proof, rules } from "./verdict.js";
import { definitions, gaps, legend, picture, said } from "./week.js";
import { loadWords, t } from "./words.js";

await loadWords();
const store = new Store();
const live = document.getElementById("live");
const acts = new Acts(store, (key, values) => { live.textContent = t(key, values); }, () => bringWeek());
if (store.state.restored) store.solved(store.state.brief, store.state.plan);

const problem = (error) => store.set({ trouble: troubleOf(error) });
const panels = Object.fromEntries(["trouble", "start", "editor", "search", "week", "answer", "changes", "variants", "plan", "block", "further"].map((name) => [name, h("div", { class: `panel-${name}`, "data-panel": name })]));
const work = h("div", { class: "work" }, panels.search, panels.week, panels.answer, panels.changes, panels.variants, panels.plan, panels.block, panels.further);
/** What is pointed at in the week, and how that is shown. */
const wanted = { demand: null, unrolled: false, spot: null, onSession: (number) => { const found = document.getElementById(`session-${number}`); found.scrollIntoView({ block: "center" }); found.focus({ preventScroll: true }); } };
let asker = ""; // the id of what had the focus when a question was asked; dismissing the answer leads back

const ask = (...asked) => {
  asker = document.activeElement?.id ?? "";
  return acts.ask(...asked);
};

document.getElementById("skip").textContent = t("skip");
document.getElementById("head").append(head(store, acts, { onClose: () => { acts.giveUp(); store.set({ brief: null, past: store.state.brief ? [...store.state.past, store.state.brief] : store.state.past, plan: null, base: null, difference: null, answer: null, trouble: null }); } }));
document.getElementById("main").append(panels.trouble, panels.start, h("div", { class: "frame" }, panels.editor, work));
document.getElementById("foot").append(h("p", {}, t("foot")));
document.body.append(definitions());

/** Solving began in the brief, on a phone far below the week: then the week is brought before the reader. Who looks at a
 * part of the plan stays there; so does the focus, on the button in the head. */
function bringWeek() {
  const top = document.getElementById("head").getBoundingClientRect().bottom;
  const seen = [panels.week, panels.changes, panels.plan].map((panel) => panel.getBoundingClientRect()).some((box) => box.height > 0 && box.bottom > top && box.top < innerHeight);
  if (!seen) work.scrollIntoView();
}

async function openFile(file) {
  acts.giveUp();
  const text = await file.text();
  if (/\.ya?ml$/i.test(file.name)) {
    try {
      const done = await follow(await begin("/v1/plans", text, { type: "application/yaml" }), () => {});
      if (!done.plan) throw done.problem;
      const brief = bare(done.plan.brief);
      store.open(brief);
      acts.show(brief, done, null);
    } catch (error) {
      problem(error);
    }
    return;
  }
  try {
    const found = JSON.parse(text);
    store.open(found.brief && found.sessions ? bare(found.brief) : found);
  } catch {
    store.set({ trouble: { title: t("file.unreadable"), detail: file.name, advice: t("file.advice"), faults: [] } });
  }
}

function drawStart() {
  const empty = !store.state.brief;
  document.body.classList.toggle("starting", empty);
  document.body.classList.toggle("planless", !store.state.plan);
  if (!empty) fill(panels.start);
  else if (!panels.start.childElementCount) fill(panels.start, start((brief, { solve }) => { store.open(brief); window.scrollTo(0, 0); if (solve) acts.solve(); }, { onFile: openFile, problem }));
}

function drawTrouble() {
  const found = store.state.trouble;
  fill(panels.trouble, found ? trouble(found, { again: found.again, dismiss: () => store.set({ trouble: null }) }) : null);
  markFaults(found);
}

const impossible = (plan) => plan?.status === "impossible";

function drawWeek(paperWidth = null) {
  const { brief, plan, base } = store.state;
  if (!brief) return fill(panels.week);
  const shown = plan?.plan?.sessions.length ? plan.plan : null;
  wanted.onAsk = (demand) => { wanted.demand = demand; drawDemand(); if (demand.kind) ask("why-not", { demand }, null); else document.getElementById("demand-kind").focus(); };
  const width = paperWidth ?? (Math.floor(work.clientWidth) || 800);
  const about = shown?.brief ?? brief;
  const ring = (about.week.repeats ?? false) && !wanted.unrolled;
  let drawn;
  try {
    drawn = picture(about, shown, base?.plan ?? null, width, { asking: shown ? wanted : null, ring });
  } catch (error) {
    console.error(error); // a brief that is being typed may not be drawable yet
    drawn = h("p", {}, t("week.undrawable"));
  }
  fill(panels.week, h("section", { "aria-labelledby": "week-title", class: "the-week" },
    h("p", { class: "printonly" }, `${about.title} · ${about.lifter?.name ?? ""} · ${about.week.start}`),
    h("h2", { id: "week-title" }, t("week.title")),
    shown ? said(shown, { figure: !(ring && width >= NARROW) }) : h("p", { id: "week-said", class: "said" }, t(impossible(plan) ? "week.impossible" : "week.before")),
    h("div", { class: "drawn-week" }, drawn, shown ? [h("p", { class: "readout small", "aria-hidden": "true" }, t("spot.how")), h("p", { id: "spot-keys", class: "unseen" }, t("spot.keys"))] : null), legend(about, shown, base), shown ? gaps(shown) : null, about.week.repeats && width >= NARROW ? button(t(ring ? "week.unroll" : "week.roll"), () => { wanted.unrolled = ring; drawWeek(); }, { id: "week-roll", class: "noprint" }) : null,
    shown ? h("div", { class: "demand-place" }) : null));
  drawDemand();
}

function drawDemand() {
  const place = panels.week.querySelector(".demand-place");
  if (place) fill(place, demandForm(store.state.plan.plan.brief, wanted.demand, ask));
}

function drawAnswer() {
  const found = store.state.answer;
  fill(panels.answer, found ? answer(store.state, acts, () => { store.set({ answer: null }); document.getElementById(asker)?.focus(); }) : null);
  if (found && !found.asking) document.getElementById("answer")?.focus();
}

function drawChanges() {
  const { base, difference, plan } = store.state;
  document.body.classList.toggle("no-week", impossible(plan));
  if (impossible(plan)) {
    fill(panels.changes, h("section", { class: "impossible", "aria-labelledby": "impossible-title" }, h("h2", { id: "impossible-title" }, t("impossible.title")), plan.explanation ? explained(plan.explanation, (patch) => acts.apply(patch)) : h("p", {}, t("mends.none")), cautions(plan.plan)));
    return;
  }
  fill(panels.changes, base && difference ? h("section", { class: "changes noprint", "aria-labelledby": "changes-title" }, h("h2", { id: "changes-title" }, t("changes.title")), differences(difference),
    h("div", { class: "row" }, button(t("changes.back"), () => acts.back(), { id: "changes-back" }), button(t("changes.forget"), () => store.set({ base: null, difference: null }), { class: "quiet" }))) : null);
}

function drawPlan() {
  const { plan, difference } = store.state;
  const shown = plan?.plan?.sessions.length ? plan.plan : null;
  if (!shown) return fill(panels.plan, plan && !impossible(plan) ? [h("p", {}, t("status.stopped.empty")), cautions(plan.plan ?? { cautions: [] })] : null);
  fill(panels.plan, cautions(shown), h("div", { class: "plan" },
    dayList(shown, (session) => card(shown, session)),
    h("div", { class: "beside" }, ledger(shown, difference, ask), proof(shown), notes(shown), rules(shown, ask))));
}

function drawFurther() {
  const { plan } = store.state;
  const shown = plan?.plan?.sessions.length ? plan : null;
  fill(panels.further, store.state.brief ? h("div", { class: "further noprint" }, shown ? replan(shown, acts) : null, shown ? [tradeoff(store, acts), others(ask), audit(shown, problem)] : null, takeaway(store, shown, problem)) : null);
}

const drawVariants = () => fill(panels.variants, store.state.plan?.plan?.sessions.length || store.state.variants.length ? variants(store, acts) : null);

store.on(["brief", "plan"], drawStart);
store.on(["trouble"], ({ trouble: found }) => {
  drawTrouble();
  // It stands at the top, and what was asked may be far below.
  const node = panels.trouble.firstElementChild;
  if (found && node) { node.scrollIntoView({ block: "center" }); node.focus({ preventScroll: true }); }
});
store.on(["plan", "base"], () => drawWeek());
store.on(["brief"], (state, origin) => { if (!state.plan && origin !== "typing") drawWeek(); });
store.on(["work"], ({ work: running, plan }) => search(panels.search, plan ? null : running));
store.on(["answer"], drawAnswer);
store.on(["plan", "base", "difference"], drawChanges);
store.on(["plan", "difference"], drawPlan);
store.on(["plan", "variants"], drawVariants);
store.on(["plan", "sweep"], drawFurther);
store.on(["brief"], (state, origin) => { if (origin !== "typing") editor(panels.editor, store, acts, problem); });

const whole = () => [drawStart, drawTrouble, drawWeek, drawAnswer, drawChanges, drawPlan, drawVariants, drawFurther].forEach((draw) => draw());
if (location.hash.startsWith("#brief=")) {
  try {
    const brief = await briefOfLink(location.hash);
    history.replaceState(null, "", location.pathname);
    store.open(brief);
  } catch {
    store.set({ trouble: { title: t("link.unreadable"), detail: "", advice: t("link.advice"), faults: [] } });
  }
}
whole();
editor(panels.editor, store, acts, problem);
new BlockView(panels.block, store, acts, problem);

const ON_PAPER = 1000; // pixels: on paper time runs along, whatever the screen
let printing = false;
window.addEventListener("beforeprint", () => { printing = true; drawWeek(ON_PAPER); });
window.addEventListener("afterprint", () => { printing = false; drawWeek(); });

let width = work.clientWidth;
new ResizeObserver(() => {
  if (printing || Math.abs(work.clientWidth - width) < 8) return;
  width = work.clientWidth;
  drawWeek();
}).observe(work);

document.addEventListener("keydown", (event) => {
  const typing = event.target.matches("input, textarea, select");
  if ((event.ctrlKey || event.metaKey) && event.key === "Enter" && store.state.brief) { document.activeElement.blur(); acts.solve(); }
  if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && !typing) { event.preventDefault(); event.shiftKey ? store.redo() : store.undo(); }
});
window.addEventListener("hashchange", () => location.hash.startsWith("#brief=") && location.reload());
document.addEventListener("dragover", (event) => event.preventDefault());
document.addEventListener("drop", (event) => {
  event.preventDefault();
  const [file] = event.dataTransfer.files;
  if (file && !/\.ics$/i.test(file.name)) openFile(file);
  else if (file && store.state.brief) import("./editcalendar.js").then(({ addCalendar }) => addCalendar(file, store, problem));
});
document.body.classList.add("ready");
acts.resume();
