"""What a coach has pinned: a kind with day, start, place, exercises, sets and rep zones."""

from rule_world import Case, RuleCases, session

PULL_UPS = {"exercise": "pull_up", "sets": 3}
PIN = {"kind": "pull", "day": "mon", "start": "18:00", "place": "gym", "exercises": [PULL_UPS]}
FULL = {"pinned": [PIN], "kinds": {"pull": {"per_week": {"most": 1}}}}
DAY_ONLY = {"pinned": [{"kind": "pull", "day": "mon"}], "kinds": {"pull": {"per_week": {"most": 1}}}}
TWO = {
    "pinned": [{"kind": "pull", "day": "mon"}, {"kind": "pull", "day": "thu"}],
    "kinds": {"pull": {"per_week": {"most": 2}}},
}
HEAVY = {
    "pinned": [{"kind": "legs", "exercises": [{"exercise": "leg_press", "rep_zone": "heavy"}]}],
    "kinds": {"legs": {"per_week": {"most": 1}}},
}

CASES = RuleCases(
    holds=Case((session("pull", "mon 18:00", "pull_up 3", "seated_cable_row 3"),), brief=FULL),
    edge=Case((session("pull", "mon 23:55", "seated_cable_row 3"),), brief=DAY_ONLY),
    broken=Case((session("pull", "tue 18:00", "pull_up 3"),), {"pinned:0": 2}, brief=FULL),
    more={
        "five minutes late": Case((session("pull", "mon 18:05", "pull_up 3"),), {"pinned:0": 1}, brief=FULL),
        "a set too many": Case((session("pull", "mon 18:00", "pull_up 4"),), {"pinned:0": 1}, brief=FULL),
        "without the exercise and its sets": Case(
            (session("pull", "mon 18:00", "chin_up 3"),), {"pinned:0": 2}, brief=FULL
        ),
        # The session itself, its day, start and place, the exercise and its sets.
        "no such session": Case((), {"pinned:0": 6}, brief=FULL, pool=("pull_up",)),
        "the rep zone": Case((session("legs", "mon 18:00", "leg_press 3 heavy"),), brief=HEAVY),
        "another rep zone": Case((session("legs", "mon 18:00", "leg_press 3"),), {"pinned:0": 1}, brief=HEAVY),
        "none at the first minute of the week": Case(
            (),
            {"pinned:0": 3},
            brief={**DAY_ONLY, "pinned": [{"kind": "pull", "day": "mon", "start": "00:00"}]},
        ),
        "each pin has a session of its own": Case(
            (session("pull", "mon 18:00", "pull_up 3"), session("pull", "thu 18:00", "pull_up 3")), brief=TWO
        ),
        "one session does not serve two pins": Case(
            (session("pull", "thu 18:00", "pull_up 3"),), {"pinned:0": 2}, brief=TWO
        ),
        "an add-on can be pinned": Case(
            (session("legs", "mon 18:00", "leg_press 3", "pull_up 3 add_on"),),
            brief={
                "pinned": [{"kind": "legs", "exercises": [PULL_UPS]}],
                "kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}, "per_week": {"most": 1}}},
            },
        ),
    },
)
