"""What a brief may say of the rules, and what it is told when it says something else."""

from __future__ import annotations

from typing import Any

import pytest

from scheduler.data import load_catalogue
from scheduler.domain.brief import Brief
from scheduler.domain.errors import Fault, InputError
from scheduler.domain.plan import Mode, Zone
from scheduler.planning import instance_of
from scheduler.rules import RULES
from scheduler.rules.settings import rule_settings

KIND = {"patterns": ["squat"], "sets": 3, "minutes": 30, "per_week": 1}


def brief(rules: dict[str, Any], **parts: Any) -> Brief:
    return Brief.model_validate(
        {
            "week": {"start": "2026-03-02"},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [{"day": "mon", "start": "18:00", "end": "19:00", "place": "gym"}],
            "kinds": {"legs": KIND, "pull": KIND},
            "sessions": 2,
            "rules": rules,
            **parts,
        }
    )


def faults(rules: dict[str, Any]) -> tuple[Fault, ...]:
    with pytest.raises(InputError) as caught:
        rule_settings(brief(rules), load_catalogue())
    return tuple(caught.value.faults)


def test_every_rule_has_its_defaults_in_a_brief_that_says_nothing() -> None:
    settings = rule_settings(brief({}), load_catalogue())
    assert list(settings) == [rule.key for rule in RULES]
    instance = instance_of(brief({}))
    for rule in RULES:
        assert rule.mode(instance) is rule.default_mode
        assert rule.weight(instance) > 0, "a breach of a wish costs something"


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.key)
def test_off_leaves_no_switch(rule: Any) -> None:
    assert list(rule.active_switches(instance_of(brief({rule.key: {"mode": "off"}})))) == []


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.key)
def test_a_weight_is_taken(rule: Any) -> None:
    assert rule.weight(instance_of(brief({rule.key: {"weight": 37}}))) == 37


def test_a_weak_point_costs_more() -> None:
    instance = instance_of(brief({}, goals={"quads": {"priority": 1}, "glutes": {}}))
    weights = {s.id: s.weight for rule in RULES for s in rule.switches(instance) if rule.key == "weekly_sets"}
    assert weights["weekly_sets:aim:quads"] > weights["weekly_sets:aim:glutes"]


def test_an_unknown_rule_is_named_with_the_nearest() -> None:
    (fault,) = faults({"recovry": {"mode": "off"}})
    assert fault.path == "rules.recovry"
    assert "recovry" in str(fault)
    assert "recovery" in str(fault)


@pytest.mark.parametrize(
    ("rules", "path", "says"),
    [
        (
            {"spacing": {"pairs": [{"from": "leg", "to": "pull", "hours": 48}]}},
            "rules.spacing.pairs[0].from",
            "unknown session kind 'leg'",
        ),
        (
            {"spacing": {"pairs": [{"from": "legs", "to": "pul", "hours": 48}]}},
            "rules.spacing.pairs[0].to",
            "unknown session kind 'pul'",
        ),
        (
            {
                "spacing": {
                    "pairs": [{"from": "legs", "to": "pull", "hours": 24}, {"from": "pull", "to": "legs", "hours": 48}]
                }
            },
            "rules.spacing.pairs[1]",
            "spaced twice",
        ),
        (
            {"spacing": {"pairs": [{"from": "legs", "to": "pull", "hours": -1}]}},
            "rules.spacing.pairs[0].hours",
            "too small",
        ),
        (
            {"spacing": {"pairs": [{"from": "legs", "to": "pull", "hours": 169}]}},
            "rules.spacing.pairs[0].hours",
            "too large",
        ),
        ({"coverage": {"week_patterns": ["squats"]}}, "rules.coverage.week_patterns", "unknown pattern 'squats'"),
        ({"rest_days": {"least": -1}}, "rules.rest_days.least", "too small"),
        ({"rest_days": {"least": 8}}, "rules.rest_days.least", "too large"),
        ({"rest_days": {"in_a_row": 0}}, "rules.rest_days.in_a_row", "too small"),
        ({"sessions_a_day": {"most": 0}}, "rules.sessions_a_day.most", "too small"),
        ({"sessions_a_day": {"hours_apart": -0.5}}, "rules.sessions_a_day.hours_apart", "too small"),
        ({"stand_in": {"sets": 0}}, "rules.stand_in.sets", "too small"),
        ({"lower_back": {"session_budget": -1}}, "rules.lower_back.session_budget", "too small"),
        ({"lower_back": {"two_day_budget": -1}}, "rules.lower_back.two_day_budget", "too small"),
        ({"ramp": {"percent": -1}}, "rules.ramp.percent", "too small"),
        ({"ramp": {"before_missed": {"quadz": 9}}}, "rules.ramp.before_missed", "unknown muscle or group"),
        ({"variety": {"grips": -1}}, "rules.variety.grips", "too small"),
        ({"pairing": {"least_pairs": -1}}, "rules.pairing.least_pairs", "too small"),
        ({"order": {"weight": -1}}, "rules.order.weight", "too small"),
        ({"rep_mix": {"lean": "hevy"}}, "rules.rep_mix.lean", "hevy"),
        ({"early_and_fresh": {"latest": "someday"}}, "rules.early_and_fresh.latest", "someday"),
        ({"recovery": {"mode": "perhaps"}}, "rules.recovery.mode", "perhaps"),
        ({"recovery": {"hours": 48}}, "rules.recovery.hours", "hours"),
    ],
    ids=lambda value: value if isinstance(value, str) and value.startswith("rules.") else "",
)
def test_wrong_numbers_and_names_are_refused(rules: dict[str, Any], path: str, says: str) -> None:
    (fault,) = faults(rules)
    assert fault.path == path
    assert says in str(fault)


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.measure], ids=lambda rule: rule.key)
def test_what_is_only_kept_small_cannot_be_a_must(rule: Any) -> None:
    (fault,) = faults({rule.key: {"mode": "must"}})
    assert fault.path == f"rules.{rule.key}.mode"
    assert "cannot be a must" in fault.problem
    assert "wish" in fault.advice


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.must_only], ids=lambda rule: rule.key)
def test_what_the_planner_makes_nothing_else_of_cannot_be_a_wish(rule: Any) -> None:
    (fault,) = faults({rule.key: {"mode": "wish"}})
    assert fault.path == f"rules.{rule.key}.mode"
    assert "cannot be a wish" in fault.problem
    assert fault.advice == "Write must or off"
    assert instance_of(brief({rule.key: {"mode": "must"}}))


def test_all_faults_come_at_once() -> None:
    found = faults(
        {
            "recovry": {},
            "rest_days": {"least": -1},
            "coverage": {"week_patterns": ["squats", "squat", "lunges"]},
            "spacing": {"pairs": [{"from": "a", "to": "b", "hours": 48}]},
        }
    )
    assert sorted(fault.path for fault in found) == [
        "rules.coverage.week_patterns",
        "rules.coverage.week_patterns",
        "rules.recovry",
        "rules.rest_days.least",
        "rules.spacing.pairs[0].from",
        "rules.spacing.pairs[0].to",
    ]


@pytest.mark.parametrize("ends", ["least", "aim", "most"])
def test_weekly_sets_have_a_mode_for_each_end(ends: str) -> None:
    instance = instance_of(brief({"weekly_sets": {ends: "off"}}, goals={"quads": {}}))
    rule = next(r for r in RULES if r.key == "weekly_sets")
    shown = {s.id: s.mode for s in rule.active_switches(instance)}
    every = {"least": Mode.WISH, "aim": Mode.WISH, "most": Mode.MUST}
    assert shown == {f"weekly_sets:{end}:quads": mode for end, mode in every.items() if end != ends}


@pytest.mark.parametrize(
    ("row", "value", "source"),
    [
        # ACSM 2009 (Ratamess et al., Med Sci Sports Exerc 41:687-708).
        ("sessions_novice", (2, 3), "Ratamess"),
        ("sessions_intermediate", (3, 4), "Ratamess"),
        ("sessions_advanced", (4, 5), "Ratamess"),
        # McLester et al. 2003, J Strength Cond Res 17:259-73.
        ("recovery_hours", 48, "McLester"),
        ("recovery_hours_50_plus", 72, "McLester"),
        # Iversen et al. 2021, Sports Med 51:2079-95.
        ("weekly_sets_least", 4, "Iversen"),
        # Remmert et al. 2025, preprint.
        ("session_sets_cap", 11, "Remmert"),
        # Pelland et al. 2024: an indirect set counts a half, two quarters.
        ("indirect_share_quarters", 2, "Pelland"),
    ],
)
def test_published_defaults(row: str, value: object, source: str) -> None:
    evidence = load_catalogue().evidence[row]
    assert evidence.value == value
    assert source in evidence.source


def test_a_measure_is_no_must_by_name_either() -> None:
    with pytest.raises(InputError, match="merely kept small"):
        instance_of(brief({}, musts=["short_sessions"]))


def test_faults_of_records_name_them_by_where_they_stand() -> None:
    """Written out of order: the later one first."""
    late = {"kind": "legs", "start": "2026-03-04T18:00", "minutes": 60}
    early = {"kind": "pull", "start": "2026-03-04T17:30", "minutes": 60}
    outside = {"kind": "legs", "start": "2026-03-20T18:00", "minutes": 60}
    with pytest.raises(InputError) as caught:
        instance_of(brief({}, done=[late, early]))
    assert [(f.path, f.problem) for f in caught.value.faults] == [("done[0]", "overlaps with done[1]")]
    with pytest.raises(InputError) as caught:
        instance_of(brief({}, done=[outside, early]))
    assert [f.path for f in caught.value.faults] == ["done[0].start"]
    recent, old = "2026-02-27T18:00", "2026-02-01T18:00"
    history = [{"kind": "legs", "start": start, "minutes": 60} for start in (recent, old)]
    with pytest.raises(InputError) as caught:
        instance_of(brief({}, history=history))
    assert [f.path for f in caught.value.faults] == ["history[1].start"]


def test_a_lift_of_many_reps_is_called_a_rough_guess() -> None:
    """Reynolds, Gordon and Robergs 2006 (J Strength Cond Res 20:584-92): no more than 10 reps."""
    lifts = [
        {"exercise": "barbell_back_squat", "load_kg": 80, "reps": 10},
        {"exercise": "leg_press", "load_kg": 120, "reps": 9, "reps_in_reserve": 2},
    ]
    (note,) = instance_of(brief({}, lifter={"lifts": lifts})).notes
    assert note.startswith("Leg press: its loads are a rough guess, from a set that would fail after 11 reps")
    without = brief({}, lifter={"lifts": lifts}, exercises={"avoided": ["leg_press"]})
    assert not any("Leg press" in note for note in instance_of(without).notes)


def test_no_load_far_above_what_was_lifted_is_told_from_many_reps() -> None:
    """ACSM 2009: loads rise by 2 to 10 %. 60 kg for 20 with 5 left says little of five reps, by formula 85 kg."""
    lifts = [
        {"exercise": "leg_press", "load_kg": 60, "reps": 20, "reps_in_reserve": 5},
        {"exercise": "barbell_back_squat", "load_kg": 80, "reps": 5, "reps_in_reserve": 2},
    ]
    offers = instance_of(brief({}, lifter={"lifts": lifts})).offers
    (press,) = {offer.load_grams for (key, _, zone), offer in offers.items() if (key, zone) == ("leg_press", "heavy")}
    assert press == 65_000, "60 kg and a tenth, in steps of 5"
    loads = {offer.load_grams for (key, _, _), offer in offers.items() if key == "leg_press"}
    assert all(load is not None and load <= 66_000 for load in loads)
    squats = [offer.load_grams for (key, _, _), offer in offers.items() if key == "barbell_back_squat"]
    assert squats
    assert None not in squats


def test_a_lift_that_no_place_can_load_is_told() -> None:
    """A zero too many shuts the exercise out: that must not go unsaid."""
    typed = {"exercise": "dumbbell_bench_press", "load_kg": 300, "reps": 8}
    (note,) = [n for n in instance_of(brief({}, lifter={"lifts": [typed]})).notes if "mistyped" in n]
    assert "300 kg for 8 reps" in note
    right = {**typed, "load_kg": 30}
    assert not any("mistyped" in n for n in instance_of(brief({}, lifter={"lifts": [right]})).notes)


def test_a_session_that_is_longer_than_any_is_refused() -> None:
    kinds = {"legs": {**KIND, "minutes": {"least": 245, "most": 300}}}
    with pytest.raises(InputError, match=r"kinds\.legs\.minutes: no session can last 245 minutes"):
        instance_of(brief({}, kinds=kinds, sessions=1))
    assert instance_of(brief({}, kinds={"legs": {**KIND, "minutes": {"least": 240, "most": 300}}}, sessions=1))


def test_no_two_pairs_of_kinds_share_a_switch() -> None:
    """A name may hold the hyphen that joins two of them."""
    pairs = [("push-a", "b"), ("push", "a-b"), ("push\\", "a-b"), ("push-a\\", "b")]
    kinds = {name: KIND for pair in pairs for name in pair}
    spacing = {"pairs": [{"from": one, "to": other, "hours": 20} for one, other in pairs]}
    instance = instance_of(brief({"spacing": spacing}, kinds=kinds))
    names = [switch.id for rule in RULES if rule.key == "spacing" for switch in rule.switches(instance)]
    assert len(set(names)) == len(pairs)


def test_of_what_hangs_on_the_belt_no_load_is_told_for_more_reps() -> None:
    """A body of 75 kg and 20 kg for six reps to failure: Epley gives 95 * 1.2 / 1.4 - 75 = 6.4 kg for twelve, of the
    belt alone 17 kg, with which it fails after seven."""
    lifts = [{"exercise": "weighted_pull_up", "load_kg": 20, "reps": 5, "reps_in_reserve": 1}]
    found = instance_of(brief({}, lifter={"lifts": lifts}))
    loads = {zone: offer.load_grams for (key, _, zone), offer in found.offers.items() if key == "weighted_pull_up"}
    assert loads[Zone.MODERATE] is None
    assert loads[Zone.HEAVY] is None or loads[Zone.HEAVY] <= 20_000
    assert any(
        note.startswith("Weighted pull-up: what hangs on the belt is a part of the load") for note in found.notes
    )
