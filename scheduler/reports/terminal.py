"""The plan on a terminal: what a coach reads at seven in the morning, most needed first."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from scheduler.domain.plan import Entry, LedgerRow, Mode, Plan, PlannedSession
from scheduler.domain.units import DAYS
from scheduler.domain.wording import counted
from scheduler.reports import wording
from scheduler.reports.console import Ink, heading, say

_NARROW = 66
"""Below this many columns an exercise takes two lines."""


def render_plan(plan: Plan, console: Console, *, verbose: bool = False) -> None:
    """Print the plan.

    ``verbose`` adds muscles without a goal, a line for every rule, the terms of every tier, the full fingerprint.
    """
    ink = Ink(console)
    _head(plan, console, ink)
    if plan.sessions:
        _week(plan, console, ink)
        _sessions(plan, console, ink)
    _ledger(plan, console, ink, verbose=verbose)
    _breaches(plan, console, ink)
    _rules(plan, console, ink, verbose=verbose)
    _tiers(plan, console, ink, verbose=verbose)
    _foot(plan, console, ink, verbose=verbose)


def _grid(indent: int = 2) -> Table:
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0), pad_edge=False)
    if indent:
        # A blank first column rather than a Padding: the table then knows how much width is left.
        table.add_column(width=indent - 2, min_width=indent - 2)
    return table


def _head(plan: Plan, console: Console, ink: Ink) -> None:
    say(console, ink(plan.title, "bold"))
    say(console, ink(f"{wording.week_line(plan)}, for {plan.brief.lifter.name}"))
    if plan.brief.story:
        say(console, ink(plan.brief.story, "dim"))
    say(console, ink(wording.status_line(plan)))


def _week(plan: Plan, console: Console, ink: Ink) -> None:
    console.print()
    table = _grid()
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for date, sessions in wording.by_day(plan):
        day = DAYS[date.weekday()].full_name[:3]
        if not sessions:
            table.add_row("", ink(day), ink("rest", "dim"), "")
        for n, session in enumerate(sessions):
            table.add_row("", ink("" if n else day), ink(wording.clock_span(plan, session)), ink(session.name))
    console.print(table)
    say(console, ink(wording.week_total(plan), "dim"), indent=2)


def _sessions(plan: Plan, console: Console, ink: Ink) -> None:
    names = [_entry_name(ink, s, n).cell_len for s in plan.sessions for n in range(len(s.entries))]
    # One width for all sessions, so that the figures stand in one line down the page.
    name_width = max(12, min(max(names, default=0), console.width - 50, 60))
    for session in plan.sessions:
        console.print()
        day = wording.day_date(wording.local(plan, session.start).date())
        say(console, ink(f"{day}: {session.name}", "bold"))
        state = "" if session.state == "planned" else session.state
        facts = (wording.clock_span(plan, session), wording.place(plan, session), f"{session.minutes} min", state)
        say(console, ink(", ".join(fact for fact in facts if fact)))
        if console.width < _NARROW:
            _entries_narrow(session, console, ink)
        elif session.entries:
            console.print(_entries(session, ink, name_width))
    for text in wording.how_to_read(plan):
        console.print()
        say(console, ink(text, "dim"))


def _entry_name(ink: Ink, session: PlannedSession, index: int) -> Text:
    note = wording.entry_note(session, index)
    return _with_aside(ink, ink(session.entries[index].name), note)


def _with_aside(ink: Ink, text: Text, aside: str) -> Text:
    return text.append(" ").append_text(ink(f"({aside})", "dim")) if aside else text


def _entries(session: PlannedSession, ink: Ink, name_width: int) -> Table:
    """No column heads: each figure says what it is, so a line can be read out as it stands."""
    table = _grid(0)
    table.add_column(justify="right", width=3)
    table.add_column(width=name_width, overflow="fold")
    for width in (7, 12, 9, 8):
        table.add_column(justify="right", min_width=width, overflow="fold")
    for n, entry in enumerate(session.entries):
        table.add_row(ink(str(n + 1), "dim"), _entry_name(ink, session, n), *map(ink, _dose(entry)))
    return table


def _entries_narrow(session: PlannedSession, console: Console, ink: Ink) -> None:
    for n, entry in enumerate(session.entries):
        say(console, Text(f"{n + 1} ", "dim").append_text(_entry_name(ink, session, n)), indent=2)
        say(console, ink(", ".join(figure for figure in _dose(entry) if figure)), indent=4)


def _dose(entry: Entry) -> tuple[str, str, str, str]:
    return (
        f"{entry.sets} × {entry.reps}",
        f"{entry.reps_in_reserve} in reserve",
        f"rest {wording.rest_clock(entry.rest_seconds)}",
        wording.load(entry.load_kg),
    )


def _ledger(plan: Plan, console: Console, ink: Ink, *, verbose: bool) -> None:
    if not plan.ledger:
        return
    heading(console, ink, "Sets counted over the week")
    rows, others = wording.ledger_parts(plan)
    if verbose:
        rows += others
    if rows:
        _ledger_table(rows, console, ink)
    if others and not verbose:
        say(console, ink(f"{counted(len(others), 'other muscle')} trained, without a goal: listed when verbose", "dim"))


def _ledger_table(rows: list[LedgerRow], console: Console, ink: Ink) -> None:
    wide, narrow = console.width >= 100, console.width < _NARROW
    bar_width = 26 if wide else 10
    names = [ink(f"{wording.muscle(row)}, group" if row.is_group else wording.muscle(row)) for row in rows]
    gaps = [", ".join(wording.number(round(h, 1)) for h in row.hours_between_hits) for row in rows]
    gap_width = min(max(7, *map(len, gaps)), 24 if wide else 10)
    taken = 42 if narrow else 44 + bar_width + gap_width
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, header_style="dim")
    table.add_column(
        "Muscle", width=max(8, min(max(n.cell_len for n in names), console.width - taken)), overflow="fold"
    )
    table.add_column("Direct", justify="right")
    table.add_column("Counted", justify="right")
    table.add_column("Least/ aim/most", justify="right", width=max(8, *(len(wording.goals(row)) for row in rows)))
    table.add_column("Hits", justify="right")
    table.add_column("", min_width=7, overflow="fold")
    if not narrow:
        table.add_column("Hours between", width=gap_width, overflow="fold")
        table.add_column("", width=bar_width + 1, no_wrap=True)
    top = wording.ledger_top(rows)
    for row, name, gap in zip(rows, names, gaps, strict=True):
        sets = (wording.number(row.direct), wording.number(row.counted), wording.goals(row), str(row.hits))
        extra = () if narrow else (ink(gap), _bar(row, top, bar_width, ink))
        table.add_row(name, *map(ink, sets), ink(wording.ledger_mark(row), "yellow"), *extra)
    console.print(table)
    if not narrow:
        direct, indirect, aim = ink.bar_marks
        say(console, Text(f"{direct} direct, {indirect} indirect, {aim} aim", "dim"))


def _bar(row: LedgerRow, top: float, width: int, ink: Ink) -> Text:
    """Direct sets, then what the indirect ones add, on a scale common to all rows; a stroke where the aim lies."""
    direct_mark, indirect_mark, aim_mark = ink.bar_marks
    whole = round(row.counted / top * width)
    direct = min(whole, round(row.direct / top * width))
    cells = [direct_mark] * direct + [indirect_mark] * (whole - direct) + [" "] * (width + 1 - whole)
    if row.aim is not None:
        cells[round(row.aim / top * width)] = aim_mark
    return Text("".join(cells))


def _breaches(plan: Plan, console: Console, ink: Ink) -> None:
    tiers = {tier.tier: tier.name for tier in plan.tiers}
    for words, findings in wording.not_kept(plan):
        style = "red" if words == wording.BROKEN else "yellow"
        heading(console, ink, words)
        for rule, finding in findings:
            say(console, ink(finding.sentence), indent=2)
            # Of wishes they add up to the first tier; what belongs to another says so.
            where = f" in {tiers[rule.tier]}" if rule.tier in tiers and rule.tier != min(tiers) else ""
            cost = f", cost {finding.cost}{where}" if finding.cost else ""
            broken = ink(finding.breach_text, style)
            if finding.sessions:
                broken = Text.assemble(broken, ": ", ink(wording.sessions_of(plan, finding)))
            say(console, _with_aside(ink, broken, f"{rule.title}{cost}"), indent=4)


def _rules(plan: Plan, console: Console, ink: Ink, *, verbose: bool) -> None:
    heading(console, ink, "Rules")
    say(console, ink(wording.rules_line(plan)), indent=2)
    if not verbose or not plan.rules:
        return
    table = _grid()
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True, justify="right")
    for rule in plan.rules:
        checks = counted(len(rule.findings), "check") if rule.findings else ""
        mode = "" if rule.mode is Mode.OFF else rule.mode.value
        table.add_row("", ink(wording.rule_word(rule)), ink(rule.title), ink(mode, "dim"), ink(checks, "dim"))
    console.print(table)


def _tiers(plan: Plan, console: Console, ink: Ink, *, verbose: bool) -> None:
    if not plan.tiers:
        return
    heading(console, ink, "How good it is (cost; less is better)")
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    table.add_column("Tier", justify="right")
    table.add_column("", overflow="fold")
    table.add_column("Value", justify="right")
    table.add_column("Bound", justify="right")
    table.add_column("", overflow="fold")
    titles = {rule.rule: rule.title for rule in plan.rules}
    for tier in plan.tiers:
        bound, proof = wording.tier_proof(plan, tier)
        figures = (ink(str(tier.value)), ink(bound), ink(proof))
        table.add_row(ink(str(tier.tier)), ink(tier.name), *figures)
        for rule, cost in tier.terms.items() if verbose else ():
            table.add_row("", ink(titles.get(rule, rule), "dim"), ink(str(cost), "dim"), "", "")
    console.print(table)
    measures = wording.measures_line(plan)
    if measures and not verbose:
        say(console, ink(measures, "dim"))


def _foot(plan: Plan, console: Console, ink: Ink, *, verbose: bool) -> None:
    heading(console, ink, "Cautions")
    for caution in wording.cautions(plan):
        say(console, _with_aside(ink, ink(caution.text), caution.source), indent=2)
    if plan.notes:
        heading(console, ink, "Notes")
        for note in plan.notes:
            say(console, ink(note), indent=2)
    console.print()
    say(console, ink(wording.time_taken(plan), "dim"))
    say(console, ink(wording.fingerprint_line(plan, digits=64 if verbose else 12), "dim"))
