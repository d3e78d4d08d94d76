"""Monday evening is preferred, Tuesday's neutral, Wednesday's only with reluctance."""

from rule_world import Case, RuleCases, session


def evening(day, preference):
    return {"day": day, "start": "18:00", "end": "19:00", "place": "gym", "preference": preference}


OPENINGS = {"openings": [evening("mon", "preferred"), evening("tue", "neutral"), evening("wed", "reluctant")]}


def pull(when, **more):
    return session("pull", when, "pull_up 3", **more)


CASES = RuleCases(
    holds=Case((pull("mon 18:00"),), brief=OPENINGS),
    edge=Case((pull("mon 19:00", ends=True),), brief=OPENINGS),
    broken=Case((pull("tue 18:00"), pull("wed 18:00")), {"preferred_times": 4}, brief=OPENINGS),
    more={
        "neutral": Case((pull("tue 18:00"),), {"preferred_times": 1}, brief=OPENINGS),
        "reluctant": Case((pull("wed 18:00"),), {"preferred_times": 3}, brief=OPENINGS),
        "a little late for a preferred opening, where openings are a wish": Case(
            (pull("mon 19:10", ends=True),), brief=OPENINGS, others={"opening": {"mode": "wish"}}
        ),
        "far from a preferred opening, where openings are a wish without weight but for that day's": Case(
            (pull("mon 17:00"),),
            {"preferred_times": 3},
            brief={
                "openings": [
                    evening("mon", "preferred"),
                    {**evening("mon", "reluctant"), "start": "16:00", "end": "17:50"},
                ],
                "musts": ["opening:mon"],
            },
            others={"opening": {"mode": "wish", "weight": 0}},
        ),
        "a little late for a neutral one": Case(
            (pull("tue 19:10", ends=True),),
            {"preferred_times": 1},
            brief=OPENINGS,
            others={"opening": {"mode": "wish"}},
        ),
    },
)
