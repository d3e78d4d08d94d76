"""Tiny briefs in which rules meet, solved in earnest: the referee must confirm what the solver says.

``planning.solve`` raises RefereeDisagreement where they differ; every brief here once made them, or could.
"""

from __future__ import annotations

from typing import Any

from rule_world import KINDS, MONDAY, OPEN_ALWAYS, merged

from scheduler import planning
from scheduler.domain.brief import Brief
from scheduler.domain.plan import Plan, PlannedSession, PlanStatus, Role
from scheduler.rules import RULES


def solved(patch: dict[str, Any], **rules: dict[str, Any]) -> Plan:
    base = {
        "week": {"start": MONDAY.isoformat()},
        "places": {"gym": {"base": "full_gym"}},
        "openings": OPEN_ALWAYS,
        "sessions": {"least": 0, "most": 7},
        "prescription": {"sets_per_exercise": {"least": 3, "most": 3}},
    }
    off = {rule.key: {"mode": "off"} for rule in RULES if rule.tier == 1}
    musts = {key: {} for key in ("opening", "order", "prescription", "session_count", "session_size")}
    plan = planning.solve(Brief.model_validate({**merged(base, patch), "rules": {**off, **musts, **rules}}))
    assert plan.status is PlanStatus.OPTIMAL
    return plan


def kind(name: str, number: int, sets: int, **more: Any) -> dict[str, Any]:
    return {name: {**KINDS[name], "per_week": number, "sets": sets, "minutes": {"least": 0, "most": 235}, **more}}


def breach(plan: Plan, switch: str) -> int:
    return next(f.breach for r in plan.rules for f in r.findings if f.switch == switch)


def test_a_partner_of_a_pinned_exercise_stands_beside_it() -> None:
    pin = {"kind": "upper", "exercises": [{"exercise": "cable_curl"}], "in_this_order": True}
    plan = solved(
        {
            "kinds": kind("upper", 1, 9),
            "pinned": [pin],
            "exercises": {"only": ["cable_curl", "lying_triceps_extension", "machine_row"]},
        },
        pairing={"mode": "must"},
        pinned={},
    )
    (session,) = plan.sessions
    assert [entry.exercise for entry in session.entries] == ["cable_curl", "lying_triceps_extension", "machine_row"]
    assert breach(plan, "order") == 0


PINNED = ("cable_curl", "machine_row", "lying_triceps_extension")


def in_this_order(mode: str) -> Plan:
    """Three exercises in a pinned order, of which the first and the last could be partners."""
    pin = {"kind": "upper", "exercises": [{"exercise": key} for key in PINNED], "in_this_order": True}
    return solved(
        {"kinds": kind("upper", 1, 9), "pinned": [pin], "exercises": {"only": list(PINNED)}},
        pairing={"mode": mode},
        pinned={},
    )


def test_no_pair_takes_a_pinned_exercise_out_of_its_order() -> None:
    plan = in_this_order("wish")
    assert tuple(entry.exercise for entry in plan.sessions[0].entries) == PINNED
    assert breach(plan, "pairing") == 1


def test_a_pinned_order_is_checked() -> None:
    plan = in_this_order("off")
    session = plan.sessions[0]
    turned = session.model_copy(update={"entries": session.entries[::-1]})
    found = planning.check(plan.brief, [turned])
    assert not found.holds
    assert breach(found.plan, "pinned:0") == 1


def test_pairs_fit_whichever_like_exercise_is_dealt() -> None:
    # Straps and bands are alike to every rule but this one: two exercises cannot share the one pair of straps.
    names = ["band_seated_row", "suspension_row", "suspension_push_up", "band_push_up"]
    # Rows are dealt in three sessions and presses in two, so the two classes get out of step.
    kinds = {**kind("upper", 2, 6, days=["mon", "wed"]), **kind("pull", 1, 3, days=["tue"])}
    plan = solved({"kinds": kinds, "exercises": {"only": names}}, pairing={"mode": "wish"}, sessions_a_day={})
    assert len(plan.sessions) == 3
    for session in plan.sessions:
        used = {entry.exercise for entry in session.entries if entry.pair is not None}
        assert used != {"suspension_row", "suspension_push_up"}


def test_planes_are_told_apart_though_no_muscle_is_a_priority() -> None:
    plan = solved(
        {"kinds": kind("pull", 2, 3), "exercises": {"only": ["neutral_grip_pulldown", "lat_pulldown"]}},
        coverage={"mode": "must", "lat_planes": True},
    )
    assert {entry.exercise for s in plan.sessions for entry in s.entries} == {"neutral_grip_pulldown", "lat_pulldown"}


def test_a_session_outside_its_opening_stays_on_its_day() -> None:
    late = {"day": "mon", "start": "23:00", "end": "24:00", "place": "gym"}
    plan = solved(
        {
            "openings": [late],
            "kinds": kind("pull", 1, 3),
            "exercises": {"only": ["lat_pulldown"]},
            "busy": [{"title": "night train", "start": "2026-03-02T00:00", "end": "2026-03-03T00:00"}],
        },
        opening={"mode": "wish"},
        busy={"mode": "wish"},
    )
    (session,) = plan.sessions
    assert session.start.date() == MONDAY


def test_a_muscle_is_woken_only_where_the_exercise_belongs() -> None:
    plan = solved(
        {
            "kinds": kind("pull", 1, 3),
            "goals": {"glutes": {"priority": 1, "least": 0, "aim": 3}},
            "exercises": {"only": ["reverse_back_extension", "kneeling_kickback"]},
        },
        activation={},
        belongs_to={},
        weekly_sets={},
    )
    (session,) = plan.sessions
    assert all(entry.role is not Role.ACTIVATION for entry in session.entries)
    assert breach(plan, "activation:glutes") == 1


def test_one_exercise_wakes_two_muscles_where_minutes_are_short() -> None:
    # 5 min warm-up, 3 min activation, 1 min set-up, 3 sets of 2 min 30 s: 16 min 30 s. A second activation is too much.
    plan = solved(
        {
            "kinds": kind("pull", 1, 3, minutes={"least": 0, "most": 15}),
            "prescription": {"warm_up_minutes": 3},
            "goals": {m: {"priority": 1, "least": 0, "aim": 3} for m in ("lats", "teres_major")},
            "exercises": {"only": ["lat_pulldown", "straight_arm_pulldown"], "avoided": []},
        },
        activation={},
        weekly_sets={},
    )
    assert breach(plan, "activation:lats") == 0
    assert breach(plan, "activation:teres_major") == 0


def test_a_hand_made_plan_may_use_a_substitute_that_the_planner_spares() -> None:
    brief = Brief.model_validate(
        {
            "week": {"start": MONDAY.isoformat()},
            "places": {"gym": {"base": "full_gym"}},
            "openings": OPEN_ALWAYS,
            "kinds": kind("pull", 1, 3),
            "sessions": 1,
        }
    )
    instance = planning.instance_of(brief)
    spared = [
        key
        for key, row in instance.pool.items()
        if row.substitute and not row.equipment and not instance.possible_zones(key)
    ]
    assert "table_row" in spared
    entry = {
        "exercise": "table_row",
        "name": "Table row",
        "sets": 3,
        "reps": 10,
        "zone": "moderate",
        "reps_in_reserve": 2,
        "rest_seconds": 120,
    }
    hand = {
        "kind": "pull",
        "name": "Pull",
        "start": "2026-03-02T18:00:00+00:00",
        "end": "2026-03-02T18:15:00+00:00",
        "place": "gym",
        "entries": [entry],
    }
    report = planning.check(brief, [PlannedSession.model_validate(hand)])
    assert breach(report.plan, "equipment:gym") == 0


def test_more_activation_sets_than_usual_take_longer() -> None:
    """The usual two take three minutes; who writes fifty of them into a plan has no session of half an hour."""
    plan = solved(
        {
            "kinds": kind("pull", 1, 3),
            "goals": {"lats": {"priority": 1, "least": 0, "aim": 3}},
            "exercises": {"only": ["lat_pulldown", "straight_arm_pulldown"]},
        },
        activation={},
        weekly_sets={},
    )
    (session,) = plan.sessions
    first, *others = session.entries
    assert first.role is Role.ACTIVATION
    assert planning.check(plan.brief, plan.sessions).holds
    longer = session.model_copy(update={"entries": (first.model_copy(update={"sets": 50}), *others)})
    assert not planning.check(plan.brief, [longer]).holds
