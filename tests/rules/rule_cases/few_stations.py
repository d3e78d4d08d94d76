"""Stations of what is still to be done."""

from rule_world import Case, RuleCases, record, session

DONE = {"done": [record("pull", "2026-03-02T18:00", 30, "lat_pulldown 3")]}

CASES = RuleCases(
    holds=Case(),
    edge=Case(brief=DONE),
    broken=Case((session("pull", "mon 18:00", "lat_pulldown 3", "seated_cable_row 2"),), {"few_stations": 2}),
    more={
        "one": Case((session("pull", "mon 18:00", "lat_pulldown 2", "neutral_grip_pulldown 2"),), {"few_stations": 1}),
        "the station is walked to in each session": Case(
            (session("pull", "mon 18:00", "lat_pulldown 2"), session("pull", "thu 18:00", "lat_pulldown 2")),
            {"few_stations": 2},
        ),
        "add-ons count": Case(
            (session("legs", "mon 18:00", "leg_press 3", "pull_up 3 add_on"),),
            {"few_stations": 2},
            brief={"kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}}},
        ),
    },
)
