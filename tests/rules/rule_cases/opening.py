"""One opening on Tuesday from 18:00 to 19:00."""

from rule_world import Case, RuleCases, session

TUESDAY = {"openings": [{"day": "tue", "start": "18:00", "end": "19:00", "place": "gym"}]}
ROW = "seated_cable_row 3"

CASES = RuleCases(
    holds=Case((session("pull", "tue 18:10", ROW),), brief=TUESDAY),
    edge=Case((session("pull", "tue 19:00", ROW, ends=True),), brief=TUESDAY),
    broken=Case((session("pull", "tue 19:25", ROW, ends=True),), {"opening:tue": 5}, brief=TUESDAY),
    more={
        "starts too early": Case((session("pull", "tue 17:50", ROW),), {"opening:tue": 2}, brief=TUESDAY),
        "longer than a first, short opening of the day": Case(
            (session("pull", "tue 20:30", ROW, ends=True),),
            {"opening:tue": 18},
            brief={
                "openings": [
                    {"day": "tue", "start": "06:00", "end": "06:30", "place": "gym"},
                    *TUESDAY["openings"],
                ]
            },
        ),
        "no opening that day: its whole length": Case(
            (session("pull", "wed 18:00", ROW),),
            {"opening:wed": 3},
            brief=TUESDAY,
        ),
        "no opening on the day on which summer time begins, and at the hours of the others": Case(
            (session("pull", "sun 18:00", ROW),),
            {"opening:sun": 3},
            brief={**TUESDAY, "week": {"start": "2026-03-23", "zone": "Europe/Berlin"}},
        ),
        "no opening that day, and before the hours of the others": Case(
            (session("pull", "wed 17:30", ROW),),
            {"opening:wed": 3 + 6},
            brief=TUESDAY,
        ),
        "no opening that day, and beyond the four hours that the others begin": Case(
            (session("pull", "wed 22:00", ROW),),
            {"opening:wed": 3 + 3},
            brief=TUESDAY,
        ),
    },
)
