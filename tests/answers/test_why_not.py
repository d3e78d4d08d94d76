"""Why not this: a demand forced in either costs something, tier by tier, or cannot be."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import pytest

from scheduler.answers.conflicts import check_question
from scheduler.answers.demands import read_demand
from scheduler.answers.variants import patched
from scheduler.answers.why_not import why_not, with_demand
from scheduler.cli.questions import NO_NAME, set_patches
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Plan
from scheduler.domain.units import Day
from scheduler.domain.variants import Demand, Possibility
from scheduler.planning import check, instance_of, solve


def small(**parts: Any) -> Brief:
    kind = {"sets": {"least": 2, "most": 8}, "minutes": {"least": 0, "most": 60}, "per_week": {"least": 1, "most": 2}}
    return Brief.model_validate(
        {
            "week": {"start": "2026-03-02"},
            "places": {"gym": {"base": "full_gym"}, "home": {"name": "Spare room", "base": "home_bodyweight"}},
            "openings": [
                {"day": ["mon", "thu"], "start": "18:00", "end": "19:00", "place": "gym", "preference": "preferred"},
                {"day": "tue", "start": "18:00", "end": "19:00", "place": "gym", "preference": "reluctant"},
                {"day": "sat", "start": "10:00", "end": "11:00", "place": "home"},
            ],
            "kinds": {
                "back": {"patterns": ["horizontal_pull", "vertical_pull"], **kind},
                "legs": {"patterns": ["squat", "knee_extension"], "lower_body": True, **kind, "per_week": 1},
            },
            "sessions": 3,
            "goals": {"lats": {"least": 2, "aim": 6, "most": 14}},
            "exercises": {
                "only": ["machine_row", "lat_pulldown", "leg_press", "leg_extension", "bodyweight_squat"],
                "avoided": ["bodyweight_squat"],
            },
            "rules": {"stand_in": {"mode": "off"}, "coverage": {"mode": "off"}},
            **parts,
        }
    )


@pytest.fixture(scope="module")
def base() -> Plan:
    plan = solve(small())
    assert plan.tiers
    return plan


def test_more_sets_than_a_novice_has_may_cost_less() -> None:
    """Five sets of one exercise spare another: what the base plan costs is no floor for a week with them."""
    novice = Brief.model_validate(
        {
            "week": {"start": "2027-01-11"},
            "lifter": {"status": "novice"},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [{"day": ["mon", "thu"], "start": "17:00", "end": "18:30", "place": "gym"}],
            "kinds": {"push": {"base": "push", "per_week": 2, "required": [], "sets": {"least": 2, "most": 9}}},
            "goals": {"pectorals": {"least": 6, "aim": 10, "most": 20}},
            "rules": {"stand_in": {"mode": "off"}, "even_lengths": {"mode": "off"}},
        }
    )
    plan = solve(novice)
    exercise = plan.sessions[0].entries[0].exercise
    answer = why_not(novice, Demand(kind="push", exercise=exercise, sets=5), base=plan)
    assert answer.possibility is Possibility.FREE
    assert answer.plan is not None
    assert all(e.sets <= 3 or e.exercise == exercise for s in answer.plan.sessions for e in s.entries)


def test_a_rule_wakes_up_for_the_demand_alone() -> None:
    """Wanted exercises are musts by a mode of their own, but the rule is off: a demand does not wake them."""
    rules = {"stand_in": {"mode": "off"}, "coverage": {"mode": "off"}, "selection": {"mode": "off", "wanted": "must"}}
    asked = small(rules=rules, exercises={"wanted": ["conventional_deadlift"]})
    answer = why_not(asked, Demand(exercise="lat_pulldown"))
    assert answer.possibility is not Possibility.IMPOSSIBLE


def test_at_a_cost() -> None:
    """Tuesday is had with reluctance only, and two other days would do."""
    brief = small(sessions=2)
    before = solve(brief)
    assert not any(f"{s.start:%a}" == "Tue" for s in before.sessions)
    answer = why_not(brief, Demand(kind="back", day=Day.TUE, start=dt.time(18)), base=before)
    assert answer.plan is not None
    assert answer.difference is not None
    assert any(s.kind == "back" and f"{s.start:%a %H:%M}" == "Tue 18:00" for s in answer.plan.sessions)
    assert answer.possibility is Possibility.POSSIBLE
    first = next(t for t in answer.difference.tiers if t.cost)
    assert first.cost is not None
    assert first.cost > 0, "a proved best week cannot be beaten by a demand"


def test_it_is_so_already(base: Plan) -> None:
    session = base.sessions[0]
    demand = Demand(kind=session.kind, day=Day(f"{session.start:%a}".lower()))
    answer = why_not(small(), demand, base=base)
    assert answer.possibility is Possibility.ALREADY
    assert answer.difference is not None
    assert answer.difference.is_empty
    assert why_not(small(), demand).possibility is Possibility.ALREADY


@pytest.mark.parametrize("text", ["back on sun", "legs at home", "back on mon at 18:55", "bodyweight_squat"])
def test_impossible_and_verified(base: Plan, text: str) -> None:
    answer = why_not(small(), read_demand(text, instance_of(small())), base=base)
    assert answer.possibility is Possibility.IMPOSSIBLE
    assert answer.verified
    assert answer.plan is None
    assert answer.cautions
    assert answer.reasons is not None
    assert not answer.reasons.possible
    assert answer.reasons.conflicts[0].members


def test_a_rule_that_is_off_wakes_up_for_the_demand_alone(base: Plan) -> None:
    pin = {"kind": "legs", "day": "sun"}
    brief = small(
        pinned=[pin], rules={"pinned": {"mode": "off"}, "stand_in": {"mode": "off"}, "coverage": {"mode": "off"}}
    )
    answer = why_not(brief, Demand(kind="back", exercise="machine_row", sets=4))
    assert answer.plan is not None
    assert any(e.exercise == "machine_row" and e.sets == 4 for s in answer.plan.sessions for e in s.entries)
    assert check(answer.plan.brief, answer.plan.sessions).holds


@pytest.mark.parametrize(
    ("text", "demand"),
    [
        ("back on thu at 18:00", Demand(kind="back", day=Day.THU, start=dt.time(18))),
        ("Legs at home", Demand(kind="legs", place="home")),
        ("legs at Spare room on Saturday", Demand(kind="legs", place="home", day=Day.SAT)),
        ("leg_press 4 sets in legs", Demand(kind="legs", exercise="leg_press", sets=4)),
        ("Leg press, 1 set", Demand(exercise="leg_press", sets=1)),
        ("9:05 back on mon", Demand(kind="back", day=Day.MON, start=dt.time(9, 5))),
        ("legs tue 18", Demand(kind="legs", day=Day.TUE, start=dt.time(18))),
        ("legs on tue at 9", Demand(kind="legs", day=Day.TUE, start=dt.time(9))),
        ("legs at 6pm", Demand(kind="legs", start=dt.time(18))),
        ("legs on Tuesday at 6:30 p.m.", Demand(kind="legs", day=Day.TUE, start=dt.time(18, 30))),
        ("legs on tue at 18.30", Demand(kind="legs", day=Day.TUE, start=dt.time(18, 30))),
        ("legs tue 12 am", Demand(kind="legs", day=Day.TUE, start=dt.time(0))),
        ("squat on mon", Demand(exercise="bodyweight_squat", day=Day.MON)),
        ("lat pulldowns 3 sets in back", Demand(kind="back", exercise="lat_pulldown", sets=3)),
        ("legs in spare", Demand(kind="legs", place="home")),
        ("nordic curl", Demand(exercise="nordic_leg_curl")),
    ],
)
def test_demands_are_read(text: str, demand: Demand) -> None:
    assert read_demand(text, instance_of(small())) == demand


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("bakc on thu", "'bakc' is no name"),
        ("back on thu on fri", "second day"),
        ("back legs", "second kind"),
        ("back at 18:00", "a start without a day"),
        ("back 3 sets", "sets of no exercise"),
        ("legs at 25:00", "25:00 is no clock time"),
        (f"leg press {'9' * 5000} sets", "what 9+ counts"),
        ("legs at 24", "24 is no clock time"),
        ("legs tue 13pm", "13pm is no clock time"),
        ("legs tue 18:60", "18:60 is no clock time"),
        ("legs tue at 9 at 10", "second start"),
        ("tue leg press 3", "it is not said what 3 counts. Write 3 sets"),
        ("leg on thu", "'leg' stands in several names. Did you mean 'legs', 'leg_press', 'leg_extension'"),
        ("bench on thu", "or 'reverse_back_extension'"),
        ("lower on thu", "'lower' is no name that is known here. The sessions of this brief: back, legs"),
        ("row 3 sets in upper", "'upper' is no name"),
        ("delts 10 sets", "Did you mean 'front_delts', 'side_delts' or 'rear_delts'?"),
        ("chest on mon", r"'chest' is a muscle group, .* Name a session \(back, legs\) or an exercise. Did you mean"),
        ("quads on mon", r"'quads' is a muscle, .* Name a session \(back, legs\) or an exercise.$"),
        ("on thu", "which kind"),
        ("", "nothing is asked for"),
    ],
)
def test_demands_that_cannot_be_used(text: str, words: str) -> None:
    instance = instance_of(small())
    with pytest.raises(InputError, match=words):
        with_demand(instance, read_demand(text, instance))


@pytest.mark.parametrize(
    ("text", "patch", "wish"),
    [
        ("lats 5 sets", {"goals": {"lats": {"least": 5}}}, True),
        ("14 sets of lats", {"goals": {"lats": {"least": 14, "aim": 14}}}, True),
        ("lats >= 16", {"goals": {"lats": {"least": 16, "aim": 16, "most": 16}}}, True),
        ("Quadriceps 9 sets", {"goals": {"quads": {"least": 9}}}, False),
        ("without pulldown", {"exercises": {"avoided": ["bodyweight_squat", "lat_pulldown"]}}, False),
        ("no leg press on mon", {"exercises": {"avoided": ["bodyweight_squat", "leg_press"]}}, False),
        ("no leg", {"exercises": {"avoided": ["bodyweight_squat", "leg_press", "leg_extension"]}}, False),
    ],
)
def test_what_another_question_answers_is_sent_there(text: str, patch: dict[str, Any], wish: bool) -> None:
    with pytest.raises(InputError) as caught:
        read_demand(text, instance_of(small()))
    advice = caught.value.faults[0].advice
    found = re.search(r'weekwright what-if BRIEF --set "(.*?)"', advice)
    assert found is not None
    assert set_patches(small(), [found[1]]) == {NO_NAME: patch}
    patched(small(), patch)  # raises where it cannot be asked as it stands
    named = re.search(r"weekwright why BRIEF --wish (\S+)$", advice)
    assert (named is not None) == wish
    if named is not None:
        check_question(small(), wish=named[1])


def test_an_exercise_without_a_kind_is_wanted_or_goes_where_it_fits() -> None:
    instance = instance_of(small())
    brief, switch = with_demand(instance, Demand(exercise="leg_press"))
    assert switch == "selection:wanted:leg_press"
    assert switch in brief.musts
    brief, switch = with_demand(instance, Demand(exercise="leg_press", sets=3))
    assert (switch, brief.pinned[0].kind) == ("pinned:0", "legs")
    with pytest.raises(InputError, match="unknown place"):
        with_demand(instance, Demand(kind="back", place="pool"))


def test_where_pins_leave_no_session_the_demand_takes_the_place_of_one() -> None:
    pins = [
        {"kind": "legs", "day": "mon", "start": "18:00", "exercises": [{"exercise": "leg_press"}]},
        {"kind": "back", "day": "thu"},
    ]
    brief = small(pinned=pins)
    asked, switch = with_demand(instance_of(brief), Demand(kind="legs", day=Day.TUE))
    assert switch == "pinned:0"
    assert (asked.pinned[0].day, asked.pinned[0].start) == (Day.TUE, None)
    assert asked.pinned[0].exercises[0].exercise == "leg_press"
    assert asked.pinned[1] == brief.pinned[1]
    answer = why_not(brief, Demand(kind="legs", day=Day.TUE))
    assert answer.sentence == "You ask for: Legs on Tuesday, instead of what is pinned."
    assert answer.plan is not None
    # The back has a session to spare: its pin stays.
    assert len(with_demand(instance_of(brief), Demand(kind="back", day=Day.MON))[0].pinned) == 3


def test_what_is_added_to_a_pin_is_not_instead_of_it() -> None:
    pins = [{"kind": "legs", "day": "mon", "exercises": [{"exercise": "leg_press", "sets": 3}]}]
    instance = instance_of(small(pinned=pins))
    for demand in (
        Demand(kind="legs", exercise="leg_extension"),
        Demand(kind="legs", day=Day.MON, start=dt.time(18)),
        Demand(kind="legs", exercise="leg_press", place="gym"),
    ):
        asked = with_demand(instance, demand)[0].pinned[0]
        assert asked.day is Day.MON
        assert ("leg_press", 3) in [(e.exercise, e.sets) for e in asked.exercises], "what is not asked stays"
        answer = why_not(small(pinned=pins), demand)
        assert answer.plan is not None
        assert "instead" not in answer.sentence
    fewer = why_not(small(pinned=pins), Demand(kind="legs", exercise="leg_press", sets=2))
    assert fewer.sentence == "You ask for: Leg press with 2 sets in Legs, instead of what is pinned."


@pytest.mark.parametrize(
    ("pins", "text", "sentence"),
    [
        ([], "legs on sun", "Legs is asked for on Sunday."),
        ([], "leg press 3 sets on sat", "Legs is asked for on Saturday with Leg press (3 sets)."),
        (
            [{"kind": "legs", "day": "mon", "exercises": [{"exercise": "leg_press"}]}],
            "legs at home",
            "Legs is asked for at Spare room, and pinned on Monday with Leg press.",
        ),
        ([{"kind": "legs", "day": "mon", "start": "18:00"}], "legs on sun", "Legs is asked for on Sunday."),
    ],
)
def test_a_conflict_tells_what_is_asked_from_what_is_pinned(pins: list[Any], text: str, sentence: str) -> None:
    brief = small(pinned=pins)
    answer = why_not(brief, read_demand(text, instance_of(brief)))
    assert answer.reasons is not None
    (conflict,) = answer.reasons.conflicts
    assert sentence in conflict.sentences
    assert [m.sentence for m in conflict.members if m.switch.startswith("pinned")] == [sentence]
