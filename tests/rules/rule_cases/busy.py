"""An evening event on Monday 18:30 to 19:30, and a gym 20 minutes away."""

from rule_world import Case, RuleCases, session

EVENING = {
    "places": {"gym": {"base": "full_gym", "travel_minutes": 20}},
    "busy": [{"title": "choir", "start": "2026-03-02T18:30", "end": "2026-03-02T19:30"}],
}
FAIR = {
    **EVENING,
    "busy": [{"title": "trade fair", "start": "2026-03-02T00:00", "end": "2026-03-05T00:00"}],
}
ROW = "seated_cable_row 3"

CASES = RuleCases(
    holds=Case((session("pull", "mon 17:00", ROW, ends=True),), brief=EVENING),
    edge=Case((session("pull", "mon 18:10", ROW, ends=True),), brief=EVENING),
    broken=Case((session("pull", "mon 18:25", ROW, ends=True),), {"busy:mon-1830": 3}, brief=EVENING),
    more={
        "edge after it": Case((session("pull", "mon 19:50", ROW),), brief=EVENING),
        "starts before one is back": Case((session("pull", "mon 19:45", ROW),), {"busy:mon-1830": 1}, brief=EVENING),
        # Tuesday noon lies 36 h into three busy days: 432 slots, and 4 of travel.
        "more than a day in the way": Case(
            (session("pull", "tue 12:00", ROW, ends=True),), {"busy:mon-0000": 436}, brief=FAIR
        ),
    },
)
