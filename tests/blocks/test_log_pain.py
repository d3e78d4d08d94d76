"""Pain that a log names: what is left out, what stays lighter, and how it comes back."""

from __future__ import annotations

from typing import Any

import pytest

from scheduler.answers.conflicts import explain
from scheduler.blocks.build import plan_block
from scheduler.blocks.log import log_week
from scheduler.blocks.weeks import kept_from
from scheduler.data import load_catalogue
from scheduler.domain.block import BlockSettings, WeekRole
from scheduler.domain.brief import Brief
from scheduler.domain.catalogue import Caution
from scheduler.domain.errors import InputError
from tests.blocks.logs import (
    as_planned,
    block,
    cleared,
    held,
    hurting,
    in_full,
    log_of,
    planned,
    squat_load,
    squat_sessions,
)
from tests.blocks.small import small

SQUATS = {"kind": "lower", "exercises": [{"exercise": "barbell_back_squat"}]}


def test_pain_suggests_an_easy_week() -> None:
    _, report = log_week(block(), log_of(squat_sessions(0, pain="left knee")))
    assert len(report.easy_week) == 1
    assert "left knee" in report.easy_week[0]


def test_after_pain_the_next_week_is_lighter_though_every_set_was_over_target() -> None:
    before = plan_block(small({"pinned": [SQUATS]}), BlockSettings(weeks=3, easy_weeks=0))
    sessions = squat_sessions(2, found=before, pain="left knee")
    found, report = log_week(before, log_of(sessions))
    assert 0 < squat_load(found, 2) < squat_load(found, 1)
    told = [e.sentence for s in report.sessions for e in s.exercises if e.exercise == "barbell_back_squat"]
    assert told == ["2 reps over target in every set, load -10 % for the pain"]


def test_nothing_like_a_sore_exercise_comes_in_that_has_not_come_before() -> None:
    """Common practice: a knee that hurts is no time for a heavy squat that the weeks before did not hold."""
    asked: dict[str, Any] = {
        "week": {"start": "2026-11-30", "zone": "Europe/Berlin"},
        "places": {"gym": {"base": "full_gym"}},
        "openings": [{"day": ["mon", "tue", "thu", "fri"], "start": "17:00", "end": "20:00", "place": "gym"}],
        "kinds": {"upper": {"base": "upper", "per_week": 2}, "lower": {"base": "lower", "per_week": 2}},
        "goals": {"lats": {"aim": 10}, "quads": {"least": 6, "aim": 9, "most": 14}, "hamstrings": {"aim": 8}},
        "exercises": {"wanted": ["leg_press"]},
    }
    before = plan_block(Brief.model_validate(asked), BlockSettings(weeks=3, easy_weeks=0))
    found, _ = log_week(before, log_of(hurting("leg_press", before, pain="left knee")))
    rows = load_catalogue().exercises

    def squats(week: int) -> set[str]:
        there = {e.exercise for s in found.weeks[week].plan.sessions for e in s.entries}
        return {key for key in there if rows[key].pattern == "squat" or rows[key].direct[0] == "quads"}

    assert "leg_press" in squats(0)
    # The kind asks for a squat, and all that there were are left out: what comes in is held in the hands.
    assert {rows[key].loaded_by for key in squats(1) - squats(0)} <= {None, "dumbbells", "kettlebells"}
    kind = asked["kinds"] | {"lower": {"base": "lower", "per_week": 2, "required": []}}
    before = plan_block(Brief.model_validate({**asked, "kinds": kind}), BlockSettings(weeks=3, easy_weeks=0))
    found, _ = log_week(before, log_of(hurting("leg_press", before, pain="left knee")))
    assert squats(1) < squats(0)


def test_what_ends_far_short_and_has_no_load_is_left_out() -> None:
    """Loads fall with reps under target (ACSM 2009); the body has none to lower. Pull-downs come in their place."""
    before = block()
    assert "chin_up" in held(before, 1)
    sessions = in_full(before, 1)
    rows = [e for s in sessions for e in s["exercises"] if e["exercise"] == "chin_up"]
    for short, left_out in ((2, False), (3, True)):
        for e in rows:
            e["reps"] = e["reps"] - short if e["reps"] > short else 0
        found, _ = log_week(before, log_of(sessions))
        assert ("chin_up" not in held(found, 2)) == left_out
        assert any("far short" in note for note in found.weeks[1].notes) == left_out
        for e in rows:
            e["reps"] += short


def test_what_is_like_a_sore_exercise_is_named() -> None:
    """Common practice: pain by one pull-down is looked for in the next one before it is loaded."""
    found, report = log_week(block(), log_of(hurting("lat_pulldown")))
    (note,) = (text for text in found.weeks[1].notes if text.startswith("Like Lat pulldown"))
    pulls = {
        e.name
        for s in found.weeks[1].plan.sessions
        for e in s.entries
        if e.exercise in ("chin_up", "neutral_grip_pulldown")
    }
    assert pulls
    assert all(name in note for name in pulls)
    assert "Seated leg curl" not in note
    assert note in report.notes


@pytest.mark.parametrize(
    ("words", "caution"),
    [
        ("left knee", Caution.KNEE),
        ("Rotator cuff, right", Caution.SHOULDER),
        ("low back, in the morning", Caution.LOWER_BACK),
        ("low-back", Caution.LOWER_BACK),
        ("both knees", Caution.KNEE),
        ("elbow, after kneeling", None),
        ("upper back", None),
        ("elbow", None),
    ],
)
def test_the_caution_for_where_it_hurts_holds_until_it_is_cleared(words: str, caution: Caution | None) -> None:
    one, report = log_week(block(), log_of(hurting("lat_pulldown", pain=words)))
    assert one.weeks[1].plan.brief.lifter.cautions == ((caution,) if caution else ())
    told = [text for text in report.notes if "By where it hurt" in text]
    assert len(told) == (caution is not None)
    assert all(caution is not None and caution.value.replace("_", " ") in text for text in told)
    assert not one.brief.lifter.cautions
    against = {key for key, row in load_catalogue().exercises.items() if caution in row.cautions}
    assert not against & held(one, 2)
    back, _ = log_week(one, cleared("lat_pulldown", number=2, sessions=as_planned(one, 2)))
    assert back.weeks[2].plan.brief.lifter.cautions == ()


def test_a_pin_holds_against_the_caution_for_where_it_hurts() -> None:
    """The coach's word: what is pinned stays, and the week says which caution it sets aside."""
    carries = "leg_extension"
    assert Caution.KNEE in load_catalogue().exercises[carries].cautions
    pin = {"kind": "lower", "exercises": [{"exercise": carries}]}
    patterns = {"patterns": ["squat", "knee_flexion", "knee_extension"]}
    only = [*(small().exercises.only or ()), carries]
    before = plan_block(
        small({"pinned": [pin], "kinds": {"lower": patterns}, "exercises": {"only": only}}),
        BlockSettings(weeks=2, easy_weeks=0),
    )
    after, report = log_week(before, log_of(hurting("barbell_back_squat", found=before, pain="knee")))
    assert carries in held(after, 2)
    assert after.weeks[1].plan.brief.lifter.cautions == ()
    assert any("the brief pins what it speaks against" in text for text in report.notes)


def test_neither_sets_nor_effort_rise_while_something_hurts() -> None:
    """Path and reps in reserve stay where they were; once cleared they are the schedule's again."""
    planned_block = plan_block(small(), BlockSettings(weeks=4, easy_weeks=0, reps_in_reserve=(3, 2, 2, 1)))
    path = [week.path_percent for week in planned_block.weeks]
    one, _ = log_week(planned_block, log_of(hurting("lat_pulldown", found=planned_block, pain="elbow")))
    assert one.weeks[1].path_percent == path[0] < path[1]
    assert one.weeks[1].reps_in_reserve == 3
    two, _ = log_week(one, log_of(as_planned(one, 2), 2))
    assert (two.weeks[2].path_percent, two.weeks[2].reps_in_reserve) == (path[0], 3)
    back, _ = log_week(one, cleared("lat_pulldown", number=2, sessions=as_planned(one, 2)))
    assert (back.weeks[2].path_percent, back.weeks[2].reps_in_reserve) == (path[2], 2)


def test_what_is_looked_out_for_is_not_held_against_a_caution() -> None:
    """The outlook names what the caution leaves out, as it names what hurt."""
    extended = small(
        {
            "kinds": {"lower": {"patterns": ["squat", "knee_flexion", "knee_extension"]}},
            "exercises": {"only": [*(small().exercises.only or ()), "leg_extension"], "wanted": ["leg_extension"]},
        }
    )
    before = plan_block(extended, BlockSettings(weeks=3, easy_weeks=0))
    assert "leg_extension" in held(before, 3)
    after, _ = log_week(before, log_of(hurting("barbell_back_squat", found=before, pain="knee")))
    assert "leg_extension" not in held(after, 2)
    assert "leg_extension" in after.weeks[2].left_out


def with_extensions(**patch: Any) -> Brief:
    only = [*(small().exercises.only or ()), "leg_extension"]
    kinds = {"lower": {"patterns": ["squat", "knee_flexion", "knee_extension"], **patch.pop("lower", {})}}
    return small({"kinds": kinds, "exercises": {"only": only, **patch.pop("exercises", {})}, **patch})


def test_a_must_for_what_the_caution_leaves_out_does_not_keep_pain_from_being_logged() -> None:
    wanted = {"wanted": ["leg_extension", "barbell_back_squat"]}
    musts = ["selection:wanted:leg_extension", "selection:wanted:barbell_back_squat"]
    before = plan_block(with_extensions(exercises=wanted, musts=musts), BlockSettings(weeks=2, easy_weeks=0))
    assert "leg_extension" in held(before, 1)
    after, _ = log_week(before, log_of(hurting("barbell_back_squat", found=before, pain="left knee")))
    assert after.weeks[1].plan.tiers
    assert not {"leg_extension", "barbell_back_squat"} & held(after, 2)


def test_a_caution_that_no_week_can_keep_is_told_and_not_held() -> None:
    """Every lower session must hold a knee extension, and all that there are trouble knees."""
    before = plan_block(with_extensions(lower={"required": ["knee_extension"]}), BlockSettings(weeks=2, easy_weeks=0))
    after, report = log_week(before, log_of(hurting("barbell_back_squat", found=before, pain="left knee")))
    assert after.weeks[1].plan.tiers
    assert "barbell_back_squat" not in held(after, 2)
    assert "leg_extension" in held(after, 2)
    assert any("no week keeps it beside the musts" in note for note in report.notes)
    assert not any("is planned with the knee caution" in note for note in report.notes)


def test_a_caution_that_the_coach_has_set_aside_stays_so() -> None:
    """Pinned against the brief's own caution, which is off: an easy week and an outlook still hold it."""
    pin = {"kind": "lower", "exercises": [{"exercise": "leg_extension"}]}
    brief = with_extensions(pinned=[pin], lifter={"cautions": ["knee"]}, rules={"cautions": {"mode": "off"}})
    before = plan_block(brief, BlockSettings(weeks=3, easy_weeks=1))
    easy = next(week.number for week in before.weeks if week.role is WeekRole.EASY)
    assert "leg_extension" in held(before, easy)
    after, _ = log_week(before, log_of(in_full(before, 1)))
    assert all(week.left_out == () for week in after.weeks)


def test_a_muscle_that_stands_back_does_not_rise_while_something_hurts() -> None:
    before = plan_block(
        small({"goals": {"quads": {"least": 2, "aim": 6, "most": 10}}}), BlockSettings(weeks=5, easy_weeks=0)
    )
    one, _ = log_week(before, log_of(hurting("lat_pulldown", found=before, pain="hip")))
    two, _ = log_week(one, log_of([s for s in as_planned(one, 2) if s["kind"] != "lower"], 2))
    three, _ = log_week(two, log_of(as_planned(two, 3), 3))
    aims = [next(r.aim for r in w.plan.ledger if r.target == "quads") for w in three.weeks[:4]]
    assert aims[1:] == [aims[1]] * 3


LEFT_OUT = "Lat pulldown, wide overhand grip hurt and is left out until a log says that it is cleared."


def test_what_hurt_is_left_out_until_a_log_says_that_it_is_cleared() -> None:
    assert "lat_pulldown" in held(block(), 1) & held(block(), 2)
    one, report = log_week(block(), log_of(hurting("lat_pulldown")))
    assert "lat_pulldown" not in held(one, 2)
    assert one.weeks[1].plan.tiers
    assert LEFT_OUT in one.weeks[1].notes
    assert LEFT_OUT in report.notes
    still, _ = log_week(one, log_of(as_planned(one, 2), 2))
    assert "lat_pulldown" not in held(still, 3)
    back, after = log_week(one, cleared("lat_pulldown", number=2, sessions=as_planned(one, 2)))
    assert "lat_pulldown" in held(back, 3)
    assert LEFT_OUT not in (*back.weeks[2].notes, *after.notes)
    name = "Lat pulldown, wide overhand grip"
    assert f"{name} is cleared: it may come again, with the load that was lowered." in after.notes


def test_to_clear_what_did_not_hurt_is_told() -> None:
    one, _ = log_week(block(), log_of(hurting("lat_pulldown")))
    _, report = log_week(one, cleared("machine_row", number=2, sessions=as_planned(one, 2)))
    assert any(note.startswith("Machine row") and "was not left out" in note for note in report.notes)
    assert LEFT_OUT in report.notes


def test_a_week_after_one_that_could_not_be_planned_cannot_be_logged() -> None:
    """The one pull that there is hurts, and upper sessions ask for one: it is said what can be done."""
    pulls = ["neutral_grip_pulldown", "chin_up"]
    only = [key for key in small().exercises.only or () if key not in pulls]
    asked = {"exercises": {"only": only, "favourites": []}, "kinds": {"upper": {"required": ["vertical_pull"]}}}
    found = plan_block(small(asked), BlockSettings(weeks=3, easy_weeks=0))
    stuck, _ = log_week(found, log_of(hurting("lat_pulldown", found)))
    assert [bool(week.plan.tiers) for week in stuck.weeks] == [True, False, True], "the third is an outlook"
    with pytest.raises(InputError, match=r"week 2 has no plan .*Log week 1 once more"):
        log_week(stuck, log_of([], 2))
    again, _ = log_week(stuck, cleared("lat_pulldown"))
    assert again.weeks[1].plan.tiers


def test_what_is_cleared_comes_back_lighter() -> None:
    """By how much is this project's own choice: log_pain_percent."""
    asked = next(lift for lift in small().lifter.lifts if lift.exercise == "barbell_back_squat")
    free = plan_block(small({"exercises": {"wanted": []}}), BlockSettings(weeks=3, easy_weeks=0))
    one, _ = log_week(free, log_of(hurting("barbell_back_squat", free)))
    assert "barbell_back_squat" not in held(one, 2)
    back, _ = log_week(one, cleared("barbell_back_squat", number=2, sessions=as_planned(one, 2)))
    assert squat_load(back, 3) < squat_load(free, 1)
    assert back.lifts is not None
    assert {lift.exercise: lift.load_kg for lift in back.lifts}["barbell_back_squat"] == 0.9 * asked.load_kg


def test_what_is_only_wanted_is_left_out_too() -> None:
    """A wish was written before the pain: it comes back with the log that clears it."""
    assert "barbell_back_squat" in small().exercises.wanted
    one, report = log_week(block(), log_of(hurting("barbell_back_squat")))
    assert one.weeks[1].plan.tiers
    assert "barbell_back_squat" not in held(one, 2)
    assert any(text.startswith("Barbell back squat hurt and is left out") for text in report.notes)
    back, _ = log_week(one, cleared("barbell_back_squat", number=2, sessions=as_planned(one, 2)))
    assert "barbell_back_squat" in held(back, 3)


def test_what_is_pinned_stays_in_spite_of_pain_lighter_and_no_nearer_to_failure() -> None:
    falling = plan_block(small({"pinned": [SQUATS]}), BlockSettings(weeks=3, easy_weeks=0, reps_in_reserve=(3, 2, 1)))
    one, report = log_week(falling, log_of(hurting("barbell_back_squat", falling)))
    assert "barbell_back_squat" in held(one, 2)
    assert squat_load(one, 2) < squat_load(one, 1)
    assert one.weeks[1].reps_in_reserve == 3
    assert {e.reps_in_reserve for s in planned(one, 2) for e in s.entries} == {3}
    assert any("stays only because the brief pins it" in text for text in report.notes)
    back, _ = log_week(one, cleared("barbell_back_squat", number=2, sessions=as_planned(one, 2)))
    assert back.weeks[2].reps_in_reserve == 1


def test_pain_that_was_entered_wrongly_is_taken_back_by_a_correction() -> None:
    wrong, _ = log_week(block(), log_of(hurting("lat_pulldown")))
    mended, _ = log_week(wrong, log_of(in_full(block(), 1)))
    assert planned(mended, 2) == planned(block(), 2)
    assert mended.weeks[1].notes == block().weeks[1].notes


def test_only_pain_that_was_logged_before_is_cleared() -> None:
    both, _ = log_week(block(), cleared("lat_pulldown", sessions=hurting("lat_pulldown")))
    assert "lat_pulldown" not in held(both, 2)
    later, _ = log_week(both, cleared("lat_pulldown"))
    assert "lat_pulldown" in held(later, 2)
    # A further entry for the week, of something else, leaves it cleared; pain that is logged anew does not.
    other, _ = log_week(later, log_of(as_planned(block(), 1)[:1]))
    assert "lat_pulldown" in held(other, 2)
    anew, _ = log_week(later, log_of(hurting("lat_pulldown")))
    assert "lat_pulldown" not in held(anew, 2)


def test_an_easy_week_leaves_out_what_hurt() -> None:
    found, _ = log_week(block(), log_of(hurting("lat_pulldown")), easy=True)
    assert found.weeks[1].plan.tiers
    assert "lat_pulldown" not in held(found, 2)
    # What was cleared in the easy week comes in the next one that builds.
    back, _ = log_week(found, cleared("lat_pulldown", number=2, sessions=as_planned(found, 2)))
    assert "lat_pulldown" in held(back, 3)


def test_a_week_that_is_impossible_without_what_hurt_says_so() -> None:
    only = {"only": ["lat_pulldown", "barbell_bench_press", "seated_leg_curl"], "wanted": [], "favourites": []}
    alone = plan_block(small({"exercises": only}), BlockSettings(weeks=2, easy_weeks=0))
    found, _ = log_week(alone, log_of(hurting("seated_leg_curl", alone)))
    assert found.impossible is not None
    assert "Seated leg curl hurt and is left out until a log says that it is cleared." in found.impossible.notes
    told = explain(found.impossible.plan.brief, budget_seconds=10, most_conflicts=1)
    assert "Seated leg curl is not in the week." in {text for c in told.conflicts for text in c.sentences}


def test_no_way_out_of_an_impossible_week_leads_over_what_hurts() -> None:
    brief = small({"goals": {"lats": {"priority": 1}}})
    found = plan_block(brief, BlockSettings(weeks=2, easy_weeks=0))
    after, _ = log_week(found, log_of(hurting("lat_pulldown", found)))
    week = after.impossible
    assert week is not None
    assert "lat_pulldown" in week.plan.brief.exercises.avoided
    protected = kept_from(after, week)
    assert protected == {"selection:avoided:lat_pulldown"}
    reasons = explain(week.plan.brief, budget_seconds=30, most_conflicts=1, protected=protected)
    assert reasons.mends
    assert not any(change.switch in protected for mend in reasons.mends for change in mend.changes)
