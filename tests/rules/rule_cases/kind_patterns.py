"""A session holds the patterns of its kind."""

from rule_world import Case, Posting, RuleCases, session

CASES = RuleCases(
    holds=Case((session("pull", "mon 18:00", "seated_cable_row 3"),)),
    edge=Case(
        (session("legs", "mon 18:00", "leg_press 3", "pull_up 3 add_on"),),
        brief={"kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}}},
    ),
    broken=Case(
        (session("pull", "mon 18:00", "seated_cable_row 3", "machine_chest_press 3"),), {"kind_patterns:pull": 1}
    ),
    more={
        "an add-on's pattern is none of its kind's": Case(
            (session("legs", "mon 18:00", "leg_press 3", "pull_up 3"),),
            {"kind_patterns:legs": 1},
            brief={"kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}}},
        ),
    },
    posting=Posting.MODEL,
)
