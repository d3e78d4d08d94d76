// Where a person begins: a demo brief, an empty one, or a file.

import { read } from "./api.js";
import { button, h } from "./dom.js";
import { comingMonday } from "./time.js";
import { told, toldIn } from "./told.js";
import { t } from "./words.js";

export function emptyBrief() {
  return {
    title: t("empty.title"),
    week: { start: comingMonday(), zone: Intl.DateTimeFormat().resolvedOptions().timeZone || "UTC" },
    lifter: { name: t("empty.lifter"), status: "intermediate" },
    places: { gym: { name: t("empty.gym"), base: "full_gym" } },
    openings: [{ day: ["mon", "tue", "wed", "thu", "fri"], start: "17:00", end: "20:00", place: "gym" }],
    kinds: { full_body: { base: "full_body", per_week: { least: 2, most: 3 } } },
    goals: { back: { least: 6, aim: 10, most: 16 }, chest: { least: 6, aim: 8, most: 14 }, quads: { least: 6, aim: 8, most: 14 } },
  };
}

export function start(open, { onFile, problem }) {
  const list = h("ul", { class: "demos" }, h("li", { class: "waiting" }, t("loading")));
  read("/v1/demo-briefs").then(
    ({ briefs }) => list.replaceChildren(...briefs.map((brief) => h("li", {}, button(told(brief.title), async () => open(await read(brief.link), { solve: true }), { class: "demo", "data-demo": brief.name }), toldIn("p", brief.story ?? "")))),
    (error) => { list.replaceChildren(); problem(error); },
  );
  const file = h("input", { type: "file", id: "file", accept: ".json,.yaml,.yml,application/json,application/yaml", class: "unseen", onchange: () => file.files[0] && onFile(file.files[0]) });
  return h("section", { class: "start", "aria-labelledby": "start-title" },
    h("div", { class: "intro" },
      h("h1", { id: "start-title" }, t("start.title")), h("p", {}, t("start.what")),
      h("div", { class: "row" }, button(t("start.empty"), () => open(emptyBrief(), { solve: false }), { class: "act", id: "start-empty" }), file, h("label", { class: "button", for: "file" }, t("start.file"))),
      h("p", { class: "small" }, t("start.drop"))),
    h("div", {}, h("h2", {}, t("start.demos")), list));
}
