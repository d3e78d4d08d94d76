// While a week is looked for: which step the search is at, and how near the best found is to what is proved.

import { fill, h } from "./dom.js";
import { format, t, word } from "./words.js";

/** The tiers of the objective, as the library names them. */
export const STEPS = ["wishes", "change", "placement", "exercises", "sets", "stations", "minutes", "tie-break"];

export function search(node, work) {
  if (!work || work.what !== "solve") return fill(node);
  const at = work.progress?.tier ?? 0;
  return fill(node, h("section", { class: "search", "aria-labelledby": "search-title" },
    h("h2", { id: "search-title" }, t("search.title")),
    h("ol", { class: "steps" }, STEPS.map((name, i) => h("li", { class: i + 1 < at ? "past" : i + 1 === at ? "now" : null, "aria-current": i + 1 === at ? "step" : null },
      word("tier", name), i + 1 === at ? h("span", { class: "small" }, t("search.at", { best: format(work.progress.best), bound: format(work.progress.bound) })) : null)))));
}
