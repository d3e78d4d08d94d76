"""One session a day unless asked (common practice); two of one day some hours apart."""

from rule_world import Case, RuleCases, record, session

ROW = "seated_cable_row 3"
TWICE = {"most": 2, "hours_apart": 6}

CASES = RuleCases(
    holds=Case((session("pull", "mon 18:00", ROW), session("legs", "wed 18:00", "leg_press 3"))),
    edge=Case((session("pull", "mon 23:55", ROW), session("legs", "tue 18:00", "leg_press 3"))),
    broken=Case(
        (session("pull", "mon 08:00", ROW), session("legs", "mon 18:00", "leg_press 3")), {"sessions_a_day:most": 1}
    ),
    more={
        "two of one day, six hours apart": Case(
            (session("pull", "mon 08:00", ROW, ends=True), session("legs", "mon 14:00", "leg_press 3")), setting=TWICE
        ),
        "two of one day, an hour too close": Case(
            (session("pull", "mon 08:00", ROW, ends=True), session("legs", "mon 13:00", "leg_press 3")),
            {"sessions_a_day:apart": 12},
            setting=TWICE,
        ),
        "done sessions are no one's to blame": Case(
            brief={"done": [record("pull", "2026-03-02T08:00", 30), record("legs", "2026-03-02T18:00", 30)]}
        ),
        "a day already over its number takes no further one": Case(
            (session("pull", "mon 21:00", ROW),),
            {"sessions_a_day:most": 1, "sessions_a_day:apart": 42},
            brief={"done": [record("pull", "2026-03-02T08:00", 30), record("legs", "2026-03-02T18:00", 30)]},
        ),
        "a second one that is conceded lies no nearer": Case(
            (session("pull", "mon 08:00", ROW, ends=True), session("legs", "mon 13:00", "leg_press 3")),
            {"sessions_a_day:most": 1, "sessions_a_day:apart": 12},
            brief={"concessions": {"sessions_a_day:most": 1}},
        ),
    },
)
