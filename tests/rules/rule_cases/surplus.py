"""Whole counted sets above the aims, those already done too."""

from rule_world import Case, RuleCases, record, session

LATS = {"goals": {"lats": {"least": 0, "aim": 4}}}


def done(sets):
    return {**LATS, "done": [record("pull", "2026-03-02T18:00", 30, f"lat_pulldown {sets}")]}


CASES = RuleCases(
    holds=Case(brief=LATS, pool=("lat_pulldown",)),
    edge=Case((session("pull", "mon 18:00", "lat_pulldown 4"),), brief=LATS),
    broken=Case((session("pull", "mon 18:00", "lat_pulldown 3", "seated_cable_row 2"),), {"surplus": 1}, brief=LATS),
    more={
        "done sets above the aim": Case(brief=done(6), breaches={"surplus": 2}),
        "half a set above is nothing": Case(
            (session("pull", "mon 18:00", "lat_pulldown 3"), session("legs", "tue 18:00", "romanian_deadlift 3")),
            brief={"goals": {"back": {"least": 0, "aim": 4}}},
        ),
        "exactly the aim is done": Case(brief=done(4)),
    },
)
