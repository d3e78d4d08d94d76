// What is asked of a block: how many weeks build, which differ, how many distinct exercises a muscle is to have.

import { merged, patchOf } from "./documents.js";
import { button, h } from "./dom.js";
import { told, toldIn } from "./told.js";
import { t, word } from "./words.js";

const MOST_WEEKS = 26;

/** The ways out that were taken: of this brief, for weeks that the block has. */
export const mendsOf = ({ title, week }, asked) => (asked.mended ?? []).filter((each) => each.title === title && each.start === week?.start && each.week <= asked.weeks + asked.easyWeeks);

/** The request as the server takes it. Weeks that differ are like a week that was kept under a name: a merge patch. */
export function requestOf(brief, variants, asked) {
  const { title, story, week, ...same } = brief;
  const patches = {};
  for (const { from, to, name } of asked.differing) {
    const other = variants.find((each) => each.name === name);
    if (!other) continue;
    const { title: _title, story: _story, week: _week, ...changed } = other.brief;
    const key = from >= to ? `${from}` : `${from}-${to}`;
    patches[key] = patchOf(same, changed);
  }
  for (const { week: number, patch } of mendsOf(brief, asked)) patches[number] = merged(patches[number] ?? {}, patch);
  const distinct = Object.fromEntries(Object.entries(asked.distinct).filter(([target, n]) => n && brief.goals?.[target]));
  return { brief, block: { weeks: asked.weeks, easy_weeks: asked.easyWeeks, patches, distinct } };
}

const whole = (input, least, most) => Math.max(least, Math.min(most, Math.round(Number(input.value)) || least));

/** The form changes `asked` in place and is not drawn anew by it: a click on its way never loses its button. */
export function requestForm(brief, variants, asked, { save, redraw, plan }) {
  const all = () => asked.weeks + asked.easyWeeks;
  const number = (id, label, least, most, value, take) => h("label", {}, label, h("input", { type: "number", id, min: least, max: most, value, class: "short-number", oninput: (event) => { take(whole(event.target, least, most), event.target); save(); } }));
  const structure = (change) => () => { change(); save(); redraw(); };
  const stretch = (each, i) => h("fieldset", { class: "row" }, h("legend", { class: "unseen" }, t("block.differing.one", { n: i + 1 })),
    number(`block-from-${i}`, t("block.from"), 1, MOST_WEEKS, each.from, (from) => { each.from = from; }),
    number(`block-to-${i}`, t("block.to"), 1, MOST_WEEKS, each.to, (to) => { each.to = to; }),
    h("label", {}, t("block.like"), h("select", { id: `block-like-${i}`, onchange: (event) => { each.name = event.target.value; save(); } }, [...new Set([each.name, ...variants.map((other) => other.name)])].map((name) => h("option", { value: name, selected: name === each.name }, name)))),
    button(t("remove"), structure(() => asked.differing.splice(i, 1)), { class: "quiet", "aria-label": t("remove.of", { name: t("block.differing.one", { n: i + 1 }) }) }));
  return h("form", { class: "block-form", onsubmit: (event) => { event.preventDefault(); plan(); } },
    h("div", { class: "row" },
      number("block-weeks", t("block.weeks"), 1, MOST_WEEKS, asked.weeks, (weeks) => { asked.weeks = weeks; }),
      number("block-easy-weeks", t("block.easy-weeks"), 0, MOST_WEEKS, asked.easyWeeks, (easy) => { asked.easyWeeks = easy; }),
      h("button", { type: "submit", class: "act", id: "block-plan" }, t("block.plan"))),
    h("details", { id: "block-differing" }, h("summary", {}, asked.differing.length ? t("block.differing", { n: asked.differing.length }) : t("block.differing.none")),
      h("p", { class: "small" }, t(variants.length ? "block.differing.what" : "block.differing.how")),
      asked.differing.map(stretch),
      variants.length ? button(t("block.differing.add"), structure(() => asked.differing.push({ from: all(), to: all(), name: variants.at(-1).name })), { id: "block-differ" }) : null),
    mendsOf(brief, asked).length ? h("ul", { id: "block-mended", "aria-label": t("block.mended") }, mendsOf(brief, asked).map((each) => h("li", {},
      t("block.mended.week", { n: each.week }), " ", each.sentences.map((sentence, k) => [k ? "; " : null, toldIn("span", sentence)]), " ",
      button(t("remove"), structure(() => asked.mended.splice(asked.mended.indexOf(each), 1)), { class: "quiet", "aria-label": t("remove.of", { name: t("block.mended.week", { n: each.week }) }) })))) : null,
    h("details", { id: "block-distinct" }, h("summary", {}, t("block.distinct")),
      h("p", { class: "small" }, t("block.distinct.what")),
      h("div", { class: "row" }, Object.keys(brief.goals ?? {}).map((target) => number(`block-distinct-${target}`, told(word("muscle", target)), 0, 20, asked.distinct[target] || "", (n) => { asked.distinct[target] = n; })))));
}
