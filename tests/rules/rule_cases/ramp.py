"""A fifth more than last week at most, two sets being always in order (this project's defaults)."""

from rule_world import Case, RuleCases, record, session


def history(date, sets):
    return {"goals": {"quads": {}}, "history": [record("legs", f"2026-{date}T18:00", 60, f"leg_extension {sets}")]}


def legs(*sets):
    days = ("mon", "wed", "fri")
    return tuple(session("legs", f"{d} 18:00", f"leg_extension {n}") for d, n in zip(days, sets, strict=False))


CASES = RuleCases(
    holds=Case(legs(5, 5), brief=history("02-26", 10), setting={"percent": 20}),
    edge=Case(legs(4, 4, 4), brief=history("02-26", 10), setting={"percent": 20}),
    broken=Case(legs(5, 4, 4), {"ramp:quads": 4}, brief=history("02-26", 10), setting={"percent": 20}),
    more={
        "two sets more are always in order": Case(legs(4), brief=history("02-26", 2)),
        "three sets more": Case(legs(5), {"ramp:quads": 4}, brief=history("02-26", 2)),
        "the first week back, edge": Case(legs(4, 4, 4), brief=history("02-20", 10), setting={"percent": 20}),
        "the first week back": Case(
            legs(5, 4, 4), {"ramp:quads": 4}, brief=history("02-20", 10), setting={"percent": 20}
        ),
        "before sessions were missed, edge": Case(
            legs(4, 4, 4), brief=history("02-26", 5), setting={"percent": 20, "before_missed": {"quads": 10}}
        ),
        "before sessions were missed": Case(
            legs(5, 4, 4),
            {"ramp:quads": 4},
            brief=history("02-26", 5),
            setting={"percent": 20, "before_missed": {"quads": 10}},
        ),
        "more than before sessions were missed": Case(
            legs(4, 4, 4), brief=history("02-26", 10), setting={"percent": 20, "before_missed": {"quads": 5}}
        ),
        "nothing is known without a history": Case(legs(5, 5, 5), brief={"goals": {"quads": {}}}),
        "far above": Case(legs(5, 5, 5), {"ramp:quads": 48}, brief=history("02-26", 1)),
        "sets that are done cannot be taken back": Case(
            brief={
                **history("02-26", 1),
                "done": [record("legs", "2026-03-02T18:00", 60, "leg_extension 9")],
            }
        ),
    },
)
