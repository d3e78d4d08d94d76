// The week is under way: what is done, what was missed; the rest anew.

import { h } from "./dom.js";
import { sessionName } from "./told.js";
import { DAYS, WEEK_HOURS, WeekClock, dayAndClock } from "./time.js";
import { t } from "./words.js";

/** How a session is named in a re-plan: its day, with its kind where the day has two. */
function names(plan) {
  const clock = new WeekClock(plan.brief.week);
  const days = plan.sessions.map((session) => DAYS[Math.floor(clock.hours(session.start) / 24) % 7]);
  return days.map((day, i) => (days.filter((each) => each === day).length > 1 ? `${day} ${plan.sessions[i].kind}` : day));
}

/** Now on the week's clock, in slots of five minutes, as they are planned; nothing where now is not in the week. */
function present(clock) {
  const hours = (Math.ceil(Math.round(clock.ofInstant(Date.now()) * 60) / 5) * 5) / 60;
  return hours >= 0 && hours < WEEK_HOURS ? clock.text(hours) : "";
}

export function replan(resource, acts) {
  const { plan } = resource;
  const clock = new WeekClock(plan.brief.week);
  const named = names(plan);
  const open = plan.sessions.map((session, i) => ({ session, i })).filter(({ session }) => session.state !== "done");
  let offered = present(clock);
  const now = h("input", { type: "datetime-local", id: "replan-now", step: 300, value: offered });
  const choice = (i, value, label, checked = false) => h("label", {}, h("input", { type: "radio", name: `replan-${i}`, id: `replan-${i}-${value}`, value, checked }), label);
  const submit = (event) => {
    event.preventDefault();
    if (now.value === offered) now.value = offered = present(clock); // the page may have been open since yesterday
    const ticked = (value) => open.filter(({ i }) => document.getElementById(`replan-${i}-${value}`).checked);
    const [done, missed] = [ticked("done"), ticked("missed")];
    // What is ticked is past, even where the clock is not there yet; so is what an earlier re-plan left behind.
    const ends = [...[...done, ...missed].map(({ session }) => session.end), plan.brief.not_before].filter(Boolean);
    const moment = () => clock.text(Math.max(...[now.value, ...ends].map((each) => clock.hours(each))));
    const body = { done: done.map(({ i }) => named[i]), missed: missed.map(({ i }) => named[i]), ...(now.value ? { now: moment() } : {}) };
    acts.lastReplan = body;
    acts.replan(body);
  };
  return h("section", { class: "replan", "aria-labelledby": "replan-title" },
    h("h2", { id: "replan-title" }, t("replan.title")), h("p", {}, t("replan.what")),
    h("form", { onsubmit: submit },
      open.map(({ session, i }) => h("fieldset", {}, h("legend", {}, sessionName(plan.brief, session), ", ", dayAndClock(clock.hours(session.start))),
        choice(i, "open", t("replan.open"), true), choice(i, "done", t("replan.done")), choice(i, "missed", t("replan.missed")))),
      h("label", { class: "line" }, t("replan.now"), now),
      h("button", { type: "submit", class: "act", id: "replan" }, t("replan.do"))));
}
