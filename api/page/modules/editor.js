// The brief, part by part: by pointing where people would point, by forms made from its schema elsewhere.

import { read } from "./api.js";
import { placed } from "./documents.js";
import { button, fill, h } from "./dom.js";
import { calendarPart } from "./editcalendar.js";
import { goalsPart } from "./editgoals.js";
import { placesPart } from "./editplaces.js";
import { rulesPart } from "./editrules.js";
import { Fields } from "./fields.js";
import { markFaults } from "./trouble.js";
import { toldIn } from "./told.js";
import { kindName } from "./weekmodel.js";
import { t } from "./words.js";

const PARTS = ["muscles", "groups", "patterns", "equipment", "kinds", "places", "exercises"];
const SERVED_NAMES = ["patterns", "required", "pattern"];
let known = null;

async function load() {
  const [schema, rules, ...parts] = await Promise.all([read("/v1/schemas/brief"), read("/v1/rules"), ...PARTS.map((part) => read(`/v1/catalogue/${part}`))]);
  return { schema, rules: rules.rules, catalogue: Object.fromEntries(parts.map((part) => [part.part, part.rows])) };
}

const namesOf = (rows) => Object.fromEntries(Object.entries(rows).map(([key, row]) => [key, row.name]));

export async function editor(node, store, acts, problem) {
  if (!store.state.brief) return fill(node);
  if (!known) {
    fill(node, h("section", { class: "brief" }, h("h2", {}, t("brief")), h("p", { class: "waiting" }, t("loading"))));
    try {
      known = await load();
    } catch (error) {
      fill(node, h("section", { class: "brief" }, h("h2", {}, t("brief")), h("p", {}, t("editor.unreachable")), button(t("again"), () => editor(node, store, acts, problem))));
      return problem(error);
    }
  }
  const { brief } = store.state;
  if (!brief) return fill(node);
  const { schema, catalogue, rules } = known;
  const change = (pointer, value, anew) => store.edit(placed(store.state.brief, pointer, value), anew ? null : "typing", anew ? null : pointer);
  const places = Object.fromEntries(Object.entries(brief.places ?? {}).map(([key, place]) => [key, place.name ?? key]));
  const kinds = Object.fromEntries(Object.keys(brief.kinds ?? {}).map((key) => [key, kindName(brief, key)]));
  const patterns = namesOf(catalogue.patterns);
  const names = { patterns, required: patterns, pattern: patterns, place: places, places, kind: kinds, from: kinds, to: kinds };
  const fields = new Fields(schema, names, SERVED_NAMES, change);
  const whole = (part) => fields.field(`/${part}`, part, schema.properties[part], brief[part]);
  const kindFields = new Fields(schema, { ...names, base: namesOf(catalogue.kinds) }, [...SERVED_NAMES, "base"], change);
  const part = (name, ...content) => h("details", { id: `part-${name}`, class: "part" }, h("summary", {}, h("h3", {}, t(`part.${name}`)), h("span", { class: "small" }, summary(name, brief))), content);
  fill(node, h("section", { class: "brief noprint", "aria-labelledby": "brief-title" },
    h("h2", { id: "brief-title" }, t("brief")),
    h("datalist", { id: "names-exercises" }, Object.entries(catalogue.exercises).map(([key, row]) => toldIn("option", row.name, { value: key }))),
    part("who", whole("title"), whole("story"), whole("week"), whole("lifter")),
    part("goals", goalsPart(brief, catalogue, fields, schema, change)),
    part("when", calendarPart(brief, store, problem), whole("openings"), whole("busy")),
    part("where", placesPart(brief, catalogue, fields, change)),
    part("kinds", kindFields.field("/kinds", "kinds", schema.properties.kinds, brief.kinds), whole("sessions")),
    part("exercises", whole("exercises"), whole("pinned")),
    part("rules", rulesPart(brief, rules, fields, schema, change)),
    part("more", ["prescription", "history", "done", "previous", "not_before", "musts", "concessions"].map(whole)),
    part("text", asText(brief, store))));
  markFaults(store.state.trouble);
}

function summary(name, brief) {
  const counts = { goals: brief.goals, when: brief.openings, where: brief.places, kinds: brief.kinds, rules: brief.rules };
  return name in counts ? t(`part.${name}.said`, { n: Object.keys(counts[name] ?? {}).length }) : name === "who" ? brief.lifter?.name ?? "" : "";
}

/** The whole brief as text, for those who like that better. */
function asText(brief, store) {
  const note = h("p", { class: "fault", role: "alert", hidden: true });
  const text = h("textarea", { id: "whole-brief", rows: 16, spellcheck: "false", "aria-label": t("part.text"), value: JSON.stringify(brief, null, 2) });
  const take = () => {
    try {
      const found = JSON.parse(text.value);
      note.hidden = true;
      store.edit(found);
    } catch (error) {
      note.hidden = false;
      note.textContent = t("text.broken", { why: error.message });
    }
  };
  return [text, note, button(t("text.take"), take, { class: "act" })];
}
