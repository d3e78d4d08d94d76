// The head: what brief this is, what can be done with it, how far the search has come.

import { button, fill, h } from "./dom.js";
import { STEPS } from "./search.js";
import { t, word } from "./words.js";

/** The head is made once and only changed in place: a click on its way never loses its button. */
export function head(store, acts, { onClose }) {
  const title = h("h1", { class: "brief-title" });
  const solve = button(t("solve"), () => acts.solve(), { class: "act", id: "solve", "aria-keyshortcuts": "Control+Enter" });
  const stop = button(t("stop"), () => acts.stopNow(), { id: "stop", hidden: true });
  const undo = button(t("undo"), () => store.undo(), { id: "undo", "aria-keyshortcuts": "Control+Z" });
  const redo = button(t("redo"), () => store.redo(), { id: "redo" });
  const close = button(t("close"), onClose, { id: "close", class: "quiet" });
  const way = h("p", { class: "way", id: "way", tabindex: "-1" });
  const bar = h("progress", { "aria-label": t("progress"), hidden: true });
  const link = (name, href) => h("a", { href }, t(`ways.${name}`));
  const ways = h("nav", { class: "ways", "aria-label": t("ways") }, link("week", "#week-title"), link("days", "#days-title"), link("sets", "#ledger-title"), link("brief", "#brief-title"));
  const node = h("div", { class: "bar" },
    h("a", { class: "mark-name", href: "/" }, t("title")), title,
    h("div", { class: "doing", role: "group", "aria-label": t("doing") }, undo, redo, close, stop, solve), ways, h("div", { class: "under" }, bar, way));

  function show() {
    const { brief, past, future, plan, work } = store.state;
    const held = document.activeElement;
    title.textContent = brief?.title ?? "";
    title.hidden = !brief;
    document.title = brief ? `${brief.title} – ${t("title")}` : t("title");
    ways.hidden = !brief;
    close.hidden = !brief;
    solve.hidden = !brief || Boolean(work);
    for (const each of [undo, redo]) each.hidden = !brief && !past.length;
    undo.disabled = !past.length;
    redo.disabled = !future.length;
    solve.classList.toggle("calling", Boolean(brief) && (!plan || store.stale) && !work);
    stop.hidden = !work;
    stop.disabled = !work?.resource || work.stopping;
    bar.hidden = !work;
    const { progress } = work ?? {};
    if (progress) Object.assign(bar, progress.of ? { max: progress.of, value: progress.week } : { max: STEPS.length, value: progress.tier });
    else bar.removeAttribute("value");
    const stale = plan && store.stale ? t("stale") : "";
    fill(way, work ? said(work) : stale);
    // A button that goes hands the focus on.
    if (held === solve && solve.hidden) (stop.disabled ? way : stop).focus();
    else if ([way, stop].includes(held) && !work && !solve.hidden) solve.focus();
    else if (held === undo && undo.disabled) (redo.disabled ? solve : redo).focus();
    else if (held === redo && redo.disabled) undo.focus();
  }
  store.on(["brief", "past", "future", "plan", "work"], show);
  show();
  return node;
}

function said({ what, progress, stopping }) {
  if (stopping) return t("stopping");
  if (!progress) return t(`say.${what}`);
  if (progress.of) return t("progress.week", { n: progress.week, of: progress.of });
  return t("progress.tier", { n: progress.tier, of: STEPS.length, name: word("tier", progress.name), best: progress.best, bound: progress.bound });
}
