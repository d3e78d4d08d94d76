"""Who gets no heavy sets unless the brief names them, and what stands first where all is heavy enough.

Reps: ACSM's Guidelines for Exercise Testing and Prescription for pregnancy (8 to 15 submaximal reps), Faigenbaum et al.
2009 (NSCA) for youth (6 to 15), ACSM 2009 for older adults (8 to 12); all from memory.
"""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from icalendar import Calendar
from rich.console import Console

from scheduler.briefs import plan_of
from scheduler.calendars import write_ics
from scheduler.data import load_catalogue
from scheduler.domain.brief import Brief
from scheduler.domain.plan import Mode, Plan, Zone
from scheduler.planning import check, solve
from scheduler.reports import render_csv, render_html, render_plan
from scheduler.reports.wording import BUILD_UP, ONE_OF_TWO

GENTLY: tuple[dict[str, Any], ...] = (
    {"cautions": ["pregnancy"]},
    {"age_band": "under_18"},
    {"age_band": "65_plus", "status": "novice"},
)
NOT: tuple[dict[str, Any], ...] = ({}, {"age_band": "65_plus", "status": "intermediate"}, {"age_band": "50_64"})


def pressing(lifter: dict[str, Any], **more: Any) -> Brief:
    """One session of presses whose muscle is to get some heavy sets: the mix of reps wishes for them."""
    asked = {
        "week": {"start": "2027-01-11", "zone": "Europe/Berlin"},
        "lifter": lifter,
        "places": {"gym": {"base": "full_gym"}},
        "openings": [{"day": ["mon", "thu"], "start": "17:00", "end": "19:00", "place": "gym"}],
        "kinds": {
            "push": {
                "base": "push",
                "per_week": 2,
                "required": [],
                "patterns": ["horizontal_push"],
                "sets": {"least": 4, "most": 10},
                "minutes": {"least": 20, "most": 80},
            }
        },
        "rules": {"stand_in": {"mode": "off"}, "rep_mix": {"lean": "heavy"}, "recovery": {"mode": "off"}},
        "goals": {"pectorals_lower": {"least": 8, "aim": 10, "most": 14, "frequency": 2}},
        "exercises": {"only": ["incline_barbell_bench_press", "machine_chest_press", "smith_bench_press"]},
    }
    return Brief.model_validate({**asked, **more})


def heavy_sets(plan: Plan) -> int:
    return sum(e.sets for s in plan.sessions for e in s.entries if e.zone is Zone.HEAVY)


@pytest.mark.parametrize("lifter", NOT)
def test_others_get_heavy_sets(lifter: dict[str, Any]) -> None:
    assert heavy_sets(solve(pressing(lifter)))


@pytest.mark.parametrize("lifter", GENTLY)
def test_no_heavy_sets_and_more_in_reserve(lifter: dict[str, Any]) -> None:
    plan = solve(pressing(lifter))
    entries = [entry for session in plan.sessions for entry in session.entries]
    assert entries
    assert all(entry.reps > 6 and entry.reps_in_reserve >= 3 for entry in entries)
    assert not any(f.rule == "rep_mix" and "heavy" in f.sentence for rule in plan.rules for f in rule.findings)


@pytest.mark.parametrize("lifter", GENTLY)
def test_a_coach_who_names_heavy_reps_gets_them(lifter: dict[str, Any]) -> None:
    plan = solve(pressing(lifter, prescription={"reps": {"heavy": 6}, "reps_in_reserve": 4}))
    assert heavy_sets(plan)
    assert {e.reps_in_reserve for s in plan.sessions for e in s.entries} == {4}


def test_a_heavy_set_in_a_plan_that_is_handed_in_is_a_breach() -> None:
    plan = solve(pressing({"age_band": "18_49"}))
    young = pressing({"age_band": "under_18"})
    broken = [f for rule in check(young, plan.sessions).plan.rules for f in rule.findings if f.breach]
    (finding,) = [f for f in broken if f.mode is Mode.MUST]
    assert finding.switch == "prescription:sets"
    assert "none of 6 or fewer reps" in finding.sentence


def test_a_pull_from_the_floor_stands_before_heavier_sets_of_other_hinges() -> None:
    """Common practice: a back that has hinged and rowed already is the worst to pull from the floor with."""
    pulls = [
        {"exercise": "conventional_deadlift", "sets": 3, "reps": 10},
        {"exercise": "romanian_deadlift", "sets": 3, "reps": 5},
        {"exercise": "barbell_bent_over_row", "sets": 3, "reps": 5},
    ]
    brief = pressing({}, exercises={}).model_dump(mode="json")
    for order, wrong in ((pulls, 0), ([pulls[1], pulls[0], pulls[2]], 1), ([pulls[1], pulls[2], pulls[0]], 1)):
        session = {"kind": "push", "start": "2027-01-11T17:00", "end": "2027-01-11T18:30", "place": "gym"}
        asked, sessions = plan_of({"brief": brief, "sessions": [{**session, "entries": order}]})
        (rule,) = [rule for rule in check(asked, sessions).plan.rules if rule.rule == "order"]
        assert sum(f.breach for f in rule.findings) == wrong


TWO_EVENINGS = [{"day": ["mon", "tue"], "start": "17:00", "end": "19:00", "place": "gym"}]


def test_the_parts_of_one_muscle_recover_as_one() -> None:
    """48 h between hits of the pectorals (McLester et al. 2003), though one exercise is for the upper part."""
    goals = {"pectorals": {"least": 8, "aim": 8, "most": 14}}
    close = solve(pressing({}, goals=goals, openings=TWO_EVENINGS, rules={"stand_in": {"mode": "off"}}))
    (broken,) = [f for rule in close.rules for f in rule.findings if f.breach and f.rule == "recovery"]
    assert broken.sentence.startswith("Two sessions that train Pectorals hard and directly")
    assert broken.sessions == (0, 1), "each session of four sets is hard"
    apart = pressing({}, goals=goals, rules={"stand_in": {"mode": "off"}})
    plan = solve(apart)
    (row,) = [row for row in plan.ledger if row.target == "pectorals"]
    assert row.hits == 2
    assert min(row.hours_between_hits) >= 46, "48 less the allowance for counting from the end of a session"


def test_a_larger_group_that_is_trained_on_two_evenings_is_told() -> None:
    goals = {"arms": {"least": 8, "aim": 8, "most": 20}}
    rules = {"stand_in": {"mode": "off"}}
    plan = solve(pressing({}, goals=goals, openings=TWO_EVENINGS, rules=rules))
    (note,) = [note for note in plan.notes if note.startswith("Arms: hard work on Monday and Tuesday")]
    assert "recovery_hours" in note
    hours = {"arms": {**goals["arms"], "recovery_hours": 40}}
    kept = solve(pressing({}, goals=hours, openings=[{**TWO_EVENINGS[0], "day": ["mon", "wed"]}], rules=rules))
    assert kept.sessions
    assert not any(note.startswith("Arms: hard work") for note in kept.notes)


def test_lighter_sets_before_heavy_ones_take_their_minutes() -> None:
    """One exercise of three sets of 5: 5 min warm-up, 150 s to load a bar, 4 min to build up, 3 x (20 + 180) s."""
    asked = pressing({}).model_dump(mode="json") | {"prescription": {"reps": {"heavy": 5}}}
    entry = {"exercise": "incline_barbell_bench_press", "sets": 3, "reps": 5}

    def too_short(minutes: int, **more: Any) -> int:
        end = f"2027-01-11T17:{minutes:02d}"
        session = {"kind": "push", "start": "2027-01-11T17:00", "end": end, "place": "gym", "entries": [entry]}
        brief, sessions = plan_of({"brief": {**asked, "prescription": more}, "sessions": [session]})
        (rule,) = [rule for rule in check(brief, sessions).plan.rules if rule.rule == "prescription"]
        return sum(f.breach for f in rule.findings if f.switch == "prescription:minutes")

    row = load_catalogue().exercises["incline_barbell_bench_press"]
    seconds = 300 + row.setup_seconds + 3 * (5 * row.seconds_per_rep + 180)
    assert 20 * 60 > seconds > 15 * 60
    assert (too_short(20), too_short(25)) == (1, 0), "four minutes more"
    assert too_short(20, build_up_minutes=0) == 0
    entry["reps"] = 10
    assert too_short(20) == 0, "moderate sets need no building up"


def test_a_sheet_says_what_reps_and_loads_are_of() -> None:
    """Reps of one side, the load of one dumbbell, the lighter sets that are not listed: in every form of the plan."""
    entries = [
        {"exercise": "one_arm_dumbbell_row", "sets": 3, "reps": 10, "load_kg": 20},
        {"exercise": "machine_row", "sets": 3, "reps": 5, "load_kg": 40},
    ]
    asked = pressing({}).model_dump(mode="json")
    session = {"kind": "push", "start": "2027-01-11T17:00", "end": "2027-01-11T18:00", "place": "gym"}
    brief, sessions = plan_of({"brief": asked, "sessions": [{**session, "entries": entries}]})
    plan = check(brief, sessions).plan
    one, other = plan.sessions[0].entries
    assert (one.per_side, one.one_of_two, other.per_side, other.one_of_two) == (True, True, False, False)
    shown = io.StringIO()
    render_plan(plan, Console(file=shown, width=100))
    for text in (" ".join(shown.getvalue().split()), " ".join(render_html(plan).split())):
        assert "each side" in text
        assert ONE_OF_TWO in text
        assert BUILD_UP in text
    assert [row["per_side"] for row in csv.DictReader(io.StringIO(render_csv(plan)))] == ["yes", ""]
    (event,) = Calendar.from_ical(write_ics(plan)).walk("VEVENT")
    assert "3 x 10, 2 in reserve, rest 2:00, 20 kg, each side" in str(event["description"])


def kit(**patch: Any) -> Brief:
    return Brief.model_validate(
        {
            "week": {"start": "2026-11-30"},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [{"day": ["mon", "wed", "fri"], "start": "18:00", "end": "19:30", "place": "gym"}],
            "kinds": {
                "full": {
                    "patterns": ["squat", "hinge", "horizontal_push", "horizontal_pull", "trunk_rotation"],
                    "sets": {"least": 2, "most": 20},
                    "minutes": {"least": 10, "most": 90},
                    "lower_body": True,
                    "name": "Whole body",
                    "per_week": 2,
                }
            },
            "goals": {"back": {"least": 4, "aim": 8}},
            "rules": {"stand_in": {"mode": "off"}},
        }
        | patch
    )


def test_a_group_that_is_trained_by_one_movement_alone_is_told() -> None:
    """Common practice: a back that is only pulled from the floor has had no row and no pull from above."""
    only = {"only": ["trap_bar_deadlift", "conventional_deadlift", "back_extension"]}
    notes = solve(kit(exercises=only)).notes
    assert any(note.startswith("Whole back: all of its") and "(hinge)" in note for note in notes)
    both = {"only": ["trap_bar_deadlift", "seated_cable_row"], "wanted": ["trap_bar_deadlift", "seated_cable_row"]}
    assert not any(note.startswith("Whole back: all of its") for note in solve(kit(exercises=both)).notes)


def test_a_goal_that_the_week_trains_by_the_way_only_is_told() -> None:
    """Pelland et al. 2024 count a half for it; common practice: who asks for arms misses a curl in such a ledger."""
    kinds = {"full": kit().kinds["full"].model_dump(mode="json") | {"patterns": ["horizontal_pull", "elbow_flexion"]}}
    rules = {key: {"mode": "off"} for key in ("stand_in", "rep_mix", "variety", "frequency")}
    asked = {"goals": {"lats": {"aim": 12}, "biceps": {"aim": 6}}, "kinds": kinds, "rules": rules}
    rows, curls = (
        {"only": ["seated_cable_row", "machine_row", "cable_curl"], "wanted": w} for w in ([], ["cable_curl"])
    )
    told = "Biceps: no set trains it directly;"
    assert any(note.startswith(told) for note in solve(kit(**asked, exercises=rows)).notes)
    assert not any(note.startswith(told) for note in solve(kit(**asked, exercises=curls)).notes)


def test_a_goal_that_nothing_trains_directly_is_told() -> None:
    """In pregnancy no work that bends the trunk is left: the abs get what turning and bracing count for them."""
    told = "Abs (rectus abdominis): nothing that can be done here trains it directly; what counts is indirect work."
    pregnant = kit(goals={"abs": {"least": 1, "aim": 2}}, lifter={"cautions": ["pregnancy"]})
    assert told in solve(pregnant).notes
    patterns = {
        "full": kit().kinds["full"].model_dump(mode="json") | {"patterns": ["horizontal_push", "trunk_flexion"]}
    }
    assert told not in solve(kit(goals={"abs": {"least": 1, "aim": 2}}, kinds=patterns)).notes


def test_a_session_for_the_whole_body_without_legs_is_told() -> None:
    """Common practice: every session of the whole body holds something for the legs."""
    plan = solve(kit(exercises={"only": ["seated_cable_row", "barbell_bench_press"]}))
    (note,) = (note for note in plan.notes if "legs or hips" in note)
    assert note.startswith("Whole body on ")
    kind = kit().kinds["full"].model_dump(mode="json") | {"required": ["squat"]}
    assert not any("legs or hips" in note for note in solve(kit(kinds={"full": kind})).notes)


def test_after_a_night_of_work_a_session_waits_for_sleep_where_it_can() -> None:
    """Seven hours of sleep (Watson et al. 2015, AASM and SRS, from memory); the shift ends at six."""

    def plan(end: str) -> Plan:
        hours = [{"day": ["tue", "thu"], "start": "08:00", "end": end, "place": "gym"}]
        only = {"only": ["seated_cable_row", "barbell_bench_press"]}
        night = {"title": "Night shift", "start": "2026-11-30T22:00", "end": "2026-12-01T06:00"}
        return solve(kit(openings=hours, busy=[night], exercises=only))

    (tuesday,) = (s for s in plan("16:00").sessions if s.start.day == 1)
    assert tuesday.start.hour == 13
    texts = [line.breach_text for report in plan("10:00").rules for line in report.findings]
    assert any("of sleep are missing" in text for text in texts)
