// Forms made from the JSON Schema of a brief: a field for every value, at the id of its JSON pointer.

import { join } from "./documents.js";
import { button, h } from "./dom.js";
import { fieldId } from "./trouble.js";
import { DAYS, dayName } from "./time.js";
import { SERVED } from "./told.js";
import { t, word } from "./words.js";

const isRange = (schema) => schema.anyOf?.length === 2 && schema.anyOf[0].type === "integer" && schema.anyOf[1].properties?.least !== undefined;

const MODES = ["must", "wish", "off"];
const choiceText = (name, each) => (DAYS.includes(each) ? dayName(DAYS.indexOf(each)) : MODES.includes(each) ? t(`mode.${each}`) : word(name, each));

const FEW = 10; // more ticks than that are folded away

const namesIn = (text) => text.split(",").map((each) => each.trim()).filter(Boolean);

export class Fields {
  /**
   * @param schema the whole schema, with its `$defs`
   * @param names what is known by name: choices of a field, `{patterns: {key: name}}`
   * @param served which of these names are the server's words
   * @param change called with pointer, value and whether the form itself has to be made anew
   */
  constructor(schema, names, served, change) {
    this.schema = schema;
    this.names = names;
    this.served = new Set(served);
    this.change = change;
  }

  /** A schema without references and without null. */
  plain(schema) {
    let found = schema;
    while (found.$ref) found = { ...this.schema.$defs[found.$ref.split("/").at(-1)], ...without(found, "$ref") };
    if (!found.anyOf || isRange(found)) return found;
    const kept = found.anyOf.filter((each) => each.type !== "null");
    if (kept.length === 1) return this.plain({ ...without(found, "anyOf"), ...kept[0] });
    const list = kept.map((each) => this.plain(each)).find((each) => each.type === "array" || each.type === "object");
    return list ? { ...without(found, "anyOf"), ...list } : found;
  }

  labelled(pointer, name, control, hint) {
    return h("label", { class: "field" }, h("span", {}, word("field", name)), control, hint ? h("small", {}, hint) : null);
  }

  /** The field, or the group of fields, of one value. */
  field(pointer, name, given, value) {
    const schema = this.plain(given);
    const id = fieldId(pointer);
    const put = (found) => this.change(pointer, found, false);
    if (isRange(schema)) return this.range(pointer, name, value);
    if (schema.enum) return this.labelled(pointer, name, this.select(id, schema.enum.map((each) => [each, choiceText(name, each)]), value, (text) => put(schema.type === "integer" ? Number(text) : text)));
    if (schema.type === "boolean") return this.labelled(pointer, name, this.select(id, [["true", t("yes")], ["false", t("no")]], value === undefined || value === null ? value : String(value), (text) => put(text === "true")));
    if (schema.type === "integer" || schema.type === "number") return this.labelled(pointer, name, this.number(id, schema, value, put));
    if (schema.type === "array") return schema.items && this.plain(schema.items).type === "object" ? this.list(pointer, name, schema, value) : this.nameList(pointer, name, schema, value);
    if (schema.type === "object" && schema.properties) return h("fieldset", { id, tabindex: -1 }, h("legend", {}, word("field", name)), this.members(pointer, schema, value));
    if (schema.type === "object") return this.map(pointer, name, schema, value);
    const choices = this.names[name];
    if (schema.type === "string" && choices) return this.labelled(pointer, name, this.select(id, Object.entries(choices), value, put, this.langOf(name)));
    const kind = schema.format === "date" ? "date" : schema.format === "time-local" ? "time" : "text";
    return this.labelled(pointer, name, h("input", { id, type: kind, step: kind === "time" ? 300 : null, list: this.listOf(name), value: kind === "time" ? String(value ?? "").slice(0, 5) : typeof value === "object" && value ? JSON.stringify(value) : value ?? "", oninput: (event) => put(event.target.value || undefined) }));
  }

  langOf(name) {
    return this.served.has(name) ? SERVED : null;
  }

  listOf(name) {
    return ["exercise", "wanted", "avoided", "favourites", "only"].includes(name) ? "names-exercises" : null;
  }

  members(pointer, schema, value, names = Object.keys(schema.properties)) {
    return names.map((name) => this.field(join(pointer, name), name, schema.properties[name], value?.[name]));
  }

  number(id, schema, value, put) {
    return h("input", { id, type: "number", inputmode: "decimal", min: schema.minimum ?? schema.ge ?? null, max: schema.maximum ?? schema.le ?? null, step: schema.type === "integer" ? 1 : "any", value: value ?? "", placeholder: t("default"), oninput: (event) => put(event.target.value === "" ? undefined : Number(event.target.value)) });
  }

  select(id, choices, value, put, lang = null) {
    const known = choices.some(([key]) => String(key) === String(value));
    return h("select", { id, onchange: (event) => (event.target.value === "" ? this.change(pointerOf(id), undefined, false) : put(event.target.value)) },
      h("option", { value: "" }, t("default")),
      value !== undefined && value !== null && !known ? h("option", { value, selected: true }, String(value)) : null,
      choices.map(([key, text]) => h("option", { lang, value: key, selected: String(key) === String(value) }, text)));
  }

  /** A range of whole numbers; a single number means exactly that many. */
  range(pointer, name, value) {
    const { least, most } = typeof value === "number" ? { least: value, most: value } : value ?? {};
    const id = fieldId(pointer);
    const put = () => {
      const [low, high] = [document.getElementById(`${id}/least`), document.getElementById(`${id}/most`)].map((each) => (each.value === "" ? undefined : Number(each.value)));
      const found = low === undefined && high === undefined ? undefined : { ...(low === undefined ? {} : { least: low }), ...(high === undefined ? {} : { most: high }) };
      this.change(pointer, found, false);
    };
    const part = (end, number) => h("input", { id: `${id}/${end}`, type: "number", inputmode: "numeric", min: 0, step: 1, value: number ?? "", placeholder: "–", "aria-label": `${word("field", name)}: ${t(`range.${end}`)}`, oninput: put });
    return h("div", { class: "field range", role: "group", "aria-label": word("field", name), id, tabindex: -1 }, h("span", {}, word("field", name)), part("least", least), h("span", { "aria-hidden": "true" }, "–"), part("most", most));
  }

  /** Names: ticked where the choices are few, else written with commas. */
  nameList(pointer, name, schema, value) {
    const id = fieldId(pointer);
    const chosen = value === undefined || value === null ? [] : [value].flat();
    const items = this.plain(schema.items ?? {});
    const choices = items.enum ? Object.fromEntries(items.enum.map((each) => [each, choiceText(name, each)])) : this.names[name];
    if (!choices) {
      const put = (event) => { const found = namesIn(event.target.value); this.change(pointer, found.length ? found : undefined, false); };
      const text = h("input", { id, type: "text", value: chosen.map((each) => (typeof each === "object" ? JSON.stringify(each) : each)).join(", "), oninput: put });
      return [this.labelled(pointer, name, text, t("commas")), this.listOf(name) ? this.finder(id, name, text) : null];
    }
    const put = () => { const found = [...document.getElementById(id).querySelectorAll("input:checked")].map((each) => each.value); this.change(pointer, found.length ? found : undefined, false); };
    const ticks = h("fieldset", { id, tabindex: -1, class: "ticks" }, h("legend", {}, word("field", name)), Object.entries(choices).map(([key, text]) => h("label", {}, h("input", { type: "checkbox", value: key, checked: chosen.includes(key), onchange: put }), h("span", { lang: items.enum ? null : this.langOf(name) }, text))));
    if (Object.keys(choices).length <= FEW) return ticks;
    return h("details", { id: `many${pointer}` }, h("summary", {}, word("field", name), " ", h("span", { class: "small", lang: chosen.length ? this.langOf(name) : null }, chosen.length ? chosen.map((key) => choices[key] ?? key).join(", ") : t("default"))), ticks);
  }

  /** Finds one more name for a text of names: by a part of what it is called, from the browser's own list. */
  finder(id, name, text) {
    const add = (event) => {
      const sought = event.target.value.trim().toLowerCase();
      const found = [...document.getElementById(this.listOf(name)).options].find((each) => each.value === sought || each.text.toLowerCase() === sought);
      if (!found) return;
      text.value = [...namesIn(text.value), found.value].join(", ");
      text.dispatchEvent(new Event("input"));
      event.target.value = "";
    };
    return h("input", { id: `${id}/find`, type: "text", class: "finder", list: this.listOf(name), placeholder: t("names.find"), "aria-label": t("add.to", { name: word("field", name) }), onchange: add });
  }

  /** A list of things, each with its fields. */
  list(pointer, name, schema, value) {
    const found = value ?? [];
    const items = this.plain(schema.items);
    return h("fieldset", { id: fieldId(pointer), tabindex: -1, class: "several" }, h("legend", {}, word("field", name)),
      found.map((each, i) => h("div", { class: "one", role: "group", "aria-label": `${word("field", name)} ${i + 1}` }, this.members(join(pointer, i), items, each), this.remove(join(pointer, i), `${word("field", name)} ${i + 1}`))),
      button(t("add"), () => this.change(pointer, [...found, this.fresh(items)], true), { class: "quiet", id: `${fieldId(pointer)}/add`, "aria-label": t("add.to", { name: word("field", name) }) }));
  }

  /** Things by name. */
  map(pointer, name, schema, value) {
    const found = value ?? {};
    const items = this.plain(typeof schema.additionalProperties === "object" ? schema.additionalProperties : {});
    const key = h("input", { type: "text", id: `${fieldId(pointer)}/new`, "aria-label": t("new.name", { name: word("field", name) }), placeholder: t("new.placeholder"), list: name === "most_per_week" ? "names-exercises" : null });
    const add = () => key.value.trim() && this.change(join(pointer, key.value.trim()), this.fresh(items), true);
    return h("fieldset", { id: fieldId(pointer), tabindex: -1, class: "several" }, h("legend", {}, word("field", name)),
      Object.entries(found).map(([each, part]) => h("div", { class: "one", role: "group", "aria-label": each }, this.field(join(pointer, each), each, items, part), this.remove(join(pointer, each), each))),
      h("div", { class: "row" }, key, button(t("add"), add, { class: "quiet", "aria-label": t("add.to", { name: word("field", name) }) })));
  }

  remove(pointer, name) {
    return button(t("remove"), () => this.change(pointer, undefined, true), { class: "quiet remove", "aria-label": t("remove.of", { name }) });
  }

  /** The least that a new thing has to hold. */
  fresh(schema) {
    if (schema.type === "integer" || schema.type === "number") return Math.max(1, schema.minimum ?? 1);
    if (schema.type !== "object") return "";
    const found = {};
    for (const name of schema.required ?? []) {
      const part = this.plain(schema.properties[name]);
      found[name] = isRange(part) ? { least: 1, most: 1 } : part.type === "array" ? [this.plain(part.items).enum?.[0] ?? ""] : part.enum ? part.enum[0] : part.format === "time-local" ? "17:00" : this.names[name] ? Object.keys(this.names[name])[0] : part.type === "string" ? "" : this.fresh(part);
    }
    if ("start" in found && "end" in found && found.start === found.end) found.end = "20:00";
    return found;
  }
}

const without = (object, name) => Object.fromEntries(Object.entries(object).filter(([key]) => key !== name));
const pointerOf = (id) => id.replace(/^at/, "");
