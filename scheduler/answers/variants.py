"""What if: a brief with JSON merge patches, each variant's plan, and its difference to the base plan."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any

from scheduler import referee
from scheduler.answers.conflicts import explain
from scheduler.answers.merge_patch import merge_patch
from scheduler.answers.ties import held
from scheduler.documents import validate
from scheduler.domain import wording
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Finding, Mode, Plan, PlanStatus
from scheduler.domain.variants import (
    ContentChange,
    Difference,
    LedgerChange,
    Move,
    RuleChange,
    SessionChange,
    SetsChange,
    TierChange,
    Variant,
    WhatIf,
)
from scheduler.instance import Instance, SessionFacts
from scheduler.planning import instance_of, solve
from scheduler.processes import Pool, end_on_ctrl_c
from scheduler.rules import SAME_WORK_FROM
from scheduler.rules.change import exercise_sets, match_sessions
from scheduler.week.solver import Cancel, Limits

WISHES = 1
"""The tier of the wishes, which counts what is done too."""

Patch = Mapping[str, Any]


class Stopped(Exception):  # noqa: N818, the name says what has happened
    """A question was cancelled before it had an answer."""


def patched(brief: Brief, patch: Patch, *, inside: str = "") -> Brief:
    """The brief with a merge patch.

    Args:
        inside: what the places of faults begin with: ``patches.more.`` in a document, ``more: `` in words.

    Raises:
        InputError: the result is no brief that can be used.
    """
    try:
        changed = validate(Brief, merge_patch(brief.model_dump(mode="json"), patch))
        instance_of(changed)
    except InputError as error:
        raise InputError(type(f)(f"{inside}{f.path}", f.problem, f.advice) for f in error.faults) from None
    return changed


def what_if(
    brief: Brief,
    patches: Mapping[str, Patch],
    *,
    base: Plan | None = None,
    limits: Limits | None = None,
    explain_seconds: float = 20.0,
    cancel: Cancel | None = None,
) -> WhatIf:
    """Plans for a brief with each of several patches, by name.

    Args:
        base: the plan of the brief itself, where it is known already.
        explain_seconds: budget for the conflict and the mends of an impossible variant.

    Raises:
        InputError: a patched brief cannot be used.
        Stopped: it was cancelled.
    """
    briefs = [patched(brief, patch, inside=f"{name}: ") for name, patch in patches.items()]
    asked = briefs if base is not None else [brief, *briefs]
    plans = solve_all(asked, limits, cancel, near=base)
    found = base if base is not None else plans.pop(0)
    plans = plans if base is not None else [held(found, plan) for plan in plans]
    variants = []
    for asked_for, (name, patch), plan in zip(briefs, patches.items(), plans, strict=True):
        reasons = None
        if plan.status is PlanStatus.IMPOSSIBLE:
            reasons = explain(asked_for, budget_seconds=explain_seconds, most_conflicts=1, cancel=cancel)
        changes = difference(found, plan)
        variants.append(Variant(name=name, patch=dict(patch), plan=plan, difference=changes, reasons=reasons))
    return WhatIf(base=found, variants=tuple(variants))


def solve_all(
    briefs: Sequence[Brief], limits: Limits | None = None, cancel: Cancel | None = None, *, near: Plan | None = None
) -> list[Plan]:
    """The plans of several briefs, solved in processes of their own; each builds its week itself.

    What can be cancelled is solved here, in threads: the flag reaches no other process, and the solver leaves the
    interpreter to others while it searches.

    Args:
        near: a plan that the others are held to where they tie with it.

    Raises:
        Stopped: it was cancelled.
    """
    limits = limits or Limits()
    ask = partial(_solve, limits=limits, near=near)
    jobs = min(len(briefs), os.cpu_count() or 1)
    if cancel is not None:
        with ThreadPoolExecutor(max(1, jobs)) as threads:
            plans = list(threads.map(partial(ask, cancel=cancel), briefs))
        if cancel.is_set:
            raise Stopped
        return plans
    if jobs <= 1:
        return [ask(brief) for brief in briefs]
    # A fork is at once ready, but threads do not survive it: beside others a process is started afresh.
    alone = threading.active_count() == 1 and "fork" in multiprocessing.get_all_start_methods()
    method = multiprocessing.get_context("fork" if alone else "spawn")
    with Pool(jobs, mp_context=method, initializer=end_on_ctrl_c) as pool:
        return list(pool.map(ask, briefs))


def _solve(brief: Brief, *, limits: Limits, near: Plan | None, cancel: Cancel | None = None) -> Plan:
    plan = solve(brief, limits=limits, cancel=cancel)
    return plan if near is None else held(near, plan)


# --- differences ------------------------------------------------------------------------------------------------


def difference(base: Plan, other: Plan) -> Difference:
    """What is different in another plan against a base plan.

    Sessions that were done meanwhile are still the same sessions. But every tier after the wishes counts only what is
    still to be planned, so those are not held against one another where more is done in one plan.
    """
    ours, theirs = instance_of(base.brief), instance_of(other.brief)
    before = referee.facts_of(ours, base.sessions).sessions
    after = referee.facts_of(theirs, other.sessions).sessions
    alike = [s for s in before if s.done] == [s for s in after if s.done]
    return Difference(
        **_sessions(before, ours, after, theirs),
        ledger=_ledger(base, other),
        rules=tuple(_rules(base, other)),
        tiers=tuple(tier for tier in _tiers(base, other) if alike or tier.tier == WISHES),
    )


def session_differences(
    before: Iterable[SessionFacts], after: Iterable[SessionFacts], instance: Instance
) -> Difference:
    """What is different between two lists of sessions of one brief."""
    return Difference(**_sessions(before, instance, after, instance))


def _sessions(
    before: Iterable[SessionFacts], ours: Instance, after: Iterable[SessionFacts], theirs: Instance
) -> dict[str, Any]:
    matching = match_sessions(before, after)
    pairs = sorted(matching.pairs, key=lambda pair: pair[0].start)
    contents = (_content(theirs, old, new) for old, new in pairs)
    return {
        "moved": tuple(
            _move(ours, theirs, old, new)
            for old, new in pairs
            if ours.clock.local(old.start) != theirs.clock.local(new.start) or old.place != new.place
        ),
        "added": tuple(_change(theirs, s, "is new") for s in matching.added),
        "dropped": tuple(_change(ours, s, "is gone") for s in matching.dropped),
        "contents": tuple(content for content in contents if content is not None),
    }


def spoken(instance: Instance, session: SessionFacts) -> str:
    """``Monday 18:00``."""
    return wording.day_time(instance.clock.local(session.start))


def place_name(instance: Instance, place: str | None) -> str:
    return instance.venues[place].name if place is not None else "nowhere said"


def _move(ours: Instance, theirs: Instance, old: SessionFacts, new: SessionFacts) -> Move:
    name = theirs.kinds[new.kind].name
    parts = []
    if ours.clock.local(old.start) != theirs.clock.local(new.start):
        parts.append(f"from {spoken(ours, old)} to {spoken(theirs, new)}")
    if old.place != new.place:
        parts.append(f"from {place_name(ours, old.place)} to {place_name(theirs, new.place)}")
    where = f" of {spoken(ours, old)}" if len(parts) == 1 and old.start == new.start else ""
    return Move(
        kind=new.kind,
        name=name,
        from_start=ours.clock.local(old.start),
        from_place=old.place,
        to_start=theirs.clock.local(new.start),
        to_place=new.place,
        sentence=f"{name}{where} goes {', '.join(parts)}.",
    )


def _change(instance: Instance, session: SessionFacts, words: str) -> SessionChange:
    name = instance.kinds[session.kind].name
    return SessionChange(
        kind=session.kind,
        name=name,
        start=instance.clock.local(session.start),
        place=session.place,
        sentence=f"{name} on {spoken(instance, session)} {words}.",
    )


def _content(instance: Instance, old: SessionFacts, new: SessionFacts) -> ContentChange | None:
    rows = instance.catalogue.exercises
    before = {key: sum(zones.values()) for key, zones in exercise_sets(old).items()}
    after = {key: sum(zones.values()) for key, zones in exercise_sets(new).items()}
    added = tuple(key for key in after if key not in before)
    dropped = tuple(key for key in before if key not in after)
    sets = tuple(
        SetsChange(exercise=key, name=rows[key].name, before=before[key], after=after[key])
        for key in before
        if key in after and before[key] != after[key]
    )
    if not (added or dropped or sets):
        return None
    parts = [f"with {wording.listed(rows[key].name for key in added)}"] if added else []
    parts += [f"without {wording.listed(rows[key].name for key in dropped)}"] if dropped else []
    parts += [f"{change.name} {change.before} to {wording.counted(change.after, 'set')}" for change in sets]
    name = instance.kinds[new.kind].name
    return ContentChange(
        kind=new.kind,
        name=name,
        start=instance.clock.local(new.start),
        added=added,
        dropped=dropped,
        sets=sets,
        sentence=f"{name} on {spoken(instance, new)}: {', '.join(parts)}.",
    )


def _ledger(base: Plan, other: Plan) -> tuple[LedgerChange, ...]:
    before = {row.target: row for row in base.ledger}
    after = {row.target: row for row in other.ledger}
    found = []
    for key in dict.fromkeys((*before, *after)):
        one, two = before.get(key), after.get(key)
        row = LedgerChange(
            target=key,
            name=(one or after[key]).name,
            before=one.counted if one else 0,
            after=two.counted if two else 0,
            hits_before=one.hits if one else 0,
            hits_after=two.hits if two else 0,
            aim=(two or before[key]).aim,
        )
        if (row.before, row.hits_before) != (row.after, row.hits_after):
            found.append(row)
    return tuple(found)


def _rules(base: Plan, other: Plan) -> Iterable[RuleChange]:
    def broken(plan: Plan) -> dict[str, Finding]:
        return {f.switch: f for r in plan.rules if not r.measure for f in r.findings if f.mode is not Mode.OFF}

    before, after = broken(base), broken(other)
    for switch in dict.fromkeys((*before, *after)):
        one, two = before.get(switch), after.get(switch)
        was, now = (one.breach if one else 0), (two.breach if two else 0)
        if was != now:
            yield RuleChange(
                switch=switch,
                sentence=(two or before[switch]).sentence,
                before=one.breach_text if one else "",
                after=two.breach_text if two else "",
                worse=now > was,
            )


def _tiers(base: Plan, other: Plan) -> tuple[TierChange, ...]:
    """What each tier comes to; what is compared among weeks with the same work only is no cost."""
    before = {tier.tier: tier for tier in base.tiers}
    after = {tier.tier: tier for tier in other.tiers}
    return tuple(
        TierChange(
            tier=number,
            name=(before.get(number) or after[number]).name,
            before=before[number].value if number in before else None,
            after=after[number].value if number in after else None,
            proved=all(number in tiers and tiers[number].proved for tiers in (before, after)),
        )
        for number in sorted({*before, *after})
        if number < SAME_WORK_FROM
    )
