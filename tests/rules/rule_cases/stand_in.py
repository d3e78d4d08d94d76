"""Squat and a pull from the floor, or direct trunk extension instead."""

from rule_world import Case, RuleCases, record, session

TRUNK = ("back_extension",)

CASES = RuleCases(
    holds=Case((session("legs", "mon 18:00", "leg_press 3", "conventional_deadlift 3 heavy"),), pool=TRUNK),
    edge=Case((session("legs", "mon 18:00", "leg_press 3", "back_extension 2"),)),
    broken=Case((session("legs", "mon 18:00", "leg_press 3"),), {"stand_in": 2}, pool=TRUNK),
    more={
        "no squat": Case((session("legs", "mon 18:00", "conventional_deadlift 3 heavy"),), {"stand_in": 2}, pool=TRUNK),
        "a hinge that is not from the floor": Case(
            (session("legs", "mon 18:00", "leg_press 3", "romanian_deadlift 3 heavy"),), {"stand_in": 2}, pool=TRUNK
        ),
        "four sets asked, three there": Case(
            (session("legs", "mon 18:00", "back_extension 3"),), {"stand_in": 1}, setting={"sets": 4}
        ),
        "the squat is done": Case(
            (session("legs", "thu 18:00", "conventional_deadlift 3 heavy"),),
            brief={"done": [record("legs", "2026-03-02T18:00", 30, "leg_press 3")]},
            pool=TRUNK,
        ),
    },
)
