"""An invented week: client 07, intermediate, whose back comes first, on five sessions."""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from scheduler.domain.brief import Brief
from scheduler.domain.plan import (
    CautionNote,
    Entry,
    Finding,
    Fingerprint,
    LedgerRow,
    Mode,
    Plan,
    PlannedSession,
    PlanStatus,
    Role,
    RuleReport,
    TierResult,
    Timings,
    Zone,
)
from scheduler.rules import TIER_NAMES

ZONE = ZoneInfo("Europe/Berlin")


def _brief() -> Brief:
    return Brief.model_validate(
        {
            "title": "Back first",
            "story": "Five evenings at most, one of them short; the back is the weak point.",
            "week": {"start": "2026-05-04", "zone": "Europe/Berlin"},
            "lifter": {"name": "client 07", "status": "intermediate"},
            "places": {"quarry": {"name": "Quarry Lane hall"}, "home": {}},
            "openings": [
                {"day": ["mon", "tue", "thu", "fri", "sat"], "start": "06:00", "end": "21:00", "place": "quarry"}
            ],
            "kinds": {"back": {"per_week": 2}, "legs": {"per_week": 1}, "push": {"per_week": 2}},
        }
    )


def _entry(name: str, *dose: float, **more: Any) -> Entry:
    """Of sets, reps, reps in reserve, seconds of rest and, where it is known, the load."""
    sets, reps, reserve, rest, *load = dose
    zone = Zone.HEAVY if reps <= 6 else Zone.MODERATE if reps < 12 else Zone.LIGHT
    fields: dict[str, Any] = {
        "name": name,
        "sets": sets,
        "reps": reps,
        "zone": zone,
        "reps_in_reserve": reserve,
        "rest_seconds": rest,
    }
    return Entry(
        exercise=name.lower().replace(" ", "_").replace(",", ""), load_kg=load[0] if load else None, **fields, **more
    )


def _session(name: str, day: int, clock: str, minutes: int, *entries: Entry, **more: Any) -> PlannedSession:
    start = dt.datetime.combine(dt.date(2026, 5, day), dt.time.fromisoformat(clock), ZONE)
    fields: dict[str, Any] = {
        "kind": name.split(maxsplit=1)[0].lower(),
        "name": name,
        "start": start,
        "end": start + dt.timedelta(minutes=minutes),
    }
    return PlannedSession(**{"place": "quarry", "entries": entries, **fields, **more})


def _sessions() -> tuple[PlannedSession, ...]:
    return (
        _session(
            "Back, vertical pull first",
            *(4, "18:00", 70),
            _entry("Straight-arm pull-down", 2, 15, 5, 60, role=Role.ACTIVATION),
            _entry("Pull-up, neutral grip", 4, 6, 2, 180),
            _entry("Chest-supported row", 4, 8, 2, 150, 32.5),
            _entry("Lat pull-down, wide grip", 3, 10, 1, 120, 57.5),
            _entry("Face pull", 3, 15, 1, 75, 22.5, pair=1),
            _entry("Incline dumbbell curl", 3, 10, 1, 75, 12, pair=1),
        ),
        _session(
            "Push, shoulders and chest",
            *(5, "07:00", 55),
            _entry("Incline dumbbell press", 4, 8, 2, 150, 28),
            _entry("Seated overhead press, machine", 3, 10, 2, 120, 40),
            _entry("Cable fly", 3, 12, 1, 90),
            _entry("Lateral raise", 4, 15, 1, 60, 9, pair=1),
            _entry("Rope pressdown", 3, 12, 1, 60, 25, pair=1),
        ),
        _session(
            "Legs",
            *(7, "18:30", 75),
            _entry("Back squat", 4, 6, 2, 180, 102.5),
            _entry("Romanian deadlift", 3, 8, 3, 150, 90),
            _entry("Leg press", 3, 12, 1, 120, 160),
            _entry("Seated leg curl", 3, 12, 1, 90, 45),
            _entry("Standing calf raise", 4, 12, 1, 60),
            _entry("Pull-up, pronated grip", 3, 8, 2, 120, role=Role.ADD_ON),
            state="pinned",
        ),
        _session(
            "Push, arms",
            *(8, "07:00", 45),
            _entry("Dip", 3, 8, 2, 120),
            _entry("Close-grip bench press", 3, 8, 2, 120, 67.5),
            _entry("Cable lateral raise", 3, 15, 1, 60, pair=1),
            _entry("Cable curl", 3, 12, 1, 60, 27.5, pair=1),
        ),
        _session(
            "Back, horizontal pull first",
            *(9, "18:45", 65),
            _entry("Straight-arm pull-down", 2, 15, 5, 60, role=Role.ACTIVATION),
            _entry("Seated cable row, neutral grip", 4, 8, 2, 150, 62.5),
            _entry("One-arm dumbbell row", 3, 10, 1, 120, 34),
            _entry("Lat pull-down, neutral grip", 3, 12, 1, 90, 52.5),
            _entry("Reverse fly, machine", 3, 15, 1, 60, 30),
            _entry("Back extension", 2, 12, 2, 90),
        ),
    )


def _ledger() -> tuple[LedgerRow, ...]:
    rows: tuple[tuple[Any, ...], ...] = (
        ("whole_back", "Whole back", True, 24, 24, 16, 24, 25, 2, (119.58,), 1),
        ("lats", "Lats (latissimus dorsi)", False, 17, 20.5, 14, 18, 22, 2, (119.5,), 1),
        ("upper_back", "Upper back", False, 17, 20.5, 12, 16, 22, 2, (119.5,), 2),
        ("rear_deltoid", "Rear deltoid", False, 6, 11.5, 8, 12, 16, 2, (119.5,), 2),
        ("biceps", "Biceps", False, 6, 18, 8, 12, 20, 3, (84.83, 34.0), None),
        ("chest", "Chest", False, 10, 13, 8, 10, 16, 2, (71.0,), None),
        ("side_deltoid", "Side deltoid", False, 7, 8.5, 8, 10, 18, 2, (71.0,), None),
        ("triceps", "Triceps", False, 6, 12.5, 6, 10, 16, 2, (71.0,), None),
        ("quadriceps", "Quadriceps", False, 7, 7, 8, 10, 16, 1, (), None),
        ("hamstrings", "Hamstrings", False, 6, 7.5, 6, 8, 14, 1, (), None),
        ("glutes", "Gluteus maximus", False, 10, 10, 6, 10, 14, 1, (), None),
        ("calves", "Calves", False, 4, 4, None, None, None, 1, (), None),
        ("erectors", "Spinal erectors", False, 2, 7.5, None, None, 12, 1, (), None),
    )
    return tuple(LedgerRow(**dict(zip(LedgerRow.model_fields, row, strict=False))) for row in rows)


def _rule(
    rule: str, title: str, mode: Mode = Mode.MUST, *findings: tuple[str, int, str], measure: bool = False
) -> RuleReport:
    found = tuple(
        Finding(rule=rule, switch=f"{rule}.{n}", mode=mode, sentence=s, breach=b, breach_text=t, unit="", cost=b * 2)
        for n, (s, b, t) in enumerate(findings)
    )
    cost = sum(f.cost for f in found)
    return RuleReport(
        rule=rule,
        title=title,
        tier=4 if measure else 1,
        mode=mode,
        kept=measure or not cost,
        measure=measure,
        cost=cost,
        findings=found,
    )


def _rules() -> tuple[RuleReport, ...]:
    spaced = ("Back sessions lie at least 48 h from leg sessions.", 0, "")
    quads = ("Quadriceps get at least 8 sets.", 4, "7 sets: 1 set short")
    rear = ("Rear deltoid gets 12 sets.", 2, "11.5 sets: 0.5 sets short")
    fresh = ("The first back session follows a day of rest.", 0, "")
    few = ("As few exercises as will do.", 59, "59 used")
    often = ("Quadriceps are hit 2 to 3 times.", 1, "1 hit: 1 too few")
    return (
        _rule("opening", "Openings", Mode.MUST, ("Sessions lie inside an opening.", 0, "")),
        _rule("spacing", "Spacing", Mode.MUST, spaced),
        _rule("weekly_sets", "Weekly sets", Mode.WISH, quads, rear),
        _rule("frequency", "Frequency", Mode.WISH, often),
        _rule("early_and_fresh", "Early and fresh", Mode.WISH, fresh),
        _rule("few_exercises", "Few exercises", Mode.WISH, few, measure=True),
        _rule("ramp", "Ramp", Mode.WISH),
        _rule("rep_mix", "Rep mix", Mode.OFF),
    )


@pytest.fixture
def plan() -> Plan:
    """A plan whose figures look like the planner's; reports compute nothing, so it need not pass the referee."""
    return Plan(
        status=PlanStatus.OPTIMAL,
        title="Back first",
        brief=_brief(),
        sessions=_sessions(),
        ledger=_ledger(),
        rules=_rules(),
        tiers=(
            TierResult(
                tier=1, name=TIER_NAMES[1], value=14, bound=14, proved=True, terms={"weekly_sets": 12, "frequency": 2}
            ),
            TierResult(tier=3, name=TIER_NAMES[3], value=31, bound=31, proved=True, terms={"early_and_fresh": 31}),
            TierResult(tier=4, name=TIER_NAMES[4], value=118, bound=118, proved=True, terms={"few_exercises": 118}),
            TierResult(tier=5, name=TIER_NAMES[5], value=3, bound=3, proved=True),
        ),
        cautions=(
            CautionNote(
                key="general",
                text="General information, not medical advice. Screen yourself before you begin, with PAR-Q+ or its "
                "local equivalent. Stop on sharp pain. A clinician's or a qualified coach's word comes first.",
                source="PAR-Q+ 2023",
            ),
            CautionNote(
                key="whole_back",
                text="The whole back nears 25 sets a week; most lifters need time to grow into that much.",
                source="common practice",
            ),
        ),
        notes=("Loads are estimated from lifts of the last four weeks and rounded down to what the place has.",),
        fingerprint=Fingerprint(version="0.1.0", seed=1, brief_sha256="3fa9c1d7" * 8, catalogue_sha256="77ab20e4" * 8),
        timings=Timings(build_seconds=0.42, solve_seconds=11.3, referee_seconds=0.03),
    )
