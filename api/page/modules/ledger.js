// The ledger: counted sets of every muscle against least, aim and most. Direct sets are solid, indirect ones hatched.

import { arrows, button, h, s } from "./dom.js";
import { told } from "./told.js";
import { format, t } from "./words.js";

const WIDE = 240;
const HIGH = 26;

/** Which wish falls short, as a plan names it. */
export function shortOf(row) {
  if (row.least !== null && row.counted < row.least) return "least";
  if (row.aim !== null && row.counted < row.aim) return "aim";
  return null;
}

function bar(row, before, scale) {
  const x = (sets) => (sets / scale) * WIDE;
  const { least, aim, most, direct, counted } = row;
  const shown = Math.min(direct, counted);
  return s("svg", { class: "bar", viewBox: `-1 0 ${WIDE + 2} ${HIGH}`, preserveAspectRatio: "none", "aria-hidden": "true" },
    least === null ? null : s("rect", { class: "range", x: x(least), y: 3, width: Math.max(1, x(most ?? scale) - x(least)), height: HIGH - 6 }),
    s("rect", { class: "direct", x: 0, y: 9, width: x(shown), height: 8 }),
    s("rect", { class: "indirect", x: x(shown), y: 9, width: x(counted - shown), height: 8, fill: "url(#hatch)" }),
    s("rect", { class: "outline", x: 0, y: 9, width: x(counted), height: 8 }),
    aim === null ? null : s("path", { class: "aim", d: `M${x(aim)} 2V${HIGH - 2}` }),
    before === undefined ? null : s("path", { class: "ghost", d: `M${x(before)} 4V${HIGH - 4}` }));
}

const MORE_SETS = 2;

/** A bar that asks when it is pressed: a short one why there is not more, another one what more would cost. */
function askable(row, short, drawn, ask) {
  if (row.aim === null && !short) return drawn;
  const name = row.name;
  const more = Math.ceil(row.counted) + MORE_SETS;
  const goal = { aim: more, ...(row.most !== null && row.most < more ? { most: more } : {}) };
  const question = short
    ? () => ask("why", { wish: `weekly_sets:${short}:${row.target}` }, t("about.short", { name }))
    : () => ask("what-if", { patches: { more: { goals: { [row.target]: goal } } } }, t("about.more", { name, n: more }));
  const label = t(short ? "ask.why-not-more.of" : "ask.more.of", { name, n: more });
  return h("button", { type: "button", class: "ask-bar", id: `bar-${row.target}`, "aria-label": label, title: label, onclick: question }, drawn);
}

export function ledger(plan, difference, ask) {
  const goals = plan.ledger.filter((row) => row.least !== null || row.aim !== null);
  const others = plan.ledger.filter((row) => row.least === null && row.aim === null);
  const scale = Math.max(1, ...plan.ledger.map((row) => Math.max(row.counted, row.most ?? 0)));
  const before = new Map((difference?.ledger ?? []).map((row) => [row.target, row.before]));
  const rows = (found) => found.map((row) => {
    const short = shortOf(row);
    return h("tr", { class: short ? "short" : null, "data-target": row.target },
      h("th", { scope: "row" }, told(row.name), row.priority === null ? null : h("em", { class: "tag" }, t("priority", { n: row.priority })),
        short ? h("span", { class: "small block" }, t(`ledger.short.${short}`)) : null),
      h("td", { class: "drawn" }, askable(row, short, bar(row, before.get(row.target), scale), ask)),
      h("td", { class: "number" }, h("b", {}, format(row.counted)), h("span", { class: "small" }, t("ledger.split", { direct: row.direct, indirect: Math.max(0, row.counted - row.direct) }))),
      h("td", { class: "number small" }, row.aim === null ? "" : [h("span", { class: "piece" }, t("ledger.goal.aim", { aim: row.aim })), " ", h("span", { class: "piece" }, t("ledger.goal", { least: row.least, most: row.most }))]),
    );
  });
  const head = h("thead", { class: "unseen" }, h("tr", {}, ["muscle", "drawing", "sets", "goals"].map((each) => h("th", { scope: "col" }, t(`ledger.${each}`)))));
  return h("section", { class: "ledger", "aria-labelledby": "ledger-title" },
    h("h2", { id: "ledger-title" }, t("ledger.title")),
    h("p", { class: "key small" }, ["direct", "indirect", "range", "aim"].map((kind) => h("span", { class: "piece" }, key(kind), t(`ledger.${kind}`)))),
    h("p", { class: "small noprint" }, t("ledger.how")),
    h("table", {}, h("caption", { class: "unseen" }, t("ledger.title")), head, h("tbody", { onkeydown: arrows("button.ask-bar") }, rows(goals))),
    others.length ? h("details", { id: "ledger-others" }, h("summary", {}, t("ledger.others", { n: others.length })),
      h("table", {}, h("caption", { class: "unseen" }, t("ledger.others", { n: others.length })), head.cloneNode(true), h("tbody", {}, rows(others)))) : null);
}

function key(kind) {
  return s("svg", { class: "bar key", viewBox: "0 0 20 12", "aria-hidden": "true" },
    kind === "aim" ? s("path", { class: "aim", d: "M10 0V12" }) : s("rect", { class: kind, x: 0.5, y: 1.5, width: 19, height: 9, fill: kind === "indirect" ? "url(#hatch)" : null }),
    kind === "indirect" || kind === "direct" ? s("rect", { class: "outline", x: 0.5, y: 1.5, width: 19, height: 9 }) : null);
}
