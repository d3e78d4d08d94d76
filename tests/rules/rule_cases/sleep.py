"""Seven hours of sleep after a night (Watson et al. 2015, AASM and SRS, from memory); the shift ends at six."""

from rule_world import Case, RuleCases, session


def busy(title, start, end):
    return {"busy": [{"title": title, "start": f"2026-{start}", "end": f"2026-{end}"}]}


NIGHT = busy("Night shift", "03-02T22:00", "03-03T06:00")
ROW = "seated_cable_row 3"

CASES = RuleCases(
    holds=Case((session("pull", "wed 08:00", ROW),), brief=NIGHT),
    edge=Case((session("pull", "tue 13:00", ROW),), brief=NIGHT),
    broken=Case((session("pull", "tue 08:00", ROW),), {"sleep:mon-2200": 60}, brief=NIGHT),
    more={
        "five minutes too few": Case((session("pull", "tue 12:55", ROW),), {"sleep:mon-2200": 1}, brief=NIGHT),
        "before the night": Case((session("pull", "mon 21:00", ROW, ends=True),), brief=NIGHT),
        "the sooner of two": Case(
            (session("pull", "tue 12:00", ROW), session("legs", "tue 09:00", "leg_press 3")),
            {"sleep:mon-2200": 48},
            brief=NIGHT,
        ),
        "an early shift is no night": Case(
            (session("pull", "tue 08:00", ROW),), brief=busy("Early shift", "03-03T05:00", "03-03T07:00")
        ),
        "a holiday is no night of work": Case(
            (session("pull", "tue 08:00", ROW),), brief=busy("Holiday", "02-28T00:00", "03-03T07:00")
        ),
        "nor is sleep": Case((session("pull", "tue 08:00", ROW),), brief=busy("Sleep", "03-02T22:00", "03-03T06:00")),
        "a night before the week": Case(
            (session("pull", "mon 08:00", ROW),),
            {"sleep:2026-03-01-2200": 60},
            brief=busy("Night shift", "03-01T22:00", "03-02T06:00"),
        ),
    },
)
