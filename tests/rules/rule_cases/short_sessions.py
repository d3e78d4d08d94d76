"""Quarter minutes of what is still to be done: warm-up 20, a set-up 4, a set 10."""

from rule_world import Case, RuleCases, record, session

DONE = {"done": [record("pull", "2026-03-02T18:00", 30, "lat_pulldown 3")]}

CASES = RuleCases(
    holds=Case(),
    edge=Case(brief=DONE),
    broken=Case((session("pull", "mon 18:00", "lat_pulldown 3", "seated_cable_row 2"),), {"short_sessions": 78}),
    more={
        "one": Case((session("pull", "mon 18:00", "lat_pulldown 2"),), {"short_sessions": 44}),
        "two exercises at one station": Case(
            (session("pull", "mon 18:00", "lat_pulldown 2", "neutral_grip_pulldown 2"),),
            {"short_sessions": 68},
        ),
        "each session is warmed up for": Case(
            (session("pull", "mon 18:00", "lat_pulldown 2"), session("pull", "thu 18:00", "lat_pulldown 2")),
            {"short_sessions": 88},
        ),
        "add-ons count": Case(
            (session("legs", "mon 18:00", "leg_press 3", "pull_up 3 add_on"),),
            {"short_sessions": 90},
            brief={"kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}}},
        ),
    },
)
