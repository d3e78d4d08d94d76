"""A weak point gets three exercises and two grips, none twice in a row (common practice)."""

from rule_world import Case, RuleCases, record, session

LATS = {"goals": {"lats": {"priority": 1}}}
# Pronated and neutral; a supinated grip is in the pool.
POOL = ("underhand_pulldown",)

CASES = RuleCases(
    holds=Case(
        (
            session("pull", "mon 18:00", "lat_pulldown 3", "machine_row 3"),
            session("pull", "thu 18:00", "pull_up 3", "seated_cable_row 3"),
        ),
        brief=LATS,
        pool=POOL,
    ),
    edge=Case(
        (session("pull", "mon 18:00", "lat_pulldown 3", "machine_row 3"), session("pull", "thu 18:00", "pull_up 3")),
        brief=LATS,
        pool=POOL,
    ),
    broken=Case(
        (session("pull", "mon 18:00", "lat_pulldown 3"), session("pull", "thu 18:00", "lat_pulldown 3")),
        {"variety:distinct:lats": 2, "variety:grips:lats": 1, "variety:repeats:lats": 1},
        brief=LATS,
        pool=POOL,
    ),
    more={
        "one between breaks the row": Case(
            (
                session("pull", "mon 18:00", "lat_pulldown 3"),
                session("pull", "wed 18:00", "machine_row 3"),
                session("pull", "fri 18:00", "lat_pulldown 3"),
            ),
            {"variety:distinct:lats": 1},
            brief=LATS,
            pool=POOL,
        ),
        "a session of other muscles breaks no row": Case(
            (
                session("pull", "mon 18:00", "lat_pulldown 3", "machine_row 3"),
                session("legs", "wed 18:00", "leg_press 3"),
                session("pull", "fri 18:00", "lat_pulldown 3", "pull_up 3"),
            ),
            {"variety:repeats:lats": 1},
            brief=LATS,
            pool=POOL,
        ),
        "done twice in a row": Case(
            (session("pull", "fri 18:00", "machine_row 3"),),
            {"variety:distinct:lats": 1},
            brief={
                **LATS,
                "done": [
                    record("pull", "2026-03-02T18:00", 30, "lat_pulldown 3"),
                    record("pull", "2026-03-04T18:00", 30, "lat_pulldown 3"),
                ],
            },
            pool=POOL,
        ),
        "done and again": Case(
            (session("pull", "thu 18:00", "lat_pulldown 3", "machine_row 3", "pull_up 3"),),
            {"variety:repeats:lats": 1},
            brief={**LATS, "done": [record("pull", "2026-03-02T18:00", 30, "lat_pulldown 3")]},
            pool=POOL,
        ),
        "an aim of eight sets asks for two": Case(
            (session("pull", "mon 18:00", "cable_curl 4"),),
            {"variety:distinct:biceps": 1},
            brief={"goals": {"biceps": {"aim": 8}}},
        ),
        "an aim below eight asks for nothing": Case(
            (session("pull", "mon 18:00", "cable_curl 4"),), brief={"goals": {"biceps": {"aim": 7.75}}}
        ),
        "a number of its own": Case(
            (session("pull", "mon 18:00", "cable_curl 4", "barbell_curl 3"),),
            {"variety:distinct:biceps": 1},
            brief={"exercises": {"least_distinct": {"biceps": 3}}},
        ),
        "an add-on is no variety": Case(
            (session("legs", "mon 18:00", "leg_press 3", "chin_up 3 add_on"),),
            {"variety:distinct:lats": 1},
            brief={
                "exercises": {"least_distinct": {"lats": 1}},
                "kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}},
            },
        ),
    },
)
