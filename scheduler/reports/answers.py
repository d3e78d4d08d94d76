"""Answers on a terminal: what moved and why, variants side by side, costs tier by tier. Cautions stand at the end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.cells import cell_len
from rich.console import Console
from rich.table import Table
from rich.text import Text

from scheduler.domain.answers import Explanation
from scheduler.domain.plan import CautionNote, Plan
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
from scheduler.domain.wording import counted, listed
from scheduler.reports import wording
from scheduler.reports.terminal import _heading, _Ink, _say
from scheduler.rules import SAME_WORK_FROM

_OUTSIDE = (Verdict.BELOW, Verdict.ABOVE, Verdict.BOTH)


_NUMBER_WIDTH = 8
_MANY_COLUMNS = 9


class _Page:
    """A console, and how things are said on it."""

    def __init__(self, console: Console) -> None:
        self.console = console
        self.ink = _Ink(console)

    def say(self, text: str, style: str = "", *, indent: int = 0) -> None:
        _say(self.console, self.ink(text, style), indent=indent)

    def heading(self, words: str) -> None:
        _heading(self.console, self.ink, words)

    def table(self, columns: Sequence[str], cells: Iterable[Sequence[str]], *, again: int = 1) -> None:
        """A table; one that is too wide goes on below, with its first columns again."""
        rows = [[self.ink(cell) for cell in row] for row in cells]
        heads = [self.ink(column) for column in columns]
        gap = 2 if len(columns) < _MANY_COLUMNS else 1
        sides = [(head, *(row[n] for row in rows)) for n, head in enumerate(heads)]
        least = [_least_width(*(text.plain for text in side)) for side in sides]
        whole = [max(text.cell_len for text in side) for side in sides]
        parts: list[list[int]] = [[]]
        room = self.console.width - sum(width + gap for width in least[:again])
        left = room
        for n in range(again, len(columns)):
            if parts[-1] and least[n] + gap > left:
                parts.append([])
                left = room
            parts[-1].append(n)
            left -= least[n] + gap
        for number, part in enumerate(parts):
            if number:
                self.console.print()
            table = Table(box=None, padding=(0, gap, 0, 0), pad_edge=False, header_style="dim")
            shown = [*range(again), *part]
            room = self.console.width - gap * len(shown)
            widths = _fitted([whole[n] for n in shown], [least[n] for n in shown], room)
            for n, width in zip(shown, widths, strict=True):
                table.add_column(heads[n], justify="left" if n == 0 else "right", overflow="fold", width=width)
            for row in rows:
                table.add_row(*(row[n] for n in shown))
            self.console.print(table)

    def week(self, plan: Plan) -> None:
        """One line a session."""
        for session in plan.sessions:
            state = "" if session.state == "planned" else f", {session.state}"
            sets = wording.work(session)
            place = f", {wording.place(plan, session)}" if session.place else ""
            self.say(f"{session.start:%a %H:%M} to {session.end:%H:%M}  {session.name}{place}, {sets}{state}", indent=2)

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

    def cautions(self, notes: Sequence[CautionNote]) -> None:
        self.heading("Cautions")
        for note in notes:
            _say(self.console, Text.assemble(self.ink(note.text), " (", self.ink(note.source), ")"), indent=2)


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
    page = _Page(console)
    page.say(f"From {answer.now:%A %H:%M} on: {answer.sentence}", "bold")
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
    page = _Page(console)
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
    # The tie-break is no cost.
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
    page = _Page(console)
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
    page = _Page(console)
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
    page = _Page(console)
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


def _least_width(column: str, *cells: str) -> int:
    """Numbers keep their width; words fold, and so do heads."""
    numbers = bool(cells) and all(len(cell) <= _NUMBER_WIDTH for cell in cells)
    parts = cells if numbers else [word for cell in cells for word in cell.split()]
    return max(map(cell_len, [*parts, *column.split()]), default=1)


def _fitted(whole: Sequence[int], least: Sequence[int], room: int) -> list[int]:
    """Columns as wide as they are whole, as far as there is room: the widest that can fold gives way first.

    Left to the table itself, a column that cannot fold is narrowed beside one that can, and the last is cut off.
    """
    widths = list(whole)
    while sum(widths) > max(room, len(widths)):
        # Where not even the longest words have room, they are folded rather than cut.
        folding = [n for n, width in enumerate(widths) if width > least[n]] or range(len(widths))
        widths[max(folding, key=lambda n: widths[n])] -= 1
    return widths


def _short(path: str, paths: Sequence[str]) -> str:
    """The last words of a path that tell it from the others."""
    words = path.split(".")
    for number in range(1, len(words)):
        end = ".".join(words[-number:])
        if sum(other.endswith(end) for other in paths) == 1:
            return end
    return path


def render_audit(answer: Audit, console: Console) -> None:
    page = _Page(console)
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
