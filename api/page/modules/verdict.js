// What is proved, what was said, which rules hold; and the cautions, which always stand.

import { arrows, button, h } from "./dom.js";
import { breach, sources } from "./sentences.js";
import { told, toldIn } from "./told.js";
import { format, t, word } from "./words.js";

export function cautions(plan) {
  return h("section", { class: "cautions", "aria-labelledby": "cautions-title" },
    h("h2", { id: "cautions-title" }, t("cautions.title")),
    plan.cautions.map((note) => toldIn("p", [note.text, " ", h("cite", {}, note.source)])));
}

export function notes(plan) {
  return plan.notes.length ? h("section", { class: "notes", "aria-labelledby": "notes-title" }, h("h2", { id: "notes-title" }, t("notes.title")), h("ul", {}, plan.notes.map((note) => toldIn("li", note)))) : null;
}

export function proof(plan) {
  const broken = plan.rules.flatMap((rule) => (rule.measure ? [] : rule.findings)).filter((found) => found.breach > 0);
  return h("section", { class: "proof", "aria-labelledby": "proof-title" },
    h("h2", { id: "proof-title" }, t("proof.title")),
    h("p", { class: "status" }, h("b", {}, t(`status.${plan.status}`)), " ", t(`status.${plan.status}.means`)),
    broken.length ? h("ul", { class: "moves" }, broken.map((found) => h("li", { class: "worse" }, breach(plan, found)))) : h("p", {}, t("proof.all-kept")),
    h("details", { id: "tiers" }, h("summary", {}, t("proof.tiers")),
      h("table", { class: "figures" }, h("caption", {}, t("proof.tiers.means")),
        h("thead", {}, h("tr", {}, ["tier", "value", "bound", "proved"].map((each, i) => h("th", { scope: "col", class: i ? "number" : null }, t(`proof.${each}`))))),
        h("tbody", {}, plan.tiers.map((tier) => h("tr", {}, h("th", { scope: "row" }, word("tier", tier.name)), h("td", { class: "number" }, format(tier.value)), h("td", { class: "number" }, format(tier.bound)), h("td", { class: "number" }, t(tier.proved ? "yes" : "not-yet"))))))));
}

/** A patch that does without a rule; what is conceded or demanded of its switches goes with it, for they are no more. */
function without(brief, rule) {
  const own = new Set(rule.findings.map((found) => found.switch));
  const conceded = Object.keys(brief.concessions ?? {}).filter((each) => own.has(each));
  const musts = (brief.musts ?? []).filter((each) => !own.has(each));
  return {
    rules: { [rule.rule]: { mode: "off" } },
    ...(conceded.length ? { concessions: Object.fromEntries(conceded.map((each) => [each, null])) } : {}),
    ...(musts.length < (brief.musts ?? []).length ? { musts } : {}),
  };
}

/** Every rule with what it asks, those that give way first; one that is asked can say what it costs. */
export function rules(plan, ask) {
  // What the brief concedes gives way too, though no must is broken by it.
  const held = (rule) => !rule.findings.some((found) => found.breach);
  const asked = plan.rules.filter((rule) => rule.findings.length && !rule.measure).sort((a, b) => held(a) - held(b));
  const cost = (rule) => ask("what-if", { patches: { without: without(plan.brief, rule) } }, t("about.without", { name: rule.title }));
  return h("section", { class: "rules", "aria-labelledby": "rules-title" },
    h("h2", { id: "rules-title" }, t("rules.title")),
    h("ul", { onkeydown: arrows("li > details > summary") }, asked.map((rule) => h("li", {},
      h("details", { id: `rule-${rule.rule}` },
        h("summary", {}, h("span", { class: `mode ${rule.mode}` }, t(`mode.${rule.mode}`)), " ", told(rule.title), " ", h("span", { class: held(rule) ? "kept" : "broken" }, t(held(rule) ? "kept" : "broken"))),
        h("ul", { class: "findings" }, rule.findings.map((found) => h("li", { class: found.breach ? "worse" : null }, breach(plan, found),
          found.breach && found.mode === "wish" ? button(t("ask.why"), () => ask("why", { wish: found.switch }, found.sentence), { class: "quiet", id: `why-${found.switch}` }) : null))),
        sources([...new Set(rule.findings.flatMap((found) => found.evidence))]),
        button(t("ask.cost"), () => cost(rule), { class: "quiet", id: `cost-${rule.rule}`, "aria-label": t("ask.cost.of", { name: rule.title }) }))))));
}
