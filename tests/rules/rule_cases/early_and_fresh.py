"""A weak point early in the week and on the day after a rest day (common practice)."""

from rule_world import Case, RuleCases, record, session

LATS = {"goals": {"lats": {"priority": 1}}}


def pull(day, sets=3):
    return session("pull", f"{day} 18:00", f"pull_up {sets}")


def legs(day):
    return session("legs", f"{day} 18:00", "leg_press 3")


CASES = RuleCases(
    holds=Case((pull("mon"), legs("tue")), brief=LATS),
    edge=Case((legs("mon"), pull("wed")), brief=LATS, setting={"latest": "wed"}),
    broken=Case(
        (legs("wed"), pull("thu")), {"early_and_fresh:early:lats": 3, "early_and_fresh:fresh:lats": 1}, brief=LATS
    ),
    more={
        "two sets are no first hit": Case(
            (pull("mon", sets=2), pull("thu")), {"early_and_fresh:early:lats": 3}, brief=LATS
        ),
        "a Sunday of training before": Case(
            (pull("mon"),),
            {"early_and_fresh:fresh:lats": 1},
            brief={**LATS, "history": [record("legs", "2026-03-01T18:00", 60)]},
        ),
        "Sunday touches Monday in a repeating week": Case(
            (pull("mon"), legs("sun")),
            {"early_and_fresh:fresh:lats": 1},
            brief={**LATS, "week": {"repeats": True}},
        ),
        "later hits do not matter": Case((pull("mon"), legs("wed"), pull("thu")), brief=LATS),
        "never hit": Case((legs("mon"),), brief=LATS),
        "the first hit is done": Case(
            (pull("thu"),), brief={**LATS, "done": [record("pull", "2026-03-03T18:00", 30, "lat_pulldown 3")]}
        ),
        "a hit is done, whatever is planned before it": Case(
            (pull("tue"),), brief={**LATS, "done": [record("pull", "2026-03-05T18:00", 30, "lat_pulldown 3")]}
        ),
        "no priority": Case((pull("sun"),), brief={"goals": {"lats": {}}}),
    },
)
