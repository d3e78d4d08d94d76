"""Why a week is impossible and what mends it: every claim shown again by a plain solve."""

from __future__ import annotations

import datetime as dt
import json
from itertools import chain, combinations
from pathlib import Path

import pytest
from click.testing import CliRunner

from scheduler.answers.conflicts import explain, explain_short
from scheduler.answers.merge_patch import merge_patch
from scheduler.answers.pose import Posing, conceding, until, witness
from scheduler.answers.subsets import enumerate_subsets, hits
from scheduler.briefs import read_brief
from scheduler.cli import main
from scheduler.domain.answers import Explanation
from scheduler.domain.brief import MOST_CONCESSION, Brief
from scheduler.domain.errors import InputError
from scheduler.domain.units import DAYS, Day
from scheduler.planning import instance_of, solve
from scheduler.rules import RULES
from scheduler.week.model import Week
from scheduler.week.solver import Limits, Verdict, search

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"

# Two sessions 48 h apart, Monday and Tuesday only: one hour a day, the same hour.
CLASH = {
    "week": {"start": "2026-11-30", "zone": "Europe/Berlin"},
    "places": {"gym": {"base": "full_gym"}},
    "openings": [{"day": ["mon", "tue"], "start": "18:00", "end": "19:00", "place": "gym"}],
    "kinds": {"pull": {"base": "pull", "per_week": 2, "sets": {"least": 4, "most": 8}}},
    "sessions": 2,
    "goals": {"lats": {"aim": 4}},
    "exercises": {"only": ["lat_pulldown", "seated_cable_row", "back_extension"]},
    "rules": {"spacing": {"pairs": [{"from": "pull", "to": "pull", "hours": 48}]}},
}


def brief(**patch: object) -> Brief:
    return Brief.model_validate(merge_patch(CLASH, patch))


def is_possible(asked: Brief) -> bool:
    """Whether there is a week, by the planner's model; how good it is does not matter."""
    outcome = search(Week(instance_of(asked)).model, None, Limits(), light=True)
    assert outcome.verdict is not Verdict.UNKNOWN, "not found out"
    return bool(outcome.solution)


def switches(found: Explanation) -> list[set[str]]:
    return [{m.switch for m in c.members} for c in found.conflicts]


def changes(found: Explanation) -> dict[str, str]:
    """What the mends say, by switch."""
    return {c.switch: c.sentence for m in found.mends for c in m.changes}


def assert_mends_hold(asked: Brief, found: Explanation) -> None:
    """Every mend works; with any amount one unit smaller, the others as they are, none does: by plain solves."""
    for mend in found.mends:
        assert mend.verified
        assert mend.minimal
        assert is_possible(Brief.model_validate(merge_patch(asked.model_dump(mode="json"), mend.patch)))
        for switch, amount in mend.patch["concessions"].items():
            less = {**mend.patch["concessions"], switch: amount - 1}
            assert not is_possible(conceding(asked, {name: n for name, n in less.items() if n}))
    assert [m.cost for m in found.mends] == sorted(m.cost for m in found.mends)
    touched = [frozenset(m.patch["concessions"]) for m in found.mends]
    assert not any(one <= other for one, other in combinations(touched, 2))


def test_a_conflict_is_irreducible_and_every_mend_works_and_is_minimal() -> None:
    asked = brief()
    assert not is_possible(asked)
    found = explain(asked, budget_seconds=60)
    assert found.possible is False
    assert found.conflicts
    for conflict in found.conflicts:
        assert conflict.verified
        assert conflict.confirmed
    members = {m.switch for c in found.conflicts for m in c.members}
    assert "spacing:pull-pull" in members
    assert any("48 h" in m.sentence for c in found.conflicts for m in c.members)
    assert found.mends
    assert_mends_hold(asked, found)


def test_a_conflict_that_many_more_sessions_would_solve_names_their_number() -> None:
    """Sixteen sets of four a session: three sessions more than the one that is asked for would give them."""
    kind = {
        "base": "push",
        "per_week": 1,
        "required": [],
        "patterns": ["horizontal_push"],
        "sets": {"least": 2, "most": 4},
        "minutes": {"least": 5, "most": 60},
    }
    goal = {"least": 16, "aim": 16, "most": 20, "frequency": {"least": 0, "most": 7}, "recovery_hours": 0}
    asked = brief(
        openings=[{"day": ["tue", "wed", "thu", "fri", "sat"], "start": "08:00", "end": "09:00", "place": "gym"}],
        kinds={"pull": None, "push": kind},
        sessions={"least": 1, "most": 7},
        goals={"lats": None, "pectorals": {**goal, "session_cap": 10}},
        exercises=None,
        rules={
            "spacing": None,
            "stand_in": {"mode": "off"},
            "rest_days": {"mode": "off"},
            "recovery": {"others": "off"},
        },
        musts=["weekly_sets:least:pectorals"],
    )
    assert is_possible(conceding(asked, {"session_count:kind:push": 3}))
    found = explain(asked, budget_seconds=60, most_conflicts=9, most_mends=9)
    assert switches(found) == [
        {"session_count:kind:push", "session_size:sets_most:push", "weekly_sets:least:pectorals"}
    ]
    assert all(c.verified and c.confirmed for c in found.conflicts)
    assert not found.every_conflict
    assert not found.every_mend
    assert not found.truncated


def test_a_day_that_a_mend_opens_is_trained_on_at_the_usual_hours() -> None:
    """Common practice: who trains from six in the evening is not asked to come at midnight because a day is new."""
    asked = brief()
    (mend,) = explain(asked, budget_seconds=60, most_mends=1).mends
    (opened,) = mend.patch["concessions"]
    plan = solve(Brief.model_validate(merge_patch(asked.model_dump(mode="json"), mend.patch)))
    (new,) = (s for s in plan.sessions if f"opening:{DAYS[s.start.weekday()].value}" == opened)
    assert new.start.weekday() not in (0, 1)
    assert dt.time(18, 0) <= new.start.time() < new.end.time() <= dt.time(22, 0)


def test_an_opening_at_another_place_is_none_for_a_session() -> None:
    """Tuesday is open at home only, and pulls are for the gym: then the gym has to open on that day."""
    asked = brief(
        places={"gym": {"name": "Mill gym", "base": "full_gym"}, "home": {"base": "home_bodyweight"}},
        openings=[
            {"day": "mon", "start": "18:00", "end": "19:00", "place": "gym"},
            {"day": "tue", "start": "18:00", "end": "19:00", "place": "home"},
        ],
        kinds={"pull": {"places": ["gym"]}},
        rules={"spacing": None},
        goals={"lats": {"recovery_hours": 0}},
    )
    others = [f"opening:{day.value}" for day in DAYS if day is not Day.TUE]
    found = explain(asked, budget_seconds=60, protected=others, most_mends=9)
    assert changes(found)["opening:tue"].startswith("Mill gym opened on Tuesday for at least ")


def test_a_possible_week_has_no_conflict() -> None:
    found = explain(brief(rules={"spacing": None}, goals={"lats": {"recovery_hours": 0}}), budget_seconds=30)
    assert found.possible
    assert found.conflicts == ()


def test_a_demand_that_no_session_can_hold_says_so_instead_of_these_clash() -> None:
    """A week of the upper body alone: nothing clashes, only the pattern that stands in for squats is missing."""
    asked = brief(
        kinds={"pull": {"per_week": 1, "patterns": ["horizontal_pull", "vertical_pull"]}},
        sessions=1,
        rules={"spacing": None, "stand_in": {"mode": "must"}},
    )
    (conflict,) = explain(asked, budget_seconds=30).conflicts
    (sentence,) = conflict.sentences
    assert "trunk_extension" in sentence
    assert "no kind of session offers" in sentence
    assert conflict.told.startswith("this cannot hold")


def test_a_caution_is_never_given_up() -> None:
    """Only an exercise that the shoulder caution rules out is left for the required pattern."""
    asked = brief(
        lifter={"cautions": ["lower_back"]},
        kinds={"pull": {"per_week": 1, "patterns": ["hinge"], "required": ["hinge"], "lower_body": True}},
        sessions=1,
        exercises={"only": ["conventional_deadlift"]},
        rules={"spacing": None, "stand_in": {"mode": "off"}},
    )
    found = explain(asked, budget_seconds=30)
    assert found.possible is False
    touched = {change.rule for mend in found.mends for change in mend.changes}
    assert "cautions" not in touched
    assert not any(c.switch == "lower_back:supported_only" for m in found.mends for c in m.changes)


def test_the_impossible_scenario_has_several_conflicts() -> None:
    """Each is irreducible, and none holds another: each shown by plain solves with everything else conceded."""
    asked = read_brief(SCENARIOS / "impossible.yaml")
    found = explain(asked, budget_seconds=60, most_mends=0)
    assert len(found.conflicts) == 3
    names = Posing(asked, until(60)).names

    def together(members: set[str]) -> bool | None:
        return witness(conceding(asked, {n: MOST_CONCESSION for n in names if n not in members}), until(60)).possible

    for members in switches(found):
        assert together(members) is False
        assert all(together(members - {one}) for one in members)
    assert not any(one <= other for one, other in combinations(switches(found), 2))
    assert found.conflicts[1].sentences[0] == "Saturday and Sunday have no opening."


@pytest.mark.parametrize(("aim", "code"), [(4, 0), (18, 3)])
def test_the_command_says_whether_a_wish_can_be_met(tmp_path: Path, aim: int, code: int) -> None:
    path = tmp_path / "brief.json"
    asked = brief(rules={"spacing": None}, goals={"lats": {"aim": aim, "recovery_hours": 0}})
    path.write_text(asked.model_dump_json(), encoding="utf-8")
    command = ["why", str(path), "--seconds", "60", "--wish", "weekly_sets:aim:lats"]
    assert CliRunner().invoke(main, command).exit_code == code
    command[3] = "0"
    assert CliRunner().invoke(main, command).exit_code == 4, "out of time it is not known"


def test_a_wish_that_falls_short_is_explained() -> None:
    asked = brief(rules={"spacing": None}, goals={"lats": {"aim": 18, "recovery_hours": 0}})
    short = explain_short(asked, "weekly_sets:aim:lats", budget_seconds=60)
    assert short.can_be_met is False
    assert short.explanation.mends
    for mend in short.explanation.mends:
        raised = asked.model_copy(update={"musts": ("weekly_sets:aim:lats",), "concessions": mend.patch["concessions"]})
        assert is_possible(raised)
    with pytest.raises(InputError):
        explain_short(asked, "weekly_sets:aim:latz", budget_seconds=1)


def test_the_command(tmp_path: Path) -> None:
    path = tmp_path / "brief.json"
    path.write_text(json.dumps(CLASH), encoding="utf-8")
    result = CliRunner().invoke(main, ["why", str(path), "--seconds", "60"])
    assert result.exit_code == 3, result.output
    assert "48 h" in result.output
    assert "proved to work" in result.output
    assert CliRunner().invoke(main, ["why", str(path), "--cost", "opening"]).exit_code == 2
    assert CliRunner().invoke(main, ["why", str(path), "--seconds", "0"]).exit_code == 4
    answer = CliRunner().invoke(main, ["why", str(path), "--seconds", "60", "--json"])
    assert json.loads(answer.stdout)["possible"] is False


# --- the impossible scenario --------------------------------------------------------------------------------------


def test_the_impossible_scenario_and_three_ways_out() -> None:
    asked = read_brief(SCENARIOS / "impossible.yaml")
    found = explain(asked, budget_seconds=60, most_conflicts=1)
    assert not found.truncated
    assert found.conflicts[0].sentences == (
        "You can only train Monday to Thursday.",
        "At most 1 session a day.",
        "Exactly 3 Back sessions a week.",
        "Exactly 2 Legs sessions a week.",
    )
    # Five sessions, one a day, four days.
    assert switches(found) == [
        {
            *("opening:fri", "opening:sat", "opening:sun", "sessions_a_day:most"),
            *("session_count:kind:back", "session_count:kind:legs"),
        }
    ]
    assert [m.sentence for m in found.conflicts[0].members][-2:] == [
        "Exactly 3 Back sessions a week.",
        "Exactly 2 Legs sessions a week.",
    ]
    assert len(found.mends) == 3
    assert len({frozenset(c.rule for c in m.changes) for m in found.mends}) == 3, "they differ in kind"
    assert_mends_hold(asked, found)
    assert changes(found)["session_count:kind:back"] == "2 Back sessions instead of 3"
    # Dearer openings turn the order round.
    dear = explain(asked, budget_seconds=60, most_conflicts=1, most_mends=1, costs={"opening": 500})
    assert "opening" not in {c.rule for c in dear.mends[0].changes}
    assert_mends_hold(asked, dear)


def test_ways_out_that_open_fewer_days_come_before_other_days() -> None:
    """Two days of three are closed: open both, for less time with a shorter session, or one with another change; not
    three pairs of days."""
    asked = read_brief(SCENARIOS / "busy_parent_pairs.yaml")
    openings = [o.model_copy(update={"day": (Day.TUE,)}) for o in asked.openings if Day.TUE in o.day]
    shut = asked.model_copy(update={"openings": tuple(openings)})
    found = explain(shut, budget_seconds=60, most_conflicts=1)
    opened = [sum(c.rule == "opening" for c in m.changes) for m in found.mends]
    assert opened == [2, 2, 1]
    assert len({frozenset(c.rule for c in m.changes) for m in found.mends}) == 3
    assert_mends_hold(shut, found)


# --- against a naive twin -----------------------------------------------------------------------------------------


def test_conflicts_and_corrections_of_a_tiny_week_are_those_of_a_naive_twin_and_dual() -> None:
    """The twin tries every subset of six musts in the plain model, with the other five conceded as far as can be."""
    asked = brief()
    posing = Posing(asked, until(60))
    tried = (
        *("opening:wed", "opening:thu", "sessions_a_day:most"),
        *("session_count:kind:pull", "spacing:pull-pull", "recovery:lats"),
    )
    assert set(tried) <= set(posing.names)
    always = frozenset(posing.names) - set(tried)
    found = enumerate_subsets(tried, lambda chosen: posing.holds(chosen | always))
    assert found.complete
    subsets = [frozenset(c) for c in chain.from_iterable(combinations(tried, n) for n in range(len(tried) + 1))]
    holding = {
        chosen
        for chosen in subsets
        if witness(conceding(asked, {n: MOST_CONCESSION for n in tried if n not in chosen}), until(60)).possible
    }
    clashing = set(subsets) - holding
    assert {frozenset(c.members) for c in found.conflicts} == {
        s for s in clashing if not any(other < s for other in clashing)
    }
    assert set(found.corrections) == {frozenset(tried) - s for s in holding if not any(s < other for other in holding)}
    assert all(hits(c.members, found.corrections) for c in found.conflicts)
    assert all(hits(k, [c.members for c in found.conflicts]) for k in found.corrections)


# --- what a mend may be -------------------------------------------------------------------------------------------


def test_a_busy_event_is_to_blame_and_can_be_moved() -> None:
    meeting = {"title": "Board meeting", "start": "2026-11-30T18:20", "end": "2026-11-30T19:30"}
    asked = brief(
        openings=[{"day": "mon", "start": "18:00", "end": "19:30", "place": "gym"}],
        busy=[meeting],
        kinds={"pull": {"per_week": 1, "sets": {"least": 4, "most": 20}, "minutes": {"least": 45, "most": 60}}},
        sessions=1,
        rules={"spacing": None},
    )
    found = explain(asked, budget_seconds=60, costs={"busy": 1}, protected=["session_size:minutes_least:pull"])
    (event,) = {m.switch: m.sentence for c in found.conflicts for m in c.members if m.rule == "busy"}.items()
    assert event == ("busy:mon-1820", "“Board meeting”, Monday 18:20 to 19:30, stays clear.")
    assert [c.sentence for c in found.mends[0].changes] == ["“Board meeting” moved 25 min out of the way"]
    assert_mends_hold(asked, found)


def test_equipment_is_to_blame_and_named() -> None:
    asked = brief(
        places={"gym": {"base": None, "equipment": {"dumbbells": {}, "bench": {}}}},
        kinds={"pull": {"per_week": 1, "required": ["vertical_pull"], "sets": {"least": 1, "most": 8}}},
        sessions=1,
        exercises={"only": ["lat_pulldown", "one_arm_dumbbell_row"]},
        rules={"spacing": None, "stand_in": {"mode": "off"}},
    )
    found = explain(asked, budget_seconds=60, costs={"coverage": 900, "session_count": 900})
    assert {"equipment:gym"} <= set().union(*switches(found))
    assert changes(found)["equipment:gym"] == "Gym equipped for: Lat pulldown, wide overhand grip"
    assert_mends_hold(asked, found)


def test_what_is_protected_is_left_alone() -> None:
    asked = brief()
    free = explain(asked, budget_seconds=60)
    protected = next(iter(changes(free)))
    kept = explain(asked, budget_seconds=60, protected=[protected])
    assert protected not in changes(kept)
    assert_mends_hold(asked, kept)


def test_where_days_and_counts_are_protected_hours_give_way() -> None:
    """By hand: half an hour from six on Monday, half an hour up to seven on Tuesday; 24 h lie between."""
    asked = brief(goals={"lats": {"recovery_hours": 0}}, kinds={"pull": {"minutes": {"least": 30, "most": 60}}})
    protected = [*(f"opening:{day.value}" for day in DAYS), "session_count:all", "session_count:kind:pull"]
    found = explain(asked, budget_seconds=60, most_mends=1, protected=protected)
    assert changes(found)["spacing:pull-pull"] == "Pull sessions 24 h apart instead of 48 h"
    assert_mends_hold(asked, found)


@pytest.mark.parametrize(
    "options",
    [{"costs": {"openings": 3}}, {"costs": {"opening": 0}}, {"protected": ["opening:xyz"]}],
    ids=str,
)
def test_unknown_names_are_refused(options: dict[str, object]) -> None:
    with pytest.raises(InputError):
        explain(brief(), budget_seconds=10, **options)  # type: ignore[arg-type]


def test_a_mend_goes_on_from_what_the_brief_concedes_already() -> None:
    asked = brief(goals={"lats": {"recovery_hours": 0}})
    dear = {"opening": 5000, "session_count": 5000}
    (whole,) = explain(asked, budget_seconds=60, costs=dear, most_mends=1).mends
    assert set(whole.patch["concessions"]) == {"spacing:pull-pull"}
    part = conceding(asked, {"spacing:pull-pull": 120})
    (rest,) = explain(part, budget_seconds=60, costs=dear, most_mends=1).mends
    assert rest.patch == whole.patch, "amounts are counted from what the brief asks"
    assert rest.cost == whole.cost - 120, "only what is added is paid"
    assert rest.changes[0].sentence == whole.changes[0].sentence


@pytest.mark.parametrize("path", sorted(SCENARIOS.glob("*.yaml")), ids=lambda p: p.stem)
def test_what_gives_way_is_said_in_words(path: Path) -> None:
    """Every must says what giving way by one or two units means; one in the words of its rule wherever it can."""
    instance = instance_of(read_brief(path))
    for rule in RULES:
        for switch in rule.active_switches(instance):
            one, two = switch.mend_text(1), switch.mend_text(2)
            assert one.strip() == one
            assert one
            assert two
            assert "{" not in one + two
            if switch.mend is not None:
                assert one != two or rule.key == "selection"
                assert not one.endswith(".")


def test_a_wish_that_can_be_met_has_a_price() -> None:
    """Eight sets a week: what the erectors get is taken from the lats."""
    asked = brief(
        kinds={"pull": {"per_week": 1, "sets": {"least": 4, "most": 8}}},
        sessions=1,
        goals={"lats": {"aim": 8, "priority": 1}, "erectors": {"least": 0, "aim": 3}},
        rules={"spacing": None, "stand_in": {"mode": "off"}},
    )
    short = explain_short(asked, "weekly_sets:aim:erectors", budget_seconds=60)
    assert short.can_be_met
    assert short.prices
    assert short.prices[0].after > short.prices[0].before
    assert short.gives_way
    assert "weekly_sets:aim:erectors" not in {g.switch for g in short.gives_way}


def test_a_wish_is_not_to_blame_for_an_impossible_week() -> None:
    short = explain_short(brief(), "weekly_sets:aim:lats", budget_seconds=60, most_conflicts=1)
    assert short.can_be_met is False
    assert "weekly_sets:aim:lats" not in set().union(*switches(short.explanation))


def test_an_impossible_plan_says_why_at_once(tmp_path: Path) -> None:
    path = tmp_path / "brief.json"
    path.write_text(json.dumps(CLASH), encoding="utf-8")
    result = CliRunner().invoke(main, ["plan", str(path)])
    assert result.exit_code == 3
    assert "48 h" in result.output
    assert "Ways out" in result.output
    kept = CliRunner().invoke(main, ["why", str(path), "--keep", "opening:wed", "--cost", "touch=1", "--mends", "1"])
    assert kept.exit_code == 3
    assert '"opening:wed"' not in kept.output
    assert CliRunner().invoke(main, ["why", str(path), "--keep", "opening:noday"]).exit_code == 2
