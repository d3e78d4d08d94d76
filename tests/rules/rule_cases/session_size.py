"""A short session: 6 to 12 working sets, 20 to 50 minutes."""

from rule_world import Case, RuleCases, record, session

SMALL = {"kinds": {"pull": {"sets": {"least": 6, "most": 12}, "minutes": {"least": 20, "most": 50}}}}


def minutes(least, most):
    return {"kinds": {"pull": {"minutes": {"least": least, "most": most}}}}


# 5 min warm-up, a minute of set-up, 3 sets of 10 reps x 3 s + 120 s rest: 13 min 30 s, in whole slots 15 min.
THREE = (session("pull", "mon 18:00", "seated_cable_row 3"),)

CASES = RuleCases(
    holds=Case((session("pull", "mon 18:00", "lat_pulldown 4", "seated_cable_row 4"),), brief=SMALL),
    edge=Case((session("pull", "mon 18:00", "lat_pulldown 4", "seated_cable_row 4", "pull_up 4"),), brief=SMALL),
    broken=Case(
        (session("pull", "mon 18:00", "lat_pulldown 5", "seated_cable_row 4", "pull_up 4"),),
        {"session_size:sets_most:pull": 1},
        brief=SMALL,
    ),
    more={
        "edge of the least sets": Case(
            (session("pull", "mon 18:00", "lat_pulldown 3", "seated_cable_row 3"),), brief=SMALL
        ),
        "too few sets, and too short": Case(
            THREE, {"session_size:sets_least:pull": 3, "session_size:minutes_least:pull": 1}, brief=SMALL
        ),
        "edge of the minutes": Case(THREE, brief=minutes(15, 15)),
        "minutes are rounded inwards: 14 allows 10": Case(
            THREE, {"session_size:minutes_most:pull": 1}, brief=minutes(0, 14)
        ),
        "minutes are rounded inwards: 16 asks 20": Case(
            THREE, {"session_size:minutes_least:pull": 1}, brief=minutes(16, 90)
        ),
        "add-ons are no working sets of their session": Case(
            (session("pull", "mon 18:00", "lat_pulldown 3", "seated_cable_row 3", "leg_press 4 add_on"),),
            brief={"kinds": {"pull": {"add_on": {"pattern": "squat"}, "sets": {"least": 6, "most": 6}}}},
        ),
        "a session that is done may have any size": Case(
            (session("pull", "thu 18:00", "lat_pulldown 4", "seated_cable_row 4"),),
            brief={**SMALL, "done": [record("pull", "2026-03-02T18:00", 10, "lat_pulldown 1")]},
        ),
    },
)
