// Weekly sets as ranges, muscle by muscle.

import { join } from "./documents.js";
import { button, h } from "./dom.js";
import { fieldId } from "./trouble.js";
import { toldIn } from "./told.js";
import { t } from "./words.js";

const ENDS = ["least", "aim", "most"];

export function goalsPart(brief, catalogue, fields, schema, change) {
  const goal = fields.plain(schema.properties.goals.additionalProperties);
  const nameOf = (target) => (catalogue.muscles[target] ?? catalogue.groups[target])?.name ?? target;
  const rows = Object.entries(brief.goals ?? {}).map(([target, asked]) => {
    const pointer = join("/goals", target);
    const end = (name) => {
      const input = fields.number(fieldId(join(pointer, name)), fields.plain(goal.properties[name]), asked[name], (value) => change(join(pointer, name), value, false));
      input.setAttribute("aria-label", t(`goal.${name}`, { name: nameOf(target) }));
      input.placeholder = "–";
      return h("td", {}, input);
    };
    return [
      h("tr", { id: fieldId(pointer), tabindex: -1 }, toldIn("th", nameOf(target), { scope: "row" }), ENDS.map(end),
        h("td", {}, button("×", () => change(pointer, undefined, true), { class: "quiet", "aria-label": t("remove.of", { name: nameOf(target) }) }))),
      h("tr", {}, h("td", { colspan: 5 }, h("details", { id: `goal-more-${target}` }, h("summary", {}, t("goal.more")), fields.members(pointer, goal, asked, ["priority", "frequency", "session_cap", "recovery_hours"])))),
    ];
  });
  const add = h("select", { id: "goal-add", "aria-label": t("goal.add"), onchange: (event) => event.target.value && change(join("/goals", event.target.value), { least: 4, aim: 8, most: 16 }, true) },
    h("option", { value: "" }, t("goal.add")),
    ["groups", "muscles"].map((part) => h("optgroup", { label: t(`goal.${part}`) }, Object.entries(catalogue[part]).filter(([key]) => !(key in (brief.goals ?? {}))).map(([key, row]) => toldIn("option", row.name, { value: key })))));
  return [h("p", { class: "small" }, t("goal.what")), h("table", { class: "goals" }, h("caption", { class: "unseen" }, t("part.goals")),
    h("thead", {}, h("tr", {}, ["goal.muscle", "range.least", "range.aim", "range.most"].map((key) => h("th", { scope: "col" }, t(key))), h("td", {}))), h("tbody", {}, rows)), add];
}
