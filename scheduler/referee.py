"""The referee: plain code without a solver that re-checks a plan and recomputes every figure from the plan alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from scheduler.domain.errors import Fault, InputError, RefereeDisagreement, unknown
from scheduler.domain.plan import (
    CautionNote,
    Entry,
    Finding,
    LedgerRow,
    Mode,
    PlannedSession,
    Role,
    RuleReport,
    TierResult,
    Zone,
)
from scheduler.domain.units import GRAMS_PER_KG, hours_from_slots, sets_from_quarters
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Item, SessionFacts
from scheduler.rules import RULES, TIER_NAMES
from scheduler.rules.base import Rule

_LIGHT_RESERVE = 5
_MOST_NAMED = 2
"""Sessions that a breach is told to be of: a pair that lies too close. What more of them make is the week's."""


@dataclass(frozen=True)
class Review:
    """What the referee finds: every rule, the value of each tier."""

    rules: tuple[RuleReport, ...]
    tiers: dict[int, int]
    terms: dict[int, dict[str, int]]

    @property
    def broken_musts(self) -> tuple[Finding, ...]:
        return tuple(f for r in self.rules for f in r.findings if f.mode is Mode.MUST and f.broken)


def review(facts: WeekFacts) -> Review:
    """Check every rule and recompute every figure."""
    reports = tuple(_report(rule, facts) for rule in RULES)
    tiers = dict.fromkeys(sorted({rule.tier for rule in RULES}), 0)
    terms: dict[int, dict[str, int]] = {tier: {} for tier in tiers}
    for report in reports:
        if report.cost:
            tiers[report.tier] += report.cost
            terms[report.tier][report.rule] = report.cost
    return Review(reports, tiers, terms)


def costs(facts: WeekFacts, most: Mapping[int, int] | None = None) -> dict[int, int] | None:
    """The values of the tiers as :func:`review` finds them, without its words.

    Args:
        most: by tier, what it may come to; those that are not named may come to anything.

    Returns:
        None where a must is broken or a tier comes to more than it may: known before all rules are looked at.
    """
    most = most or {}
    tiers = dict.fromkeys(sorted({rule.tier for rule in RULES}), 0)
    for rule in RULES:
        switches = rule.active_switches(facts.instance)
        breaches = rule.breaches(facts) if switches else {}
        for switch in switches:
            breach = breaches.get(switch.id, 0)
            if switch.mode is not Mode.MUST:
                tiers[rule.tier] += switch.weight * breach
            elif breach > switch.concession:
                return None
        if tiers[rule.tier] > most.get(rule.tier, tiers[rule.tier]):
            return None
    return tiers


def _report(rule: Rule[Any], facts: WeekFacts) -> RuleReport:
    mode = rule.mode(facts.instance)
    switches = {s.id: s for s in rule.active_switches(facts.instance)}
    breaches = rule.breaches(facts) if switches else {}
    breaking = _breaking(rule, facts, breaches)
    findings = tuple(
        Finding(
            rule=rule.key,
            switch=switch.id,
            mode=switch.mode,
            sentence=switch.sentence,
            breach=breaches.get(switch.id, 0),
            breach_text=switch.breach_text(breaches.get(switch.id, 0), facts),
            unit=switch.unit.name,
            conceded=switch.concession if switch.mode is Mode.MUST else 0,
            cost=0 if switch.mode is Mode.MUST else switch.weight * breaches.get(switch.id, 0),
            evidence=switch.evidence,
            sessions=breaking.get(switch.id, ()),
        )
        for switch in switches.values()
    )
    kept = rule.measure or not any(f.broken for f in findings)
    cost = sum(f.cost for f in findings)
    return RuleReport(
        rule=rule.key,
        title=rule.title,
        tier=rule.tier,
        mode=mode,
        kept=kept,
        measure=rule.measure,
        cost=cost,
        findings=findings,
    )


def _breaking(rule: Rule[Any], facts: WeekFacts, breaches: Mapping[str, int]) -> dict[str, tuple[int, ...]]:
    """By switch the sessions that its breach is of: one or two without any of which it would be less."""
    if rule.measure or not any(breaches.values()):
        return {}
    without = {
        n: rule.breaches(replace(facts, sessions=(*facts.sessions[:n], *facts.sessions[n + 1 :])))
        for n, session in enumerate(facts.sessions)
        if not session.done
    }
    of = {switch: tuple(n for n, left in without.items() if left.get(switch, 0) < b) for switch, b in breaches.items()}
    return {switch: found for switch, found in of.items() if len(found) <= _MOST_NAMED}


def ledger(facts: WeekFacts) -> tuple[LedgerRow, ...]:
    """Counted sets per muscle and group: those with a goal first, then every other muscle that the week trains."""
    instance = facts.instance
    others = [m for m in instance.catalogue.muscles if m not in instance.targets and facts.total(m)]
    return tuple(_row(facts, key) for key in (*instance.targets, *others))


def _row(facts: WeekFacts, key: str) -> LedgerRow:
    instance = facts.instance
    target = instance.targets.get(key)
    is_group = key in instance.catalogue.groups
    hits = facts.hits(key)
    gaps = [later.start - earlier.end for earlier, later in pairwise(hits)]
    if instance.ring is not None and hits:
        gaps.append(hits[0].start + instance.ring - hits[-1].end)
    return LedgerRow(
        target=key,
        name=instance.catalogue.groups[key].name if is_group else instance.catalogue.muscles[key].name,
        is_group=is_group,
        direct=sets_from_quarters(facts.total(key, direct_only=True)),
        counted=sets_from_quarters(facts.total(key)),
        least=sets_from_quarters(target.least) if target else None,
        aim=sets_from_quarters(target.aim) if target else None,
        most=sets_from_quarters(target.most) if target else None,
        hits=len(hits),
        hours_between_hits=tuple(hours_from_slots(gap) for gap in gaps),
        recovery_hours=hours_from_slots(target.recovery) if target and target.recovery is not None else None,
        sets_by_session=tuple(sets_from_quarters(facts.volume(s, key, add_ons=True)) for s in facts.sessions),
        hit_sessions=tuple(i for i, session in enumerate(facts.sessions) if session in hits),
        priority=target.priority if target else None,
    )


def confirm(facts: WeekFacts, tiers: Sequence[TierResult]) -> tuple[Review, tuple[TierResult, ...]]:
    """Review a solver's plan and hold its figures against the referee's.

    Returns the review and the tiers with the referee's terms. Where a tier was not proved the referee's value may be
    lower than the solver's (an unproved slack may be loose); then the referee's stands.

    Raises:
        RefereeDisagreement: a must is broken, or a value lies above the solver's or below its proved bound.
    """
    found = review(facts)
    problems = [f"{f.switch} is broken: {f.breach_text}" for f in found.broken_musts]
    settled = []
    for tier in tiers:
        value = found.tiers[tier.tier]
        if value > tier.value or value < tier.bound:
            problems.append(
                f"tier {tier.tier} ({tier.name}): solver {tier.value} with bound {tier.bound}, referee {value} "
                f"from {found.terms[tier.tier]}"
            )
        settled.append(tier.model_copy(update={"value": value, "terms": found.terms[tier.tier]}))
    if problems:
        raise RefereeDisagreement("solver and referee disagree: " + "; ".join(problems))
    return found, tuple(settled)


def tier_values(found: Review) -> tuple[TierResult, ...]:
    """The tiers of a plan that was handed in: values, and no proof of anything but 0."""
    return tuple(
        TierResult(tier=tier, name=TIER_NAMES[tier], value=value, bound=0, proved=value == 0, terms=found.terms[tier])
        for tier, value in found.tiers.items()
    )


def cautions(facts: WeekFacts) -> tuple[CautionNote, ...]:
    """The cautions that stand with a plan: always the general one, then those of the lifter and of the week."""
    catalogue = facts.instance.catalogue
    lifter = facts.instance.brief.lifter
    keys = ["always", *(c.value for c in lifter.cautions), lifter.age_band.value]
    notes = [
        CautionNote(key=k, text=catalogue.cautions[k].text, source=catalogue.cautions[k].source)
        for k in keys
        if k in catalogue.cautions
    ]
    whole_back = sets_from_quarters(facts.total("back")) if "back" in catalogue.groups else 0
    row = catalogue.evidence["whole_back_caution_sets"]
    if whole_back > catalogue.default_int("whole_back_caution_sets"):
        text = f"The whole back gets {whole_back:g} counted sets this week, more than {row.value}: watch for fatigue."
        notes.append(CautionNote(key="whole_back", text=text, source=row.source))
    return tuple(notes)


def notes(facts: WeekFacts) -> tuple[str, ...]:
    """What was noted of the brief, then of the week by the rules."""
    return (*facts.instance.notes, *(note for rule in RULES for note in rule.notes(facts)))


# --- between plans as people read them and facts ----------------------------------------------------------------


def facts_of(instance: Instance, sessions: Iterable[PlannedSession]) -> WeekFacts:
    """The facts of planned sessions; done ones are taken from the brief, whatever a plan says of them.

    Raises:
        InputError: a session names a kind, place or exercise that is not known.
    """
    sessions = list(sessions)
    faults = [fault for n, session in enumerate(sessions) for fault in _faults(instance, session, f"sessions[{n}]")]
    if faults:
        raise InputError(faults)
    planned = [_session_facts(instance, s) for s in sessions if s.state != "done"]
    everything = sorted((*instance.done, *planned), key=lambda s: (s.start, s.end, s.kind))
    return WeekFacts(instance, tuple(everything))


def _faults(instance: Instance, session: PlannedSession, where: str) -> Iterable[Fault]:
    yield from unknown(f"{where}.kind", "session kind", (session.kind,), instance.kinds)
    if session.place is not None:
        yield from unknown(f"{where}.place", "place", (session.place,), instance.venues)
    for n, entry in enumerate(session.entries):
        known = instance.catalogue.exercises
        yield from unknown(f"{where}.entries[{n}].exercise", "exercise", (entry.exercise,), known)
    start = instance.clock.floor(session.start)
    if not 0 <= start < instance.clock.slots:
        yield Fault(f"{where}.start", f"{session.start} lies outside the week", "Plan it inside the brief's week")
    if session.end <= session.start:
        yield Fault(f"{where}.end", "the session does not end after it starts", "Correct its end")


def _session_facts(instance: Instance, session: PlannedSession) -> SessionFacts:
    start = instance.clock.floor(session.start)
    items = tuple(_item(instance, entry) for entry in session.entries)
    end = instance.clock.ceil(session.end)
    return SessionFacts(session.kind, start, end, instance.clock.day(start), session.place, items)


def _item(instance: Instance, entry: Entry) -> Item:
    return Item(
        key=entry.exercise,
        exercise=instance.catalogue.exercises[entry.exercise],
        sets=entry.sets,
        zone=entry.zone,
        role=entry.role,
        pair=entry.pair,
        load_grams=None if entry.load_kg is None else round(entry.load_kg * GRAMS_PER_KG),
    )


def planned_sessions(facts: WeekFacts) -> tuple[PlannedSession, ...]:
    """The facts of a week as a person reads them."""
    return tuple(_planned(facts.instance, s) for s in facts.sessions)


def _planned(instance: Instance, session: SessionFacts) -> PlannedSession:
    return PlannedSession(
        kind=session.kind,
        name=instance.kinds[session.kind].name,
        start=instance.clock.local(session.start),
        end=instance.clock.local(session.end),
        place=session.place,
        state="done" if session.done else "pinned" if session.pin is not None else "planned",
        entries=tuple(_entry(instance, i) for i in session.items),
    )


def _reserve(item: Item, asked: int) -> int:
    """Reps in reserve: those of a record, else those that are asked for, more in light activation sets."""
    if item.reserve is not None:
        return item.reserve
    return max(_LIGHT_RESERVE, asked) if item.role is Role.ACTIVATION else asked


def _entry(instance: Instance, item: Item) -> Entry:
    zone = item.zone or Zone.MODERATE
    numbers = instance.zones[zone]
    activation = item.role is Role.ACTIVATION
    loaded_by = item.exercise.loaded_by
    return Entry(
        exercise=item.key,
        name=item.exercise.name,
        role=item.role,
        sets=item.sets,
        reps=numbers.reps_of(item.exercise) if item.reps is None else item.reps,
        zone=zone,
        reps_in_reserve=_reserve(item, numbers.reps_in_reserve),
        rest_seconds=45 if activation else numbers.rest_seconds,
        load_kg=None if item.load_grams is None else item.load_grams / GRAMS_PER_KG,
        per_side=item.exercise.unilateral,
        one_of_two=loaded_by is not None and instance.catalogue.equipment[loaded_by].in_pairs,
        pair=item.pair,
    )
