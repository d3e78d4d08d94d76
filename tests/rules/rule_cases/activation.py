"""Two light sets before the first hard set of the weak point (common practice)."""

from rule_world import Case, RuleCases, session

LATS = {"goals": {"lats": {"priority": 1}}}
WAKE = "straight_arm_pulldown 2 light activation"
POOL = ("straight_arm_pulldown",)

CASES = RuleCases(
    holds=Case((session("pull", "mon 18:00", WAKE, "lat_pulldown 3"),), brief=LATS),
    edge=Case((session("pull", "mon 18:00", "lat_pulldown 2"),), brief=LATS, pool=POOL),
    broken=Case((session("pull", "mon 18:00", "lat_pulldown 3"),), {"activation:lats": 1}, brief=LATS, pool=POOL),
    more={
        "one session of two without": Case(
            (session("pull", "mon 18:00", WAKE, "lat_pulldown 3"), session("pull", "thu 18:00", "lat_pulldown 3")),
            {"activation:lats": 1},
            brief=LATS,
        ),
        "nothing fit to wake it": Case(
            (session("pull", "mon 18:00", "lat_pulldown 3"),), {"activation:lats": 1}, brief=LATS
        ),
        "a second priority is not woken": Case(
            (session("pull", "mon 18:00", "lat_pulldown 3"),), brief={"goals": {"lats": {"priority": 2}}}, pool=POOL
        ),
        "lower-body work wakes any session where it may be in any": Case(
            (session("pull", "mon 18:00", "kneeling_kickback 2 light activation", "reverse_back_extension 3"),),
            brief={"goals": {"glutes": {"priority": 1}}},
        ),
        "no lower-body work wakes an upper-body session": Case(
            (session("pull", "mon 18:00", "kneeling_kickback 2 light activation", "reverse_back_extension 3"),),
            brief={"goals": {"glutes": {"priority": 1}}},
            others={"belongs_to": {"mode": "wish"}},
            unsayable="what does not belong to a kind wakes nothing there",
        ),
        "lower-body work wakes a lower-body session": Case(
            (session("legs", "mon 18:00", "kneeling_kickback 2 light activation", "leg_press 3"),),
            brief={"goals": {"glutes": {"priority": 1}}},
        ),
        "one exercise wakes two": Case(
            (session("pull", "mon 18:00", WAKE, "lat_pulldown 3"),),
            brief={"goals": {"lats": {"priority": 1}, "teres_major": {"priority": 1}}},
        ),
        "one exercise wakes two here, and another only one of them elsewhere": Case(
            (session("pull", "mon 18:00", "face_pull 2 light activation", "cable_rear_fly 3", "prone_t_raise 3"),),
            brief={
                "goals": {"rear_delts": {"priority": 1}, "trapezius_middle": {"priority": 1}},
                "places": {"home": {"base": "home_bodyweight"}},
            },
        ),
    },
)
