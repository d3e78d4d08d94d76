"""Of ten sets: four in the zone leaned to, one in each other (this project's defaults). Any spread grows muscle."""

from rule_world import Case, RuleCases, session

ONE_SET = {"prescription": {"sets_per_exercise": {"least": 1, "most": 5}}}
LATS = {**ONE_SET, "goals": {"lats": {"aim": 10}}}


def pull(heavy, moderate, light):
    sets = {
        "lat_pulldown": (heavy, "heavy"),
        "seated_cable_row": (moderate, "moderate"),
        "machine_row": (light, "light"),
    }
    return (session("pull", "mon 18:00", *(f"{key} {n} {zone}" for key, (n, zone) in sets.items() if n)),)


POOL = ("lat_pulldown", "seated_cable_row", "machine_row")

CASES = RuleCases(
    holds=Case(pull(3, 5, 2), brief=LATS, pool=POOL),
    edge=Case(pull(1, 4, 1), brief=LATS, pool=POOL),
    broken=Case(pull(2, 3, 0), {"rep_mix:lats:moderate": 4, "rep_mix:lats:light": 4}, brief=LATS, pool=POOL),
    more={
        "the lean is the user's": Case(pull(4, 1, 1), brief=LATS, setting={"lean": "heavy"}, pool=POOL),
        "leaning to heavy work": Case(
            pull(1, 4, 1), {"rep_mix:lats:heavy": 12}, brief=LATS, setting={"lean": "heavy"}, pool=POOL
        ),
        "an aim below eight asks for nothing": Case(
            pull(0, 4, 0), brief={**ONE_SET, "goals": {"lats": {"aim": 7}}}, pool=POOL
        ),
        "a zone that no exercise allows": Case(
            (session("pull", "mon 18:00", "straight_arm_pulldown 4", "rope_straight_arm_pulldown 1 light"),),
            brief=LATS,
        ),
        "indirect work mixes nothing": Case(
            pull(1, 4, 1),
            {"rep_mix:biceps:moderate": 16, "rep_mix:biceps:light": 4},
            brief={**ONE_SET, "goals": {"biceps": {"aim": 10}}},
            pool=("barbell_curl",),
        ),
    },
)
