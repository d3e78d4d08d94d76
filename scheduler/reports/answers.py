"""Answers on a terminal: what moved and why, variants side by side, costs tier by tier. Cautions stand at the end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console

from scheduler.domain.answers import Explanation
from scheduler.domain.plan import Plan
from scheduler.domain.variants import (
    Alternatives,
    Audit,
    Difference,
    LedgerChange,
    Replanned,
    Sweep,
    TierChange,
    Verdict,
    WhatIf,
    WhyNot,
)
from scheduler.domain.wording import counted, day_time, listed, short_day_time
from scheduler.reports import wording
from scheduler.reports.console import Page
from scheduler.rules import SAME_WORK_FROM

_OUTSIDE = (Verdict.BELOW, Verdict.ABOVE, Verdict.BOTH)


class _Answer(Page):
    """What answers say alike."""

    def week(self, plan: Plan) -> None:
        """One line a session."""
        for session in plan.sessions:
            state = "" if session.state == "planned" else f", {session.state}"
            sets = wording.work(session)
            place = f", {wording.place(plan, session)}" if session.place else ""
            when = f"{short_day_time(session.start)} to {session.end:%H:%M}"
            self.say(f"{when}  {session.name}{place}, {sets}{state}", indent=2)

    def difference(self, difference: Difference) -> None:
        """What changes, line by line."""
        for line in difference_lines(difference):
            self.say(line, indent=2)

    def tiers(self, tiers: Sequence[TierChange]) -> None:
        rows = [(str(t.tier), t.name, _figure(t.before), _figure(t.after), _signed(t)) for t in tiers]
        if rows:
            self.table(("Tier", "", "Before", "After", "Costs"), rows)

    def reasons(self, found: Explanation) -> None:
        """What clashes, and the cheapest ways out."""
        for conflict in found.conflicts:
            told = conflict.told if conflict.verified else "these cannot all hold together"
            self.heading(told[0].upper() + told[1:])
            for sentence in conflict.sentences:
                self.say(sentence, indent=2)
        for mend in found.mends:
            self.heading(f"One way out, at a cost of {mend.cost}")
            for change in mend.changes:
                self.say(change.sentence, indent=2)
        if found.truncated:
            self.say("The time ran out: there may be more.")


def difference_lines(difference: Difference) -> list[str]:
    """What changes, in sentences; a single line where nothing does."""
    lines = [move.sentence for move in difference.moved]
    lines += [change.sentence for change in (*difference.added, *difference.dropped)]
    lines += [change.sentence for change in difference.contents]
    lines += [_ledger_line(row) for row in difference.ledger if row.aim is not None]
    for rule in difference.rules:
        now = rule.after or "kept again"
        before = f", before {rule.before}" if rule.before and rule.after else ""
        lines.append(f"{'Worse' if rule.worse else 'Better'}: {rule.sentence.rstrip('.')}: {now}{before}.")
    return lines or ["Nothing changes."]


def _ledger_line(row: LedgerChange) -> str:
    parts = [f"{wording.number(row.before)} to {wording.number(row.after)} counted sets"]
    parts = parts if row.before != row.after else []
    parts += [f"hits {row.hits_before} to {row.hits_after}"] if row.hits_before != row.hits_after else []
    return f"{row.name}: {', '.join(parts)}."


def render_replanned(answer: Replanned, console: Console) -> None:
    page = _Answer(console)
    page.say(f"From {day_time(answer.now)} on: {answer.sentence}", "bold")
    if answer.moves:
        page.heading("What changes, and what forces it")
        for move in answer.moves:
            page.say(move.sentence, indent=2)
            for cause in move.causes:
                page.say(f"because: {cause.sentence}", "dim", indent=4)
    if answer.reasons is not None:
        page.reasons(answer.reasons)
    page.heading("The week")
    page.week(answer.plan)
    page.cautions(answer.plan.cautions)


def render_what_if(answer: WhatIf, console: Console) -> None:
    page = _Answer(console)
    plans = [answer.base, *(v.plan for v in answer.variants)]
    page.table(("", "as it is", *(v.name for v in answer.variants)), _side_by_side(plans))
    for variant in answer.variants:
        page.heading(variant.name)
        if variant.plan.tiers:
            page.difference(variant.difference)
        else:
            page.say(f"No plan: {variant.plan.status.value}.", indent=2)
            if variant.reasons is not None:
                page.reasons(variant.reasons)
    cautions = {note.key: note for plan in plans for note in plan.cautions}
    page.cautions(tuple(cautions.values()))


def _side_by_side(plans: Sequence[Plan]) -> Iterable[Sequence[str]]:
    yield ("answer", *(plan.status.value for plan in plans))
    yield ("sessions", *(str(len(plan.sessions)) if plan.tiers else "-" for plan in plans))
    yield ("minutes", *(str(sum(s.minutes for s in plan.sessions)) if plan.tiers else "-" for plan in plans))
    # The tiers after these compare like weeks only: beside another week their values say nothing.
    names = {tier.tier: tier.name for plan in plans for tier in plan.tiers if tier.tier < SAME_WORK_FROM}
    for number in sorted(names):
        found = [{t.tier: t for t in plan.tiers}.get(number) for plan in plans]
        cells = ["-" if t is None else f"{t.value}" if t.proved else f"{t.bound} to {t.value}" for t in found]
        yield (f"cost of {names[number]}", *cells)
    ledgers = [{row.target: row for row in plan.ledger} for plan in plans]
    goals = dict.fromkeys(row.target for plan in plans for row in plan.ledger if row.aim is not None)
    for key in goals:
        rows = [ledger.get(key) for ledger in ledgers]
        if len({row.counted for row in rows if row}) > 1:
            name = next(wording.muscle(row) for row in rows if row)
            yield (f"{name}, counted sets", *("-" if row is None else wording.number(row.counted) for row in rows))


def render_why_not(answer: WhyNot, console: Console) -> None:
    page = _Answer(console)
    page.say(f"{answer.sentence} {answer.possibility.value.capitalize()}.", "bold")
    if answer.plan is not None and answer.difference is not None:
        page.heading("What it changes")
        page.difference(answer.difference)
        page.heading("What it costs (less is better)")
        page.tiers(answer.difference.tiers)
        page.heading("The week")
        page.week(answer.plan)
    if answer.reasons is not None:
        page.reasons(answer.reasons)
    page.cautions(answer.cautions)


def render_alternatives(answer: Alternatives, console: Console) -> None:
    page = _Answer(console)
    names = {t.tier: t.name for t in answer.best.tiers}
    loss = listed(f"{names[n]} up to {most}" for n, most in answer.loss.items())
    page.say(
        f"{counted(len(answer.alternatives), 'alternative')} within this loss: {loss}; "
        f"each at least {counted(answer.apart, 'move')} from every other.",
        "bold",
    )
    if answer.complete:
        page.say("There are no more.")
    if answer.truncated:
        page.say("The time ran out: there may be more.")
    elif not answer.complete:
        page.say("There may be more.")
    page.heading("The best week")
    page.week(answer.best)
    for number, alternative in enumerate(answer.alternatives, start=1):
        page.heading(f"Alternative {number}, {counted(alternative.moves[0], 'move')} from the best")
        page.week(alternative.plan)
        page.say("What it trades:", indent=2)
        for line in difference_lines(alternative.difference):
            page.say(line, indent=4)
        page.tiers(alternative.difference.tiers)
    page.cautions(answer.best.cautions)


def render_sweep(answer: Sweep, console: Console) -> None:
    """A row a point. Figures that are the same everywhere are said once."""
    page = _Answer(console)
    columns = [_short(v.path, [w.path for w in answer.varied]) for v in answer.varied]
    for column, vary in zip(columns, answer.varied, strict=True):
        page.say(f"{column}: {vary.path}{f', {vary.unit}' if vary.unit else ''}")
    planned = [p.figures for p in answer.points if p.figures]
    same = [key for key in answer.units if planned and len({f.get(key) for f in planned}) == 1]
    shown = [key for key in answer.units if key not in same]
    rows = [
        (
            *(str(value) for value in point.values),
            f"{point.status}{'' if point.proved or not point.figures else ' (not proved)'}",
            *("-" if (f := point.figures.get(key)) is None else wording.number(f) for key in shown),
        )
        for point in answer.points
    ]
    heads = (*columns, "answer", *(key.partition(" (")[0] for key in shown))
    page.table(heads, rows, again=len(columns) + 1)
    units = (f"{key.partition(' (')[0]} {answer.units[key]}" for key in shown)
    page.say(f"Units: {'; '.join(units)}." if shown else "", "dim")
    if same and planned:
        always = (f"{key} {wording.number(planned[0][key] or 0)} {answer.units[key]}" for key in same)
        page.say(f"Always: {'; '.join(always)}.", "dim")
    page.cautions(answer.cautions)


def _short(path: str, paths: Sequence[str]) -> str:
    """The last words of a path that tell it from the others."""
    words = path.split(".")
    for number in range(1, len(words)):
        end = ".".join(words[-number:])
        if sum(other.endswith(end) for other in paths) == 1:
            return end
    return path


def render_audit(answer: Audit, console: Console) -> None:
    page = _Answer(console)
    for guideline in dict.fromkeys(f.guideline for f in answer.findings):
        page.heading(f"Against {guideline}")
        for finding in (f for f in answer.findings if f.guideline == guideline):
            style = "yellow" if finding.verdict in _OUTSIDE else ""
            page.say(finding.sentence, indent=2)
            page.say(f"{finding.verdict.value}: {finding.found}", style, indent=4)
            page.say(f"{finding.source} ({finding.grade.replace('_', ' ')})", "dim", indent=4)
    if answer.conflicts:
        page.heading("Where the guidelines differ (shown, not settled)")
        for conflict in answer.conflicts:
            page.say(conflict.sentence, indent=2)


def _figure(value: int | None) -> str:
    return "-" if value is None else str(value)


def _signed(tier: TierChange) -> str:
    if tier.cost is None:
        return "-"
    return f"{tier.cost:+d}" + ("" if tier.proved else " (not proved)")
