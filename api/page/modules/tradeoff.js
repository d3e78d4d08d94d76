// The trade-off: one number of the brief swept, what is reached drawn beside it; a point is a plan to take.

import { button, fill, h, s } from "./dom.js";
import { placed } from "./documents.js";
import { format, t, word } from "./words.js";

/** Numbers of a brief that are worth sweeping, with the values around them. */
function choices(brief) {
  const around = (value, step, least) => [...new Set([-2, -1, 0, 1, 2].map((i) => Math.max(least, value + i * step)))];
  const found = [{ path: "sessions", label: t("tradeoff.sessions"), values: [2, 3, 4, 5, 6] }];
  for (const [kind, asked] of Object.entries(brief.kinds)) {
    const most = asked.minutes?.most ?? (typeof asked.minutes === "number" ? asked.minutes : 60);
    found.push({ path: `kinds.${kind}.minutes.most`, label: t("tradeoff.minutes", { name: asked.name ?? word("kind", kind) }), values: around(most, 10, 20) });
  }
  for (const [target, goal] of Object.entries(brief.goals ?? {})) if (goal.aim) found.push({ path: `goals.${target}.aim`, label: t("tradeoff.aim", { name: word("muscle", target) }), values: around(goal.aim, 2, goal.least ?? 0).filter((value) => value <= (goal.most ?? 99)) });
  return found;
}

const HIGH = 200, WIDE = 420, EDGE = 44;

/** Points of a sweep; each is a button that takes the plan of its value. */
function drawing(sweep, figure, take) {
  const points = sweep.points.filter((point) => point.figures[figure] !== null && point.figures[figure] !== undefined);
  if (!points.length) return h("p", {}, t("tradeoff.none"));
  const xs = sweep.points.map((point) => Number(point.values[0]));
  const ys = points.map((point) => point.figures[figure]);
  const scale = (value, values, from, to) => { const [low, high] = [Math.min(...values), Math.max(...values)]; return high === low ? (from + to) / 2 : from + ((value - low) / (high - low)) * (to - from); };
  const x = (value) => scale(Number(value), xs, EDGE, WIDE - 20);
  const y = (value) => scale(value, ys, HIGH - 40, 20);
  return s("svg", { class: "tradeoff", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "group", "aria-label": t("tradeoff.drawn", { figure }) },
    s("path", { class: "axis", d: `M${EDGE - 12} 10V${HIGH - 28}H${WIDE}` }),
    s("text", { x: 0, y: 10 }, figure),
    s("path", { class: "curve", d: points.map((point, i) => `${i ? "L" : "M"}${x(point.values[0])} ${y(point.figures[figure])}`).join("") }),
    points.map((point) => s("g", { class: point.proved ? "point proved" : "point", tabindex: 0, role: "button", "aria-label": t("tradeoff.point", { value: point.values[0], figure, reached: point.figures[figure] }), onclick: () => take(point.values[0]), onkeydown: (event) => { if (event.key === "Enter" || event.key === " ") { event.preventDefault(); take(point.values[0]); } } },
      s("circle", { class: "reach", cx: x(point.values[0]), cy: y(point.figures[figure]), r: 14 }),
      s("path", { d: `M${x(point.values[0])} ${y(point.figures[figure]) - 6}l6 6l-6 6l-6 -6z` }),
      s("text", { x: x(point.values[0]) + 9, y: y(point.figures[figure]) - 7 }, format(point.figures[figure])))),
    sweep.points.map((point) => s("text", { x: x(point.values[0]), y: HIGH - 10, "text-anchor": "middle" }, format(point.values[0]))));
}

export function tradeoff(store, acts) {
  const found = choices(store.state.plan.plan.brief);
  const select = h("select", { id: "tradeoff-vary" }, found.map((each) => h("option", { value: each.path }, each.label)));
  const place = h("div", { class: "tradeoff-place" });
  const ask = async (act) => {
    const { path, values } = found.find((each) => each.path === select.value);
    fill(place, h("p", { class: "waiting" }, t("asking")));
    const { plan } = store.state;
    const done = await acts.run("tradeoff", `${plan.links.self}/tradeoff`, { vary: [{ path, values }] }, ask, act);
    if (!done?.answer) return fill(place);
    const sweep = done.answer;
    const take = (value) => { const pointer = `/${path.replaceAll(".", "/")}`; store.edit(placed(store.state.brief, pointer, value)); acts.solve(); };
    const figures = Object.keys(sweep.units);
    // The first figure that differs tells most.
    const telling = figures.find((each) => new Set(sweep.points.map((point) => point.figures[each]).filter((value) => value !== undefined)).size > 1) ?? figures[0];
    const figure = h("select", { id: "tradeoff-figure", onchange: () => draw() }, figures.map((each) => h("option", { value: each, selected: each === telling }, word("tier", each))));
    const picture = h("div", {});
    const draw = () => fill(picture, drawing(sweep, figure.value, take));
    draw();
    fill(place, h("div", { class: "row" }, h("label", {}, t("tradeoff.figure"), figure)), picture,
      h("div", { class: "wide", tabindex: 0, role: "region", "aria-label": t("tradeoff.table") }, h("table", { class: "figures" }, h("caption", {}, t("tradeoff.table")), h("thead", {}, h("tr", {}, [t("tradeoff.value"), t("tradeoff.status"), ...["wishes", "sessions", "time", "work"].map((each) => word("tier", each)), ""].map((text) => text ? h("th", { scope: "col" }, text) : h("td", {})))),
        h("tbody", {}, sweep.points.map((point) => h("tr", {}, h("th", { scope: "row" }, format(point.values[0])), h("td", {}, point.status), ["wishes", "sessions", "time", "work"].map((each) => h("td", { class: "number" }, point.figures[each] === undefined || point.figures[each] === null ? "–" : format(point.figures[each]))), h("td", {}, point.figures.sessions ? button(t("tradeoff.take"), () => take(point.values[0]), { "aria-label": t("tradeoff.take.of", { value: point.values[0] }) }) : null)))))));
  };
  return h("section", { class: "trade", "aria-labelledby": "tradeoff-title" }, h("h2", { id: "tradeoff-title" }, t("tradeoff.title")), h("p", {}, t("tradeoff.what")),
    h("form", { class: "row", onsubmit: (event) => { event.preventDefault(); ask(); } }, h("label", {}, t("tradeoff.vary"), select), h("button", { type: "submit", id: "tradeoff-ask" }, t("tradeoff.ask"))), place);
}
