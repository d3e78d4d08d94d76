// Rules: must, wish or off, with their numbers.

import { join } from "./documents.js";
import { h } from "./dom.js";
import { fieldId } from "./trouble.js";
import { told, toldIn } from "./told.js";
import { t } from "./words.js";

export function rulesPart(brief, rules, fields, schema, change) {
  return [h("p", { class: "small" }, t("rules.what")), rules.map((rule) => {
    const pointer = join("/rules", rule.key);
    const setting = brief.rules?.[rule.key] ?? {};
    const own = fields.plain(schema.properties.rules.properties[rule.key]);
    const numbers = Object.keys(own.properties).filter((name) => name !== "mode");
    const mode = h("fieldset", { class: "modes", id: fieldId(join(pointer, "mode")), tabindex: -1 }, h("legend", { class: "unseen" }, t("rule.mode", { name: rule.title })),
      ["", ...own.properties.mode.enum.filter(Boolean)].map((each) => h("label", {}, h("input", { type: "radio", name: `mode-${rule.key}`, id: `mode-${rule.key}-${each || "default"}`, value: each, checked: (setting.mode ?? "") === each, onchange: () => change(join(pointer, "mode"), each || undefined, false) }), each ? t(`mode.${each}`) : t("rule.default", { mode: t(`mode.${rule.default_mode}`) }))));
    return h("details", { id: `edit-rule-${rule.key}`, class: "rule" },
      h("summary", {}, told(rule.title), rule.key in (brief.rules ?? {}) ? h("em", { class: "tag" }, t("rule.changed")) : null),
      toldIn("p", rule.meaning, { class: "small", id: fieldId(pointer), tabindex: -1 }), mode, numbers.map((name) => fields.field(join(pointer, name), name, own.properties[name], setting[name])));
  })];
}
