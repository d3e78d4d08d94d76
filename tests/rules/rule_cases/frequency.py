"""At least 2 days a week for every major muscle group (WHO 2020, Bull et al., Br J Sports Med 54:1451-62); at most 3
is common practice. A hit is 3 counted sets (this project's choice)."""

from rule_world import Case, RuleCases, record, session

LATS = {"goals": {"lats": {}}}


def hits(*days, sets=3):
    return tuple(session("pull", f"{day} 18:00", f"pull_up {sets}") for day in days)


CASES = RuleCases(
    holds=Case(hits("mon", "thu"), brief=LATS),
    edge=Case(hits("mon", "wed", "fri"), brief=LATS),
    broken=Case(hits("mon"), {"frequency:lats": 1}, brief=LATS),
    more={
        "never": Case((), {"frequency:lats": 2}, brief=LATS, pool=("pull_up",)),
        "once too often": Case(hits("mon", "tue", "thu", "sat"), {"frequency:lats": 1}, brief=LATS),
        "two sets are no hit": Case((*hits("mon"), *hits("thu", sets=2)), {"frequency:lats": 1}, brief=LATS),
        "an add-on is no hit": Case(
            (*hits("mon"), session("legs", "thu 18:00", "leg_press 3", "chin_up 4 add_on")),
            {"frequency:lats": 1},
            brief={**LATS, "kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}}},
        ),
        "three hits of the biceps by rows": Case(
            (
                session("pull", "mon 18:00", "pull_up 3", "seated_cable_row 3"),
                session("pull", "thu 18:00", "pull_up 3", "seated_cable_row 3"),
            ),
            brief={"goals": {"biceps": {"frequency": 2}}},
        ),
        "a hit that is done counts": Case(
            hits("thu"), brief={**LATS, "done": [record("pull", "2026-03-02T18:00", 30, "lat_pulldown 3")]}
        ),
        "hits that are done are no one's to blame": Case(
            brief={
                "goals": {"lats": {"frequency": 1}},
                "done": [record("pull", f"2026-03-0{day}T18:00", 30, "lat_pulldown 3") for day in (2, 4)],
            }
        ),
        "done hits over the number take no further one": Case(
            hits("sat"),
            {"frequency:lats": 1},
            brief={
                "goals": {"lats": {"frequency": 1}},
                "done": [record("pull", f"2026-03-0{day}T18:00", 30, "lat_pulldown 3") for day in (2, 4)],
            },
        ),
    },
)
