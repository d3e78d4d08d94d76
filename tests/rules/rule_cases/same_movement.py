"""Exercises of a session beyond the first of the same pattern for the same muscles."""

from rule_world import Case, RuleCases, record, session

CASES = RuleCases(
    holds=Case((session("pull", "mon 18:00", "lat_pulldown 3", "seated_cable_row 3"),)),
    edge=Case((session("pull", "mon 18:00", "pull_up 3"), session("pull", "thu 18:00", "weighted_pull_up 3"))),
    broken=Case((session("pull", "mon 18:00", "pull_up 3", "weighted_pull_up 3"),), {"same_movement": 1}),
    more={
        "three of one": Case(
            (session("legs", "mon 18:00", "leg_press 3", "hack_squat 3", "smith_squat 3"),), {"same_movement": 2}
        ),
        "each session, each movement": Case(
            (
                session("legs", "mon 18:00", "leg_press 3", "hack_squat 3", "lying_leg_curl 2", "seated_leg_curl 2"),
                session("pull", "thu 18:00", "dumbbell_curl 3", "cable_curl 3"),
            ),
            {"same_movement": 3},
        ),
        "dips are a press": Case(
            (session("push", "mon 18:00", "barbell_bench_press 3", "dip 3"),),
            {"same_movement": 1},
        ),
        "a close grip is for others": Case(
            (session("push", "mon 18:00", "barbell_bench_press 3", "close_grip_bench_press 3"),)
        ),
        "what is done is done": Case(
            brief={"done": [record("pull", "2026-03-02T18:00", 30, "pull_up 3", "weighted_pull_up 3")]}
        ),
    },
)
