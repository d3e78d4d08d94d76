// Take it away: calendar, print, table, document, link.

import { readBlob } from "./api.js";
import { button, download, fileName, h } from "./dom.js";
import { linkOfBrief } from "./share.js";
import { t } from "./words.js";

export function takeaway(store, plan, problem) {
  const link = h("output", { class: "link", id: "link" });
  const form = (name, accept) => async () => {
    try {
      download(fileName(plan.plan.brief.title, name), await readBlob(plan.links.self, accept));
    } catch (error) {
      problem(error);
    }
  };
  const json = (name, document) => () => {
    const { title } = document().brief ?? document();
    download(fileName(title, name), new Blob([JSON.stringify(document(), null, 2)], { type: "application/json" }));
  };
  const share = async () => {
    const address = await linkOfBrief(store.state.brief);
    await navigator.clipboard?.writeText(address).catch(() => {});
    link.replaceChildren(h("a", { href: address }, t("take.link.here")));
  };
  return h("section", { class: "takeaway", "aria-labelledby": "take-title" },
    h("h2", { id: "take-title" }, t("take.title")),
    h("div", { class: "row" },
      plan ? [
        button(t("take.print"), () => window.print(), { id: "take-print" }),
        button(t("take.ics"), form("week.ics", "text/calendar"), { id: "take-ics" }),
        button(t("take.csv"), form("week.csv", "text/csv"), { id: "take-csv" }),
        button(t("take.plan"), json("plan.json", () => plan.plan), { id: "take-plan" }),
      ] : null,
      button(t("take.brief"), json("brief.json", () => store.state.brief), { id: "take-brief" }),
      button(t("take.link"), share, { id: "take-link" })),
    h("p", { class: "small" }, t("take.private")), link);
}
