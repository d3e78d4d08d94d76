"""A flagged shoulder leaves out what the catalogue marks for it (common practice)."""

from rule_world import Case, RuleCases, session

SHOULDER = {"lifter": {"cautions": ["shoulder"]}}
MARKED = session("push", "mon 18:00", "barbell_overhead_press 3")
UNMARKED = session("push", "mon 18:00", "seated_dumbbell_press 3")

CASES = RuleCases(
    holds=Case((MARKED,)),
    edge=Case((UNMARKED,), brief=SHOULDER),
    broken=Case((MARKED,), {"cautions:shoulder": 1}, brief=SHOULDER),
    more={
        "another caution": Case((MARKED,), brief={"lifter": {"cautions": ["knee"]}}),
        "twice in the week": Case(
            (MARKED, session("push", "thu 18:00", "barbell_overhead_press 3")), {"cautions:shoulder": 2}, brief=SHOULDER
        ),
        "two cautions, and each is broken": Case(
            (session("push", "mon 18:00", "pike_push_up 3"),),
            {"cautions:shoulder": 1, "cautions:pregnancy": 1},
            brief={"lifter": {"cautions": ["shoulder", "pregnancy"]}},
        ),
    },
)
