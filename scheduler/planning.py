"""The library's main acts: solve a brief, check a plan."""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version

from scheduler import referee
from scheduler.data import catalogue_sha256, load_catalogue
from scheduler.domain.brief import Brief
from scheduler.domain.errors import Fault, InputError, RefereeDisagreement, unknown
from scheduler.domain.plan import Fingerprint, Mode, Plan, PlannedSession, PlanStatus, TierResult, Timings
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.instance.settle import settle
from scheduler.rules import RULES
from scheduler.rules.settings import rule_settings
from scheduler.week.climb import TierProgress
from scheduler.week.model import Week
from scheduler.week.solver import Cancel, Limits, Verdict, search
from scheduler.week.tiers import solve_week

_SEEDS = 2**31
"""A seed of the solver is a number of 32 bits with a sign, and not below 0."""


def instance_of(brief: Brief) -> Instance:
    """Settle a brief with the catalogue that comes with the program. Raises InputError."""
    catalogue = load_catalogue()
    instance = settle(brief, catalogue, rule_settings(brief, catalogue))
    if not (brief.musts or brief.concessions):
        return instance  # no switch is named: there is no name to look up
    measures = {s.id for rule in RULES if rule.measure for s in rule.active_switches(instance)}
    known = [s.id for rule in RULES for s in rule.active_switches(instance)]
    faults = [
        *(
            Fault("musts", f"{name!r} is merely kept small: it asks for nothing that could be a must", "Leave it out")
            for name in brief.musts
            if name in measures
        ),
        *unknown("musts", "switch", brief.musts, known),
        *unknown("concessions", "switch", brief.concessions, known),
    ]
    if faults:
        raise InputError(faults)
    return instance


def solve(
    brief: Brief,
    *,
    limits: Limits | None = None,
    floors: Mapping[int, int] | None = None,
    cancel: Cancel | None = None,
    progress: TierProgress | None = None,
) -> Plan:
    """The best week for a brief.

    Args:
        floors: by tier, what a week that less is asked of was proved to come to; see
            :func:`scheduler.week.tiers.solve_week`.

    Returns:
        A plan whose status says how far the proof is. An impossible week has no sessions and status IMPOSSIBLE; a
        search that was stopped before it found any plan has status STOPPED.

    Raises:
        InputError: the brief cannot be used as it is.
        RefereeDisagreement: solver and referee compute different figures, or two searches do not agree that the week
            is impossible: a defect of this program.
    """
    limits = limits or Limits()
    started = time.perf_counter()
    instance = instance_of(brief)
    settled = time.perf_counter()
    solved = solve_week(instance, limits, floors=floors, cancel=cancel, progress=progress)
    ended = time.perf_counter()
    build_seconds = settled - started + solved.build_seconds
    times = Timings(
        build_seconds=build_seconds,
        solve_seconds=ended - started - build_seconds,
        tier_seconds=solved.seconds,
        tier_deterministic_seconds=solved.deterministic_seconds,
    )
    if not solved.tiers:
        deadline = None if limits.wall_seconds is None else started + limits.wall_seconds
        impossible = solved.verdict is Verdict.INFEASIBLE and _impossible_indeed(instance, limits, cancel, deadline)
        status = PlanStatus.IMPOSSIBLE if impossible else PlanStatus.STOPPED
        return _plan(WeekFacts(instance, instance.done), status, limits, times)
    facts = WeekFacts(instance, solved.sessions)
    review, tiers = referee.confirm(facts, solved.tiers)
    status = PlanStatus.OPTIMAL if solved.verdict is Verdict.OPTIMAL else PlanStatus.FEASIBLE
    if solved.stopped and status is PlanStatus.FEASIBLE:
        status = PlanStatus.STOPPED
    times = times.model_copy(update={"referee_seconds": time.perf_counter() - ended})
    return _plan(facts, status, limits, times, review=review, tiers=tiers)


def _impossible_indeed(instance: Instance, limits: Limits, cancel: Cancel | None, deadline: float | None) -> bool:
    """Whether a search of its own, on a model of its own, with another seed and a relaxation, finds no week either.

    Where it is stopped before it knows, it does not: what only one search says is not called impossible. Raises
    RefereeDisagreement where it finds one.
    """
    another = Limits(seed=(limits.seed + 1) % _SEEDS)
    again = search(Week(instance, wishes=False).model, None, another, cancel=cancel, deadline=deadline)
    if again.solution:
        raise RefereeDisagreement("one search says that there is no week, another finds one")
    return again.verdict is Verdict.INFEASIBLE


@dataclass(frozen=True)
class Report:
    """What the referee says of a plan that was handed in."""

    plan: Plan
    """The plan with every figure recomputed; its status is CHECKED."""

    @property
    def holds(self) -> bool:
        """Whether every must is kept."""
        return not any(f.broken for r in self.plan.rules for f in r.findings if f.mode is Mode.MUST)


def check(brief: Brief, sessions: Iterable[PlannedSession]) -> Report:
    """Referee any plan for a brief, one written by hand too. Raises InputError on unknown names."""
    started = time.perf_counter()
    instance = instance_of(brief)
    facts = referee.facts_of(instance, sessions)
    review = referee.review(facts)
    times = Timings(referee_seconds=time.perf_counter() - started)
    tiers = referee.tier_values(review)
    return Report(_plan(facts, PlanStatus.CHECKED, Limits(), times, review=review, tiers=tiers))


def _plan(
    facts: WeekFacts,
    status: PlanStatus,
    limits: Limits,
    timings: Timings,
    *,
    review: referee.Review | None = None,
    tiers: tuple[TierResult, ...] = (),
) -> Plan:
    instance = facts.instance
    return Plan(
        status=status,
        title=instance.brief.title,
        brief=instance.brief,
        sessions=referee.planned_sessions(facts),
        ledger=referee.ledger(facts) if review else (),
        rules=review.rules if review else (),
        tiers=tiers,
        cautions=referee.cautions(facts),
        notes=referee.notes(facts),
        fingerprint=Fingerprint(
            version=program_version(),
            seed=limits.seed,
            brief_sha256=brief_sha256(instance.brief),
            catalogue_sha256=catalogue_sha256(),
        ),
        timings=timings,
    )


def brief_sha256(brief: Brief) -> str:
    """SHA-256 of a brief's canonical JSON, in hexadecimal; what a scenario expects is no part of it."""
    data = brief.model_dump(mode="json", exclude={"expect"})
    return hashlib.sha256(json.dumps(data, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def program_version() -> str:
    try:
        return version("weekwright")
    except PackageNotFoundError:
        return "0+source"
