"""Pull-ups after legs: 3 to 4 quick sets (common practice) in one session of the week."""

from rule_world import Case, RuleCases, session


def asked(least, most):
    sessions = {"least": least, "most": most}
    return {"kinds": {"legs": {"add_on": {"pattern": "vertical_pull", "sessions": sessions}}}}


def legs(day, *more):
    return session("legs", f"{day} 18:00", "leg_press 3", *more)


CASES = RuleCases(
    holds=Case((legs("mon", "pull_up 3 add_on"), legs("thu")), brief=asked(1, 1)),
    edge=Case((legs("mon", "pull_up 4 add_on"),), brief=asked(1, 1)),
    broken=Case((legs("mon"),), {"add_on:legs": 1}, brief=asked(1, 1), pool=("pull_up",)),
    more={
        "two where one is asked": Case(
            (legs("mon", "pull_up 3 add_on"), legs("thu", "pull_up 3 add_on")), {"add_on:legs": 1}, brief=asked(0, 1)
        ),
        "two exercises": Case(
            (legs("mon", "pull_up 3 add_on", "lat_pulldown 3 add_on"),),
            {"add_on:legs": 1},
            brief=asked(1, 1),
        ),
        "five sets are not quick": Case(
            (legs("mon", "pull_up 5 add_on"),),
            {"add_on:legs": 1},
            brief=asked(1, 1),
            unsayable="no number of sets out of range",
        ),
        "another pattern": Case(
            (legs("mon", "seated_cable_row 3 add_on"),),
            {"add_on:legs": 1},
            brief=asked(1, 1),
            unsayable="no option of another pattern",
        ),
        "none is asked": Case(
            (legs("mon", "pull_up 3 add_on"),), {"add_on:legs": 1}, unsayable="no option without an add-on asked"
        ),
    },
)
