// Parts that several panels show: sentences with their sources, conflicts, mends, differences.

import { read } from "./api.js";
import { button, h } from "./dom.js";
import { WeekClock, dayAndClock } from "./time.js";
import { sessionName, told, toldIn } from "./told.js";
import { format, t, word } from "./words.js";

let evidence = null;

/** The sources behind some figures, opened on demand. */
export function sources(keys) {
  if (!keys?.length) return null;
  const list = h("ul", { class: "sources" });
  const show = async (event) => {
    if (!event.target.open || list.childElementCount) return;
    evidence ??= read("/v1/catalogue/evidence").then((found) => found.rows);
    const rows = await evidence.catch(() => ({}));
    list.replaceChildren(...keys.filter((key) => rows[key]).map((key) => {
      const row = rows[key];
      return h("li", {}, told(`${row.means} `), toldIn("b", `${format(row.value)} ${row.unit}`), " – ", told(row.source), " ", h("i", {}, word("grade", row.grade)));
    }));
  };
  return h("details", { class: "why", ontoggle: show }, h("summary", {}, t("sources")), list);
}

export function conflict(found) {
  return h("div", { class: "conflict" },
    h("ol", {}, found.sentences.map((sentence) => toldIn("li", sentence))),
    h("p", { class: "small" }, t(!found.verified ? "conflict.unverified" : found.members.length === 1 ? "conflict.verified.alone" : "conflict.verified")),
    sources([...new Set(found.members.flatMap((member) => member.evidence))]));
}

/** What a demand asks, by how much it is broken, and the sessions that break it, where it is one or two. */
export function breach(plan, found) {
  const clock = new WeekClock(plan.brief.week);
  const named = (found.sessions ?? []).map((n) => plan.sessions[n]).map((each) => [dayAndClock(clock.hours(each.start)), " ", sessionName(plan.brief, each)]);
  return [told(found.sentence), found.breach ? [" ", toldIn("b", found.breach_text)] : null,
    named.map((each, n) => [t(n ? "breach.and" : "breach.of"), each])];
}

/** An explanation: what clashes, and buttons that mend it. `apply(patch)` carries one out; without it mends are told. */
export function explained(explanation, apply) {
  const { conflicts, mends, truncated, possible } = explanation;
  return [
    conflicts.length ? h("h3", {}, conflicts.every((each) => each.members.length === 1) ? t("conflict.alone") : t("conflict.title", { n: conflicts.length })) : null,
    conflicts.map(conflict),
    mends.length ? h("h3", {}, t("mends.title")) : null,
    h("ul", { class: "mends" }, mends.map((mend) => h("li", {},
      h("span", {}, mend.changes.map((change) => toldIn("span", change.sentence, { class: "change" }))),
      h("span", { class: "small" }, t(mend.minimal && mend.verified ? "mends.proved" : "mends.found")),
      apply ? button(t("mends.apply"), () => apply(mend.patch), { class: "act" }) : null))),
    possible === false && !mends.length ? h("p", {}, t("mends.none")) : null,
    truncated ? h("p", { class: "small" }, t("truncated")) : null,
  ];
}

/** What is different between two plans, in sentences and figures. */
export function differences(found) {
  const sentences = [...found.moved, ...found.added, ...found.dropped, ...found.contents].map((each) => each.sentence);
  const ledger = found.ledger.filter((row) => row.before !== row.after);
  const tiers = found.tiers.filter((tier) => tier.before !== tier.after && tier.before !== null && tier.after !== null);
  return [
    sentences.length ? h("ul", { class: "moves" }, sentences.map((text) => toldIn("li", text))) : h("p", {}, t("difference.none")),
    found.rules.length ? h("ul", { class: "moves" }, found.rules.map((rule) =>
      h("li", { class: rule.worse ? "worse" : "better" }, h("b", {}, t(rule.worse ? "difference.worse" : "difference.better")), " ", told(rule.sentence), " ", rule.after ? told(rule.after) : t("difference.kept")))) : null,
    ledger.length ? table(t("difference.sets"), ledger.map((row) => [told(row.name), row.before, row.after])) : null,
    tiers.length ? table(t("difference.tiers"), tiers.map((row) => [word("tier", row.name), row.before, row.after])) : null,
  ];
}

/** Rows of a name and two figures, with the way from one to the other. */
export function table(title, rows) {
  return h("table", { class: "figures" },
    h("caption", {}, title),
    h("thead", {}, h("tr", {}, [t("what"), t("before"), t("after"), t("change")].map((text, i) => h("th", { scope: "col", class: i ? "number" : null }, text)))),
    h("tbody", {}, rows.map(([name, before, after]) => h("tr", {},
      h("th", { scope: "row" }, name), h("td", { class: "number" }, format(before)), h("td", { class: "number" }, format(after)),
      h("td", { class: "number" }, `${after > before ? "+" : "−"}${format(Math.abs(after - before))}`)))));
}
