// Places: what each has, ticked.

import { join, placed } from "./documents.js";
import { button, h } from "./dom.js";
import { fieldId } from "./trouble.js";
import { SERVED, told } from "./told.js";
import { t } from "./words.js";

export function placesPart(brief, catalogue, fields, change) {
  const bases = Object.entries(catalogue.places).map(([key, row]) => [key, row.name]);
  const name = h("input", { type: "text", id: "place-new", "aria-label": t("place.new"), placeholder: t("new.placeholder") });
  const add = () => {
    const key = name.value.trim().toLowerCase().replace(/[^a-z0-9]+/g, "_").replace(/^_+|_+$/g, "");
    if (key) change(join("/places", key), { name: name.value.trim(), base: "full_gym" }, true);
  };
  return [
    Object.entries(brief.places ?? {}).map(([key, place]) => {
      const pointer = join("/places", key);
      const has = catalogue.places[place.base]?.equipment ?? [];
      const lacks = [place.lacks ?? []].flat();
      const own = Array.isArray(place.equipment) ? Object.fromEntries(place.equipment.map((each) => [each, {}])) : place.equipment ?? {};
      const tick = (each, on) => {
        let found = { ...place, equipment: { ...own }, lacks: lacks.filter((other) => other !== each) };
        if (on && !has.includes(each)) found.equipment[each] = {};
        if (!on) delete found.equipment[each];
        if (!on && has.includes(each)) found.lacks.push(each);
        if (!found.lacks.length) found = placed(found, "/lacks", undefined);
        if (!Object.keys(found.equipment).length) found = placed(found, "/equipment", undefined);
        change(pointer, found, true);
      };
      const heaviest = (each) => {
        const row = catalogue.equipment[each];
        if (!row.loadable) return null;
        const at = join(join(join(pointer, "equipment"), each), "heaviest_kg");
        return h("input", { type: "number", class: "heaviest", id: fieldId(at), min: 1, step: "any", value: own[each]?.heaviest_kg ?? "", placeholder: row.heaviest_kg, "aria-label": t("place.heaviest", { name: row.name }), oninput: (event) => change(at, event.target.value === "" ? undefined : Number(event.target.value), false) });
      };
      return h("fieldset", { id: fieldId(pointer), tabindex: -1 }, h("legend", {}, place.name ?? key),
        fields.field(join(pointer, "name"), "name", { type: "string" }, place.name),
        fields.labelled(join(pointer, "base"), "base", fields.select(fieldId(join(pointer, "base")), bases, place.base, (value) => change(join(pointer, "base"), value, true), SERVED)),
        fields.field(join(pointer, "travel_minutes"), "travel_minutes", { type: "integer", minimum: 0, maximum: 600 }, place.travel_minutes),
        h("fieldset", { class: "ticks equipment", id: fieldId(join(pointer, "equipment")), tabindex: -1 }, h("legend", {}, t("place.has")),
          Object.entries(catalogue.equipment).map(([each, row]) => {
            const there = (has.includes(each) && !lacks.includes(each)) || each in own;
            return h("div", {}, h("label", {}, h("input", { type: "checkbox", id: `tick${pointer}/${each}`, checked: there, onchange: (event) => tick(each, event.target.checked) }), told(row.name)), there ? heaviest(each) : null);
          })),
        button(t("remove"), () => change(pointer, undefined, true), { class: "quiet", "aria-label": t("remove.of", { name: place.name ?? key }) }));
    }),
    h("div", { class: "row" }, name, button(t("add"), add, { class: "quiet", "aria-label": t("add.to", { name: t("part.where") }) })),
  ];
}
