// The plan held against published guidelines; where they differ, that is shown and left to the coach.

import { read } from "./api.js";
import { button, fill, h } from "./dom.js";
import { told, toldIn } from "./told.js";
import { t, word } from "./words.js";

const BAD = ["below it", "above it", "below it and above it"];

export function audit(resource, problem) {
  const place = h("div", { class: "audited" });
  const hold = async () => {
    fill(place, h("p", { class: "waiting" }, t("loading")));
    try {
      const [{ guidelines }, found] = await Promise.all([read("/v1/guidelines"), read(`${resource.links.self}/audit`)]);
      fill(place, findings(found, guidelines));
    } catch (error) {
      fill(place);
      problem(error);
    }
  };
  return h("section", { class: "audit", "aria-labelledby": "audit-title" },
    h("h2", { id: "audit-title" }, t("audit.title")), h("p", {}, t("audit.what")),
    button(t("audit.ask"), hold, { id: "audit-ask" }), place);
}

function findings(found, guidelines) {
  const names = [...new Set(found.findings.map((each) => each.guideline))];
  return [
    names.map((name) => {
      const rows = found.findings.filter((each) => each.guideline === name);
      const bad = rows.filter((each) => BAD.includes(each.verdict)).length;
      return h("details", { id: `audit-${name}` }, h("summary", {}, told(guidelines[name]?.name ?? name), " ", h("span", { class: "small" }, t("audit.outside", { n: bad }))),
        h("ul", { class: "guideline" }, rows.map((each) => h("li", { class: BAD.includes(each.verdict) ? "outside" : null },
          h("p", {}, toldIn("b", each.sentence), " ", h("span", { class: "verdict-tag" }, word("verdict", each.verdict))),
          h("p", { class: "small" }, t("audit.found"), " ", told(each.found), " – ", toldIn("cite", each.source), " ", h("i", {}, word("grade", each.grade)))))));
    }),
    found.conflicts.length ? [h("h3", {}, t("audit.conflicts")), h("ul", { class: "moves" }, found.conflicts.map((each) => toldIn("li", each.sentence)))] : null,
  ];
}
