"""A set of a heavy unsupported hinge, row or squat loads the lower back with 2. Budgets are this project's choice."""

from rule_world import Case, RuleCases, record, session

BUDGETS = {"session_budget": 12, "two_day_budget": 16}


def rows(day, sets, *more):
    return session("pull", f"{day} 18:00", f"barbell_bent_over_row {sets}", *more)


FLAGGED = {"lifter": {"cautions": ["lower_back"]}}

CASES = RuleCases(
    holds=Case((rows("mon", 5), rows("thu", 5)), setting=BUDGETS),
    edge=Case((rows("mon", 3, "rack_pull 3 heavy"), rows("tue", 2)), setting=BUDGETS),
    broken=Case((rows("mon", 4, "rack_pull 3 heavy"),), {"lower_back:session": 2}, setting=BUDGETS),
    more={
        "neighbouring days": Case((rows("mon", 5), rows("tue", 5)), {"lower_back:two_days": 4}, setting=BUDGETS),
        "one day": Case(
            (rows("mon", 5), session("legs", "mon 08:00", "romanian_deadlift 4 heavy")),
            {"lower_back:two_days": 2},
            setting=BUDGETS,
        ),
        "two hinges from the floor in one session": Case(
            (session("legs", "mon 18:00", "conventional_deadlift 2 heavy", "trap_bar_deadlift 2 heavy"),),
            {"lower_back:from_floor": 1},
            setting=BUDGETS,
        ),
        "one from the floor and one from the hang": Case(
            (session("legs", "mon 18:00", "conventional_deadlift 2 heavy", "romanian_deadlift 2 heavy"),),
            setting=BUDGETS,
        ),
        "a day between": Case((rows("mon", 5), rows("wed", 5)), setting=BUDGETS),
        "Sunday is next to Monday in a repeating week": Case(
            (rows("mon", 5), rows("sun", 5)),
            {"lower_back:two_days": 4},
            brief={"week": {"repeats": True}},
            setting=BUDGETS,
        ),
        "supported rows load nothing": Case(
            (session("pull", "mon 18:00", "machine_row 5", "chest_supported_row 5"),), setting={"session_budget": 0}
        ),
        "one session over both budgets": Case(
            (rows("mon", 5, "rack_pull 4 heavy"),),
            {"lower_back:session": 6, "lower_back:two_days": 2},
            setting=BUDGETS,
        ),
        "one session over both budgets, the next without load": Case(
            (rows("mon", 5, "rack_pull 4 heavy"), session("push", "tue 18:00", "machine_chest_press 3")),
            {"lower_back:session": 6, "lower_back:two_days": 2},
            setting=BUDGETS,
        ),
        "yesterday's heavy day forbids no light one": Case(
            (session("pull", "mon 18:00", "lat_pulldown 3"),),
            brief={"history": [record("pull", "2026-03-01T18:00", 60, "barbell_bent_over_row 10")]},
            setting=BUDGETS,
            pool=("barbell_bent_over_row",),
        ),
        "yesterday's heavy day takes no more": Case(
            (rows("mon", 3),),
            {"lower_back:two_days": 6},
            brief={"history": [record("pull", "2026-03-01T18:00", 60, "barbell_bent_over_row 10")]},
            setting=BUDGETS,
        ),
        "flagged, and supported": Case(
            (session("pull", "mon 18:00", "machine_row 5"),), brief=FLAGGED, setting=BUDGETS
        ),
        "flagged, and unsupported": Case(
            (rows("mon", 3),), {"lower_back:supported_only": 1}, brief=FLAGGED, setting=BUDGETS
        ),
        "flagged, and unsupported twice": Case(
            (rows("mon", 3), rows("fri", 3)), {"lower_back:supported_only": 2}, brief=FLAGGED, setting=BUDGETS
        ),
    },
)
