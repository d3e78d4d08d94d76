// The trade-off: one number of the brief swept, or two; what is reached is drawn, and a point is a plan to take.

import { fill, h, s, button } from "./dom.js";
import { placed } from "./documents.js";
import { SERVED, told } from "./told.js";
import { kindName } from "./weekmodel.js";
import { format, hasWord, t, word } from "./words.js";

const FIRST = [-2, -1, 0, 1, 2], SECOND = [-1, 0, 1]; // steps around the number as it is
const FIGURES = ["wishes", "sessions", "time", "work"];

/** Numbers of a brief that are worth sweeping: their place, and the values some steps around them. */
function choices(plan) {
  const { brief } = plan;
  const around = (value, step, least, most = Infinity) => (steps) => [...new Set(steps.map((each) => value + each * step).filter((each) => each >= least && each <= most))];
  const found = [{ path: "sessions", label: t("tradeoff.sessions"), values: around(plan.sessions.length, 1, 1, 14) }];
  for (const [kind, asked] of Object.entries(brief.kinds)) {
    if (Number.isInteger(asked.per_week) || asked.per_week?.least === asked.per_week?.most) found.push({ path: `kinds.${kind}.per_week`, label: t("tradeoff.per-week", { name: kindName(brief, kind) }), values: around(asked.per_week?.most ?? asked.per_week, 1, 0, 7) });
    const whole = typeof asked.minutes === "number";
    found.push({ path: `kinds.${kind}.minutes${whole ? "" : ".most"}`, label: t("tradeoff.minutes", { name: kindName(brief, kind) }), values: around(whole ? asked.minutes : asked.minutes?.most ?? 60, 10, Math.max(20, asked.minutes?.least ?? 0)) });
  }
  for (const row of plan.ledger) {
    const goal = brief.goals?.[row.target];
    if (goal?.aim) found.push({ path: `goals.${row.target}.aim`, label: t("tradeoff.aim", { name: row.name }), values: around(goal.aim, 2, goal.least ?? 0, goal.most ?? 99) });
  }
  return found;
}

/** Figures are tiers and totals, which the page names, or muscles, which the server does. */
const langOf = (figure) => (hasWord("tier", figure) ? null : SERVED);

const HIGH = 240, WIDE = 460, LEFT = 44, RIGHT = 78;
const DODGE = 8, NEAR = 12; // pixels: curves stand side by side, and labels nearer than that are one
const GLYPHS = ["◆", "■", "▲"]; // as SIGNS draws them
const SIGNS = ["M{x} {y}m0-6l6 6l-6 6l-6-6z", "M{x} {y}m-5-5h10v10h-10z", "M{x} {y}m0-6l6 11h-12z"];

/** A curve for every value of the second number; each point is a button that takes the plan of its values. */
function drawing(vary, sweep, figure, take) {
  const reached = (point) => point.figures[figure] ?? null;
  const points = sweep.points.filter((point) => reached(point) !== null);
  if (!points.length) return h("p", {}, t("tradeoff.none"));
  const without = vary[0].values.filter((value) => !points.some((point) => point.values[0] === value));
  const between = (values, from, to) => {
    const [low, high] = [Math.min(...values), Math.max(...values)];
    return (value) => (high === low ? (from + to) / 2 : from + ((value - low) / (high - low)) * (to - from));
  };
  const xs = vary[0].values;
  const x = between(xs, LEFT, WIDE - RIGHT), y = between(points.map(reached), HIGH - 62, 36);
  const seconds = vary[1]?.values ?? [null];
  const label = word("tier", figure);
  const curves = seconds.map((second, i) => {
    const own = points.filter((point) => second === null || point.values[1] === second);
    const dodge = (i - (seconds.length - 1) / 2) * DODGE;
    return { second, own: own.map((point) => ({ point, px: x(point.values[0]) + dodge, py: y(reached(point)) })) };
  });
  const ends = [];
  for (const { second, own } of curves) {
    const last = own.at(-1);
    if (second === null || !last) continue;
    const near = ends.find((end) => Math.abs(end.y - last.py) < NEAR);
    if (near) near.names.push(format(second));
    else ends.push({ y: last.py, names: [format(second)] });
  }
  return s("svg", { class: "tradeoff", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "group", "aria-label": t("tradeoff.drawn", { figure: label }) },
    s("path", { class: "axis", d: `M${LEFT - 16} 24V${HIGH - 44}H${WIDE}` }),
    s("text", { x: 0, y: 14, class: "axis-name", lang: langOf(figure) }, label),
    s("text", { x: WIDE, y: HIGH - 6, class: "axis-name", "text-anchor": "end" }, vary[0].label),
    xs.map((value) => s("text", { x: x(value), y: HIGH - 26, "text-anchor": "middle" }, format(value))),
    without.map((value) => s("g", { class: "without" }, s("title", {}, t("status.impossible")), s("path", { d: `M${x(value)} ${HIGH - 52}m-5-5l10 10m0-10l-10 10` }))),
    vary[1] ? s("text", { x: WIDE, y: 14, "text-anchor": "end", class: "axis-name" }, vary[1].label) : null,
    seconds.length > 1 ? [...new Set(points.map(reached))].filter((value, _, all) => all.length < 6 || value === Math.min(...all) || value === Math.max(...all)).map((value) => s("text", { x: LEFT - 20, y: y(value) + 4, "text-anchor": "end" }, format(value))) : null,
    ends.map((end) => s("text", { x: WIDE - RIGHT + DODGE * 2.5, y: end.y + 4 }, end.names.join(", "))),
    curves.map(({ second, own }, i) => [
      s("path", { class: `curve curve-${i}`, d: own.map(({ px, py }, k) => `${k ? "L" : "M"}${px} ${py}`).join("") }),
      own.map(({ point, px, py }) => {
        const name = t("tradeoff.point", { value: point.values.map(format).join(", "), figure: label, reached: reached(point) });
        const key = (event) => { if (event.key === "Enter" || event.key === " ") { event.preventDefault(); take(point.values); } };
        return s("g", { class: point.proved ? "point proved" : "point", tabindex: 0, role: "button", "aria-label": name, onclick: () => take(point.values), onkeydown: key },
          s("title", {}, name), s("circle", { class: "reach", cx: px, cy: py, r: second === null ? 14 : DODGE }),
          s("path", { d: SIGNS[i % SIGNS.length].replace("{x}", px).replace("{y}", py) }),
          second === null ? s("text", { x: px, y: py - 11, "text-anchor": "middle" }, format(reached(point))) : null);
      }),
    ]));
}

/** What the signs mean: which value of the second number each is of, and where there is no week. */
function keyOf(vary, sweep) {
  const seconds = vary[1]?.values ?? [];
  const none = sweep.points.some((point) => point.figures.sessions === undefined || point.figures.sessions === null);
  const said = [
    seconds.length > 1 ? `${vary[1].label}: ${seconds.map((value, i) => `${GLYPHS[i % GLYPHS.length]} ${format(value)}`).join(", ")}` : null,
    none ? t("tradeoff.no-week") : null,
  ].filter(Boolean);
  return said.length ? h("p", { class: "small", id: "tradeoff-key" }, said.join(" · ")) : null;
}

function table(vary, sweep, take) {
  const cell = (value) => h("td", { class: "number" }, value === undefined || value === null ? "–" : format(value));
  const heads = [...vary.map((each) => each.label), t("tradeoff.status"), ...FIGURES.map((each) => word("tier", each))];
  return h("details", { id: "tradeoff-table" }, h("summary", {}, t("tradeoff.table")), h("div", { class: "wide", tabindex: 0, role: "region", "aria-label": t("tradeoff.table") }, h("table", { class: "figures" }, h("caption", { class: "unseen" }, t("tradeoff.table")),
    h("thead", {}, h("tr", {}, heads.map((text) => h("th", { scope: "col" }, text)), h("td", {}))),
    h("tbody", {}, sweep.points.map((point) => h("tr", {},
      h("th", { scope: "row" }, format(point.values[0])), point.values.slice(1).map(cell),
      h("td", { class: "line-of" }, statusOf(point)), FIGURES.map((each) => cell(point.figures[each])),
      h("td", {}, point.figures.sessions ? button(t("tradeoff.take"), () => take(point.values), { "aria-label": t("tradeoff.take.of", { value: point.values.map(format).join(", ") }) }) : null)))))));
}

/** How a point ended, or in the server's words why its values make no brief. */
const statusOf = ({ status }) => (hasWord("status", status) ? word("status", status) : told(status));

function result({ vary, found }, store, acts) {
  const take = (values) => {
    const brief = vary.reduce((so_far, { path }, i) => placed(so_far, `/${path.replaceAll(".", "/")}`, values[i]), store.state.brief);
    store.edit(brief);
    acts.solve();
  };
  const figures = Object.keys(found.units);
  if (!figures.length) return h("p", {}, t("tradeoff.none"));
  // What gives way tells most, then what is reached; the costs of single steps come last.
  const muscles = figures.filter((each) => !hasWord("tier", each));
  const differs = (each) => new Set(found.points.map((point) => point.figures[each]).filter((value) => value !== undefined)).size > 1;
  const telling = ["wishes", ...muscles, "work", "time", ...figures].find((each) => figures.includes(each) && differs(each)) ?? figures[0];
  const figure = h("select", { id: "tradeoff-figure", onchange: () => draw() }, figures.map((each) => h("option", { value: each, lang: langOf(each), selected: each === telling }, word("tier", each))));
  const picture = h("div", {});
  const draw = () => fill(picture, drawing(vary, found, figure.value, take), keyOf(vary, found));
  draw();
  return [h("div", { class: "row" }, h("label", {}, t("tradeoff.figure"), figure)), picture, table(vary, found, take)];
}

export function tradeoff(store, acts) {
  const { sweep, plan } = store.state;
  const found = choices(plan.plan);
  const select = (id, chosen, empty) => h("select", { id }, empty ? h("option", { value: "" }, empty) : null, found.map((each) => h("option", { value: each.path, selected: each.path === chosen }, each.label)));
  const first = select("tradeoff-vary", sweep?.vary[0].path), second = select("tradeoff-second", sweep?.vary[1]?.path, t("tradeoff.alone"));
  const asked = (path, steps) => { const each = found.find((one) => one.path === path); return { path, label: each.label, values: each.values(steps) }; };
  const submit = (event) => {
    event.preventDefault();
    const two = second.value && second.value !== first.value;
    acts.sweep(two ? [asked(first.value, FIRST), asked(second.value, SECOND)] : [asked(first.value, FIRST)]);
  };
  return h("section", { class: "trade", "aria-labelledby": "tradeoff-title" }, h("h2", { id: "tradeoff-title" }, t("tradeoff.title")), h("p", {}, t("tradeoff.what")),
    h("form", { class: "row", onsubmit: submit }, h("label", {}, t("tradeoff.vary"), first), h("label", {}, t("tradeoff.second"), second), h("button", { type: "submit", id: "tradeoff-ask" }, t("tradeoff.ask"))),
    h("div", { class: "tradeoff-place" }, sweep?.asking ? h("p", { class: "waiting" }, t("asking")) : sweep ? result(sweep, store, acts) : null));
}
