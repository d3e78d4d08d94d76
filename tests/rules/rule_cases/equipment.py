"""Two places: a full gym, and a home whose dumbbells end at 20 kg."""

from rule_world import OPEN_ALWAYS, Case, RuleCases, session

HOME = {
    "places": {"home": {"base": "home_dumbbells", "equipment": {"dumbbells": {"heaviest_kg": 20}}}},
    "openings": [*OPEN_ALWAYS, {**OPEN_ALWAYS[0], "place": "home"}],
}


def rows_of(load):
    """A recent set of 10 with 2 in reserve: just what a moderate set is, so its load is this one."""
    lift = {"exercise": "one_arm_dumbbell_row", "load_kg": load, "reps": 10, "reps_in_reserve": 2}
    return {**HOME, "lifter": {"lifts": [lift]}}


AT_HOME = (session("pull", "mon 18:00", "one_arm_dumbbell_row 3", place="home"),)

CASES = RuleCases(
    holds=Case((session("pull", "mon 18:00", "seated_cable_row 3"),), brief=HOME),
    edge=Case(AT_HOME, brief=rows_of(20)),
    broken=Case((session("pull", "mon 18:00", "seated_cable_row 3", place="home"),), {"equipment:home": 1}, brief=HOME),
    more={
        "the heaviest dumbbells are too light": Case(AT_HOME, {"equipment:home": 1}, brief=rows_of(25)),
        "they serve in the gym": Case((session("pull", "mon 18:00", "one_arm_dumbbell_row 3"),), brief=rows_of(25)),
        "two exercises it cannot serve": Case(
            (session("pull", "mon 18:00", "seated_cable_row 3", "lat_pulldown 3", place="home"),),
            {"equipment:home": 2},
            brief=HOME,
        ),
        "nowhere in the brief": Case(
            (session("pull", "mon 18:00", "lat_pulldown 3"),),
            {"equipment:gym": 1},
            brief={"places": {"gym": {"lacks": ["pulldown_machine"]}}},
        ),
    },
)
