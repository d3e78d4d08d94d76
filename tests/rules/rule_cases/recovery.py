"""Hours between two hits of one muscle. McLester et al. 2003 (J Strength Cond Res 17:259-73): after 48 h no different;
at 50 to 65 years still below the young at 72 h. Their hours run from session to session at one time of day; the
default here, end to start, is two hours shorter (this project's reading)."""

from rule_world import Case, RuleCases, record, session

LATS = {"goals": {"lats": {}}}
OLDER = {**LATS, "lifter": {"age_band": "50_64"}}
OTHER = "recovery:other:teres_major"
"""A pull-up trains it directly too. It has no goal, and is looked after by the whole hour."""
TO_THE_LETTER = {"goals": {"lats": {"recovery_hours": 48}}}


def two(second, sets=3):
    return (session("pull", "mon 19:00", f"pull_up {sets}", ends=True), session("pull", second, "pull_up 3"))


CASES = RuleCases(
    holds=Case(two("thu 18:00"), brief=LATS),
    edge=Case(two("wed 17:00"), brief=LATS),
    broken=Case(two("wed 16:00"), {"recovery:lats": 12, OTHER: 1}, brief=LATS),
    more={
        "the same hour two days later keeps the default": Case(
            (session("pull", "mon 18:00", "pull_up 5"), session("pull", "wed 18:00", "pull_up 5")), brief=LATS
        ),
        "edge from 50 years on": Case(two("thu 17:00"), brief=OLDER),
        "broken from 50 years on": Case(two("wed 17:00"), {"recovery:lats": 24 * 12, OTHER: 24}, brief=OLDER),
        "hours of the brief are taken to the letter": Case(
            two("wed 17:00"), {"recovery:lats": 24}, brief=TO_THE_LETTER
        ),
        "edge to the letter": Case(two("wed 19:00"), brief=TO_THE_LETTER),
        "two sets are no hit": Case(two("tue 18:00", sets=2), brief=LATS),
        "an add-on is no hit": Case(
            (
                session("pull", "mon 18:00", "pull_up 3"),
                session("legs", "tue 18:00", "leg_press 3", "chin_up 4 add_on"),
            ),
            brief={**LATS, "kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}}},
        ),
        "six indirect sets are a hit of the biceps": Case(
            (
                session("pull", "mon 19:00", "pull_up 3", "chin_up 3", ends=True),
                session("pull", "tue 19:00", "cable_curl 3"),
            ),
            {"recovery:biceps": 22 * 12},
            brief={"goals": {"biceps": {}}},
        ),
        "a hit of last Sunday counts": Case(
            (session("pull", "mon 18:00", "pull_up 3"),),
            {"recovery:lats": 24 * 12, OTHER: 24},
            brief={**LATS, "history": [record("pull", "2026-03-01T19:00", 60, "lat_pulldown 4")]},
        ),
        "Sunday touches Monday in a repeating week": Case(
            (session("pull", "mon 18:00", "pull_up 3"), session("pull", "sun 18:00", "pull_up 3", ends=True)),
            {"recovery:lats": 22 * 12, OTHER: 22},
            brief={**LATS, "week": {"repeats": True}},
        ),
        "a part of an hour is a whole one for a muscle without a goal": Case(
            two("wed 16:55"), {"recovery:lats": 1, OTHER: 1}, brief=LATS
        ),
        "six indirect sets are no hard work for a muscle without a goal": Case(
            (
                session("pull", "mon 19:00", "pull_up 3", "chin_up 3", ends=True),
                session("pull", "tue 19:00", "cable_curl 3"),
            )
        ),
    },
    modes=("mode", "others"),
)
