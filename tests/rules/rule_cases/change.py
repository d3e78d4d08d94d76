"""Against a previous plan: days before times, places, exercises and sets."""

from rule_world import OPEN_ALWAYS, Case, RuleCases, record, session

MON, TUE, THU = "2026-03-02T18:00", "2026-03-03T18:00", "2026-03-05T18:00"


def previous(*records):
    return {"previous": list(records)}


def pull(when, *items, **more):
    return session("pull", when, *(items or ("pull_up 3",)), **more)


ONE = previous(record("pull", MON, 30, "pull_up 3"))
TWO = previous(record("pull", MON, 30, "pull_up 3"), record("pull", THU, 30, "pull_up 4"))
BOTH = previous(record("pull", MON, 30, "pull_up 3", "lat_pulldown 3"))
DOWN = previous(record("pull", MON, 30, "lat_pulldown 3"))
AT_HOME = {
    **ONE,
    "places": {"home": {"base": "full_gym"}},
    "openings": [*OPEN_ALWAYS, {**OPEN_ALWAYS[0], "place": "home"}],
}
PINNED = {"pinned": [{"kind": "pull"}], "kinds": {"pull": {"per_week": {"most": 2}}}}

CASES = RuleCases(
    holds=Case((pull("mon 18:00"), pull("thu 18:00", "pull_up 4")), brief=TWO),
    edge=Case((pull("mon 18:00", "lat_pulldown 3", "pull_up 3"),), brief=BOTH),
    broken=Case((pull("tue 18:00"),), {"change:days": 1}, brief=ONE),
    more={
        "nothing previous": Case((pull("tue 18:00"),)),
        "five minutes later": Case((pull("mon 18:05"),), {"change:times": 1}, brief=ONE),
        "earlier and later add up": Case(
            (pull("mon 17:00"), pull("thu 20:00", "pull_up 4")), {"change:times": 36}, brief=TWO
        ),
        "at home instead": Case((pull("mon 18:00", place="home"),), {"change:places": 1}, brief=AT_HOME),
        "another exercise": Case((pull("mon 18:00", "chin_up 3"),), {"change:exercises": 2}, brief=ONE),
        "one exercise more": Case((pull("mon 18:00", "pull_up 3", "chin_up 3"),), {"change:exercises": 1}, brief=ONE),
        "one set more": Case((pull("mon 18:00", "pull_up 4"),), {"change:sets": 1}, brief=ONE),
        "in another rep zone": Case((pull("mon 18:00", "lat_pulldown 4 light"),), {"change:sets": 7}, brief=DOWN),
        "a record that tells no reps": Case(
            (pull("mon 18:00", "lat_pulldown 4 light"),),
            {"change:sets": 1},
            brief=previous(
                {"kind": "pull", "start": MON, "minutes": 30, "exercises": [{"exercise": "lat_pulldown", "sets": 3}]}
            ),
        ),
        "moved and changed": Case(
            (pull("wed 18:00", "pull_up 2", "chin_up 3"),),
            {"change:days": 1, "change:exercises": 1, "change:sets": 1},
            brief=ONE,
        ),
        "one dropped": Case((pull("thu 18:00", "pull_up 4"),), {"change:days": 1}, brief=TWO, pool=("chin_up",)),
        "one added": Case((pull("mon 18:00"), pull("wed 18:00", "pull_up 2")), {"change:days": 1}, brief=ONE),
        "none left": Case((), {"change:days": 2}, brief=TWO, pool=("pull_up",)),
        "the same day first, then in order of time": Case(
            (pull("tue 18:00", "pull_up 3"), pull("thu 18:00", "pull_up 4")), {"change:days": 1}, brief=TWO
        ),
        "both moved, in order of time": Case(
            (pull("tue 18:00"), pull("fri 18:00", "pull_up 4")), {"change:days": 2}, brief=TWO
        ),
        "three, two of them new": Case(
            (pull("wed 18:00"), pull("thu 18:00", "pull_up 4"), pull("fri 18:00", "pull_up 4")),
            {"change:days": 2},
            brief=TWO,
        ),
        "kinds are told apart": Case(
            (session("legs", "mon 18:00", "leg_press 3"),),
            {"change:days": 2},
            brief={
                **ONE,
                "kinds": {
                    "pull": {
                        "patterns": ["vertical_pull"],
                        "sets": {"least": 0, "most": 60},
                        "minutes": {"least": 0, "most": 235},
                        "lower_body": False,
                        "per_week": {"least": 0, "most": 1},
                    }
                },
            },
        ),
        "two on one day, in order of time": Case(
            (pull("mon 09:00"), pull("mon 20:00", "pull_up 4")),
            {"change:times": 12},
            brief=previous(
                record("pull", "2026-03-02T10:00", 30, "pull_up 3"), record("pull", "2026-03-02T20:00", 30, "pull_up 4")
            ),
        ),
        "one of two on one day moved on": Case(
            (pull("mon 10:00"), pull("tue 20:00", "pull_up 2")),
            {"change:days": 1, "change:sets": 2},
            brief=previous(
                record("pull", "2026-03-02T10:00", 30, "pull_up 3"), record("pull", "2026-03-02T20:00", 30, "pull_up 4")
            ),
        ),
        "a pinned one may be earlier or later than the others": Case(
            (pull("mon 18:00"), pull("thu 18:30", "pull_up 3")),
            {"change:times": 6, "change:sets": 1},
            brief={**TWO, **PINNED},
        ),
        "a pinned one moved": Case(
            (pull("tue 18:00"), pull("fri 18:30", "pull_up 4")),
            {"change:days": 2},
            brief={**TWO, **PINNED},
        ),
        "done is on neither side": Case(
            (pull("thu 18:00", "pull_up 4"),),
            brief={**previous(record("pull", THU, 30, "pull_up 4")), "done": [record("pull", MON, 30, "chin_up 3")]},
        ),
        "an add-on is an exercise too": Case(
            (session("legs", "mon 18:00", "leg_press 3", "pull_up 3 add_on"),),
            {"change:exercises": 1},
            brief={
                "previous": [record("legs", MON, 30, "leg_press 3")],
                "kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}},
            },
        ),
    },
)
