"""Uses of what is neither a favourite nor a lift."""

from rule_world import Case, RuleCases, record, session

PULL_UPS = {"exercises": {"favourites": ["pull_up"]}}

CASES = RuleCases(
    holds=Case((session("pull", "mon 18:00", "pull_up 3"),), brief=PULL_UPS, pool=("lat_pulldown",)),
    edge=Case((session("pull", "mon 18:00", "lat_pulldown 3"),), pool=("pull_up",)),
    broken=Case(
        (session("pull", "mon 18:00", "lat_pulldown 3"),), {"favourites": 1}, brief=PULL_UPS, pool=("pull_up",)
    ),
    more={
        "each use": Case(
            (
                session("pull", "mon 18:00", "lat_pulldown 3", "pull_up 3"),
                session("pull", "thu 18:00", "lat_pulldown 3", "machine_row 3"),
            ),
            {"favourites": 3},
            brief=PULL_UPS,
        ),
        "lifts too": Case(
            (session("pull", "mon 18:00", "lat_pulldown 3", "machine_row 3"),),
            {"favourites": 1},
            brief={"lifter": {"lifts": [{"exercise": "lat_pulldown", "load_kg": 50, "reps": 8}]}},
        ),
        "what is done is done": Case(
            (session("pull", "thu 18:00", "pull_up 3"),),
            brief={**PULL_UPS, "done": [record("pull", "2026-03-02T18:00", 30, "lat_pulldown 3")]},
        ),
    },
)
