"""Starts in slots of five minutes from Monday 00:00, summed."""

from rule_world import Case, RuleCases, record, session

CASES = RuleCases(
    holds=Case(brief={"done": [record("pull", "2026-03-04T18:00", 30)]}),
    edge=Case((session("pull", "mon 00:00", "pull_up 3"),)),
    broken=Case((session("pull", "mon 00:05", "pull_up 3"),), {"earliest": 1}),
    more={
        "two sessions": Case(
            (session("pull", "mon 01:00", "pull_up 3"), session("pull", "tue 00:00", "pull_up 3")),
            {"earliest": 12 + 24 * 12},
        ),
        "hours that pass, not hours of the clock": Case(
            (session("pull", "sun 10:00", "pull_up 3"),),
            {"earliest": (6 * 24 + 9) * 12},
            brief={"week": {"start": "2026-03-23", "zone": "Europe/Berlin"}},
        ),
    },
)
