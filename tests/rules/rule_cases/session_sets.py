"""About 11 counted sets of a muscle in one session is the last point with a detectable gain (Remmert et al. 2025,
preprint)."""

from rule_world import Case, RuleCases, record, session

LATS = {"goals": {"lats": {}}}


def pull(*sets):
    names = ("lat_pulldown", "pull_up", "seated_cable_row")
    return (session("pull", "mon 18:00", *(f"{name} {n}" for name, n in zip(names, sets, strict=False))),)


CASES = RuleCases(
    holds=Case(pull(4, 4), brief=LATS),
    edge=Case(pull(4, 4, 3), brief=LATS),
    broken=Case(pull(4, 4, 4), {"session_sets:lats": 4}, brief=LATS),
    more={
        "edge of a cap of its own": Case(
            (session("pull", "mon 18:00", "lat_pulldown 5"),), brief={"goals": {"biceps": {"session_cap": 2.5}}}
        ),
        "half a set over a cap of its own": Case(
            (session("pull", "mon 18:00", "lat_pulldown 5"),),
            {"session_sets:biceps": 2},
            brief={"goals": {"biceps": {"session_cap": 2}}},
        ),
        "the fullest session counts": Case(
            (*pull(4, 4, 5), session("pull", "thu 18:00", "lat_pulldown 4", "pull_up 4", "seated_cable_row 4")),
            {"session_sets:lats": 8},
            brief=LATS,
        ),
        "a session that is done": Case(
            pull(4),
            brief={**LATS, "done": [record("pull", "2026-03-06T18:00", 90, "lat_pulldown 12")]},
        ),
        "add-ons do not fill a session": Case(
            (session("legs", "mon 18:00", "leg_press 3", "pull_up 4 add_on"),),
            brief={
                "goals": {"lats": {"session_cap": 2}},
                "kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}},
            },
        ),
    },
)
