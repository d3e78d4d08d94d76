"""Wanted, avoided, at most so often."""

from rule_world import Case, RuleCases, record, session

PULL_UPS = (session("pull", "mon 18:00", "pull_up 3"),)
TWICE = (*PULL_UPS, session("pull", "thu 18:00", "pull_up 3"))


def most(number):
    return {"exercises": {"most_per_week": {"pull_up": number}}}


CASES = RuleCases(
    holds=Case(PULL_UPS, brief={"exercises": {"wanted": ["pull_up"]}}),
    edge=Case(TWICE, brief=most(2)),
    broken=Case(TWICE, {"selection:most:pull_up": 1}, brief=most(1)),
    more={
        "wanted but missing": Case(
            PULL_UPS, {"selection:wanted:chin_up": 1}, brief={"exercises": {"wanted": ["chin_up"]}}, pool=("chin_up",)
        ),
        "wanted and done": Case(
            PULL_UPS,
            brief={
                "exercises": {"wanted": ["chin_up"]},
                "done": [record("pull", "2026-03-02T08:00", 30, "chin_up 3")],
            },
        ),
        "avoided and away": Case(PULL_UPS, brief={"exercises": {"avoided": ["chin_up"]}}, pool=("chin_up",)),
        "avoided but there": Case(
            PULL_UPS, {"selection:avoided:pull_up": 1}, brief={"exercises": {"avoided": ["pull_up"]}}
        ),
        "avoided but there twice": Case(
            TWICE, {"selection:avoided:pull_up": 2}, brief={"exercises": {"avoided": ["pull_up"]}}
        ),
        "an add-on is a use": Case(
            (*PULL_UPS, session("legs", "thu 18:00", "leg_press 3", "pull_up 3 add_on")),
            {"selection:most:pull_up": 1},
            brief={**most(1), "kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}}},
        ),
        "done twice, then no more": Case(
            PULL_UPS,
            {"selection:most:pull_up": 1},
            brief={
                **most(1),
                "done": [
                    record("pull", "2026-03-05T18:00", 30, "pull_up 3"),
                    record("pull", "2026-03-07T18:00", 30, "pull_up 3"),
                ],
            },
        ),
        "not on the list": Case(
            PULL_UPS,
            {"selection:only": 1},
            brief={"exercises": {"only": ["chin_up"]}},
            unsayable="the model makes no option outside the list",
        ),
    },
    modes=("mode", "wanted"),
)
