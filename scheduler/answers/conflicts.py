"""Why a brief is impossible, and the cheapest changes that make it possible; the same for a wish that falls short.

Two models answer. The posing model finds: conflicts by an assumption core, deletion and a map of the subsets
(:mod:`scheduler.answers.subsets`), mends as correction sets of least cost. The plain model agrees or the answer is not
given: it has no week for the brief, none where only a conflict's members are musts, and one with every mend.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from typing import Any

from scheduler import planning
from scheduler.answers import subsets
from scheduler.answers.mends import MEND_COST, Spare, cheapest_mends, checked
from scheduler.answers.pose import Patience, Posing, conceding, until, witness
from scheduler.domain.answers import Blamed, Conflict, Explanation, GivesWay, Mend, Price, Shortfall
from scheduler.domain.brief import MOST_CONCESSION, Brief
from scheduler.domain.errors import Fault, InputError, RefereeDisagreement, nearest, unknown
from scheduler.domain.plan import Finding, Mode, Plan
from scheduler.instance import Instance
from scheduler.rules import RULES, RULES_BY_KEY, SAME_WORK_FROM, Switch
from scheduler.rules.session_count import SessionCountRule
from scheduler.week.solver import Cancel, Limits


def explain(
    brief: Brief,
    *,
    budget_seconds: float,
    costs: Mapping[str, int] | None = None,
    most_conflicts: int = 3,
    most_mends: int = 3,
    protected: Iterable[str] = (),
    cancel: Cancel | None = None,
) -> Explanation:
    """Say which musts of a brief clash, and the cheapest ways out.

    Mends differ in kind first: the next one leaves one rule of each mend before it alone, unless it is far dearer.
    After those come such as let fewer demands of a rule give way (one more day opened, not two), then others that
    merely differ in one switch. All are sorted by cost.

    Args:
        budget_seconds: when they are over what was found is returned, labelled as truncated.
        costs: own costs a base unit, by switch, by rule, or ``touch``; what is left out comes from the evidence rows
            ``mend_cost_*``.
        protected: switches that no mend may touch, besides those of cautions.

    Raises:
        InputError: the brief cannot be used, or a switch or cost is not known.
        RefereeDisagreement: two models disagree on whether something is possible, a defect of this program.
    """
    started = time.perf_counter()
    stop = cancel or Cancel()
    patience = until(budget_seconds, stop)
    instance = planning.instance_of(brief)
    _check_names(instance, costs or {}, frozenset(protected))
    # Three threads: here mends are looked for, one asks the plain model, one finds conflicts and then checks mends.
    with (
        ThreadPoolExecutor(1, "plain") as plain,
        ThreadPoolExecutor(1, "beside") as beside,
        _stopping(stop, asked_for=cancel is not None),
    ):
        first = plain.submit(witness, brief, patience)
        posing = Posing(brief, patience)
        core = posing.core(posing.names)
        possible = first.result().possible
        if possible is None:
            return _answer(brief, started, possible=None, truncated=True)
        if core is None:
            # The plain model has spoken, but the second opinion is lacking.
            return _answer(brief, started, possible=True if possible else None, truncated=True)
        if (core is True) is not possible:
            raise RefereeDisagreement(f"is there a week? The plain model says {possible}, the posing one {core}")
        if core is True:
            return _answer(brief, started, possible=True)
        spare = Spare(instance, costs or {}, frozenset(protected))
        other = posing.twin()
        blame = beside.submit(_conflicts, posing, core, most_conflicts)

        def check(amounts: Mapping[str, int]) -> Future[Mend]:
            return beside.submit(checked, posing, spare, amounts, lambda b: plain.submit(witness, b, patience))

        found_mends, all_mends = cheapest_mends(other, spare, most_mends, check)
        blamed = blame.result()
        mends = [m.result() for m in found_mends]
    conflicts = blamed.conflicts
    shown = all(c.verified and c.confirmed for c in conflicts) and all(m.verified and m.minimal for m in mends)
    enough = (blamed.complete or len(conflicts) >= most_conflicts) and (all_mends or len(mends) >= most_mends)
    return _answer(
        brief,
        started,
        possible=False,
        conflicts=conflicts,
        every_conflict=blamed.complete and not blamed.more_would_do,
        mends=tuple(sorted(mends, key=lambda m: m.cost)),
        every_mend=all_mends and not blamed.more_would_do,
        truncated=not (shown and enough),
    )


@contextmanager
def _stopping(stop: Cancel, *, asked_for: bool) -> Iterator[None]:
    """What ends the work within it ends the searches beside it; a Ctrl-C that a search took for a stop is one again."""
    try:
        yield
    except BaseException:
        stop.set()
        raise
    if stop.is_set and not asked_for:
        raise KeyboardInterrupt


def _answer(brief: Brief, started: float, **found: Any) -> Explanation:
    return Explanation(title=brief.title, seconds=round(time.perf_counter() - started, 3), **found)


def check_question(
    brief: Brief, *, wish: str | None = None, costs: Mapping[str, int] | None = None, protected: Iterable[str] = ()
) -> None:
    """Raises InputError where :func:`explain` or, with a wish, :func:`explain_short` would; searches nothing."""
    instance = planning.instance_of(brief)
    _check_names(instance, costs or {}, frozenset(protected))
    if wish is not None:
        _wish(instance, wish)


def _wish(instance: Instance, name: str) -> Switch:
    wishes = {s.id: s for rule in RULES for s in rule.active_switches(instance) if s.mode is Mode.WISH}
    if name not in wishes:
        raise InputError.single("wish", f"no wish of this brief is named {name!r}", nearest(name, wishes))
    return wishes[name]


def _check_names(instance: Instance, costs: Mapping[str, int], protected: frozenset[str]) -> None:
    switches = {s.id for rule in RULES for s in rule.active_switches(instance)}
    rows = {k.removeprefix(MEND_COST) for k in instance.catalogue.evidence if k.startswith(MEND_COST)}
    known = [*rows, *RULES_BY_KEY, *switches]
    faults = [*unknown("costs", "rule or switch", costs, known)]
    faults += [
        Fault("costs", f"{name} costs {cost}", "Write 1 or more; protect a switch to leave it alone")
        for name, cost in costs.items()
        if cost < 1
    ]
    faults += unknown("protected", "switch", sorted(protected), switches)
    if faults:
        raise InputError(faults)


# --- conflicts ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Blame:
    """Conflicts that were found.

    Attributes:
        complete: the posing model has no other.
        more_would_do: one of them is none in a week with more sessions than the posing model looks at.
    """

    conflicts: tuple[Conflict, ...]
    complete: bool
    more_would_do: bool


def _conflicts(posing: Posing, core: Sequence[str], most: int) -> _Blame:
    """So many conflicts, one at least."""
    first = subsets.shrink(core, posing.holds)
    if not first.members or most <= 1 or not first.verified:
        return _blame(posing, [first], complete=not first.members)
    others = subsets.enumerate_subsets(
        posing.names,
        posing.holds,
        first=first,
        narrow=lambda members: _narrowed(posing, members),
        most_conflicts=most,
        go_on=lambda: not posing.patience.over,
    )
    return _blame(posing, others.conflicts, complete=others.complete)


def _blame(posing: Posing, found: Sequence[subsets.Conflict], *, complete: bool) -> _Blame:
    shown = [_with_counts(posing, conflict) for conflict in found]
    # With the numbers of sessions, two may have become one.
    conflicts = {conflict.members: _told_of(posing, conflict, confirmed) for conflict, confirmed in shown}
    more_would_do = any(conflict is not mine for mine, (conflict, _) in zip(found, shown, strict=True))
    return _Blame(tuple(conflicts.values()), complete, more_would_do)


def _narrowed(posing: Posing, members: Sequence[str]) -> Sequence[str]:
    core = posing.core(members)
    return core if isinstance(core, tuple) else members


def _with_counts(posing: Posing, found: subsets.Conflict) -> tuple[subsets.Conflict, bool]:
    """A conflict that a plain model has no week for either, in which nothing but its members must hold, and whether it
    said so.

    The posing model looks at few sessions beyond their number, the plain one at as many as there is room for. Where
    more would do, that there are no more is part of what clashes.
    """

    def keeps(members: Iterable[str]) -> bool | None:
        others = {name: MOST_CONCESSION for name in posing.names if name not in members}
        return witness(conceding(posing.brief, others), posing.patience).possible

    possible = keeps(found.members)
    if possible:
        members = [n for n in posing.names if n in found.members or n.startswith(f"{SessionCountRule.key}:")]
        possible = keeps(members)
        if possible:
            raise RefereeDisagreement(f"no conflict after all: a week keeps {', '.join(members)}")
        found = subsets.shrink(members, keeps)
    return found, possible is False


def _told_of(posing: Posing, found: subsets.Conflict, confirmed: bool) -> Conflict:
    """A conflict in words."""
    switches = [posing.week.switches[name] for name in found.members]
    return Conflict(
        members=tuple(_blamed(switch) for switch in switches),
        sentences=tuple(_told(switches, posing.instance)),
        verified=found.verified,
        confirmed=confirmed,
    )


def _told(switches: Sequence[Switch], instance: Instance) -> Iterable[str]:
    for rule in dict.fromkeys(switch.rule for switch in switches):
        yield from RULES_BY_KEY[rule].told([s for s in switches if s.rule == rule], instance)


def _blamed(switch: Switch) -> Blamed:
    return Blamed(switch=switch.id, rule=switch.rule, sentence=switch.sentence, evidence=switch.evidence)


# --- wishes that fall short --------------------------------------------------------------------------------------


def explain_short(
    brief: Brief,
    switch: str,
    *,
    budget_seconds: float,
    costs: Mapping[str, int] | None = None,
    most_conflicts: int = 3,
    most_mends: int = 3,
    protected: Iterable[str] = (),
    before: Plan | None = None,
    cancel: Cancel | None = None,
) -> Shortfall:
    """Say why a wish falls short: it is raised to a must, and explained. Where it can be met, say what that costs.

    Args:
        switch: the wish, as a plan's findings name it.
        before: the plan of the brief, where it is known already.

    Raises:
        InputError: the brief cannot be used, or names no such wish.
        RefereeDisagreement: two models disagree, a defect of this program.
    """
    patience = until(budget_seconds, cancel)
    sentence = _wish(planning.instance_of(brief), switch).sentence
    raised = brief.raised(switch)
    explained = partial(
        explain,
        budget_seconds=budget_seconds,
        costs=costs,
        most_conflicts=most_conflicts,
        most_mends=most_mends,
        protected=(*protected, switch),
        cancel=cancel,
    )
    found = explained(raised)
    if found.possible is False and witness(brief, patience).possible is False:
        # The wish is not to blame: nothing can be granted in a week that cannot be.
        found = explained(brief)
    if not found.possible:
        return Shortfall(
            switch=switch,
            sentence=sentence,
            can_be_met=found.possible,
            explanation=found,
            truncated=found.truncated,
        )
    first = before if before is not None else _best(brief, patience)
    second = _best(raised, patience)
    if first is None or second is None or not first.tiers or not second.tiers:
        return Shortfall(switch=switch, sentence=sentence, can_be_met=True, explanation=found, truncated=True)
    prices = tuple(
        Price(tier=a.tier, name=a.name, before=a.value, after=b.value, proved=a.proved and b.proved)
        for a, b in zip(first.tiers, second.tiers, strict=True)
        if a.tier < SAME_WORK_FROM
    )
    return Shortfall(
        switch=switch,
        sentence=sentence,
        can_be_met=True,
        explanation=found,
        prices=prices,
        gives_way=tuple(_gives_way(first, second)),
        truncated=not all(p.proved for p in prices),
    )


def _best(brief: Brief, patience: Patience) -> Plan | None:
    """The best plan that the time left allows."""
    left = patience.deadline - time.perf_counter()
    if patience.over:
        return None
    return planning.solve(brief, limits=Limits(wall_seconds=left), cancel=patience.cancel)


def _gives_way(before: Plan, after: Plan) -> Iterable[GivesWay]:
    known = {f.switch: f for f in _wishes(before)}
    for finding in _wishes(after):
        old = known.get(finding.switch)
        if old is not None and finding.breach > old.breach:
            yield GivesWay(
                switch=finding.switch,
                sentence=finding.sentence,
                before=old.breach_text,
                after=finding.breach_text,
            )


def _wishes(plan: Plan) -> Iterable[Finding]:
    return (f for r in plan.rules if not r.measure for f in r.findings if f.mode is Mode.WISH)


def short_wishes(plan: Plan) -> tuple[Finding, ...]:
    """The wishes that fall short in a plan; what is merely kept small is none."""
    return tuple(f for f in _wishes(plan) if f.breach)
