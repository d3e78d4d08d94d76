"""It is Tuesday noon: nothing more starts before that."""

from rule_world import Case, RuleCases, record, session

NOON = {"not_before": "2026-03-03T12:00"}


def pull(when, **more):
    return session("pull", when, "pull_up 3", **more)


CASES = RuleCases(
    holds=Case((pull("wed 18:00"),), brief=NOON),
    edge=Case((pull("tue 12:00"),), brief=NOON),
    broken=Case((pull("tue 11:55"),), {"not_before": 1}, brief=NOON),
    more={
        "the earliest counts": Case((pull("mon 18:00"), pull("tue 11:00")), {"not_before": 18 * 12}, brief=NOON),
        "done is done": Case(
            (pull("wed 18:00"),), brief={**NOON, "done": [record("pull", "2026-03-02T18:00", 30, "chin_up 3")]}
        ),
        "rounded up to the grid": Case(
            (pull("tue 12:00"),), {"not_before": 1}, brief={"not_before": "2026-03-03T12:01"}
        ),
        "a moment before the week": Case((pull("mon 00:00"),), brief={"not_before": "2026-03-01T12:00"}),
    },
)
