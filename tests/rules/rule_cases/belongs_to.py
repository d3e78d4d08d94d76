"""A pull from the floor is lower-body work; from a rack it may serve a back session (common practice)."""

from rule_world import Case, RuleCases, session

CASES = RuleCases(
    holds=Case((session("legs", "mon 18:00", "conventional_deadlift 3 heavy"),)),
    edge=Case((session("pull", "mon 18:00", "rack_pull 3 heavy"),)),
    broken=Case((session("pull", "mon 18:00", "conventional_deadlift 3 heavy"),), {"belongs_to:pull": 1}),
    more={
        "from blocks": Case((session("pull", "mon 18:00", "block_pull 3 heavy"),)),
        "two pulls from the floor": Case(
            (
                session("pull", "mon 18:00", "conventional_deadlift 3 heavy"),
                session("pull", "fri 18:00", "trap_bar_deadlift 3 heavy"),
            ),
            {"belongs_to:pull": 2},
        ),
    },
)
