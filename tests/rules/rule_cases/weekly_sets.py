"""Least 4 weekly sets (Iversen 2021, Sports Med 51:2079-95); a set counts a half for a muscle that it trains
indirectly (Pelland et al. 2024)."""

from rule_world import Case, RuleCases, record, session


def goal(muscle, **sets):
    return {"goals": {muscle: sets}}


def legs(sets):
    return (session("legs", "mon 18:00", f"leg_extension {sets}"),)


# Burke's week: of 6 exercises with 4 sets on 2 days the biceps gets 8 direct and 12 counted sets.
BURKE = tuple(
    session("whole", f"{day} 18:00", "lat_pulldown 4", "barbell_bench_press 4", "cable_curl 4", "cable_pushdown 4")
    for day in ("mon", "thu")
)

CASES = RuleCases(
    holds=Case(legs(5), brief=goal("quads", aim=4)),
    edge=Case(legs(4), brief=goal("quads", aim=4)),
    broken=Case(legs(3), {"weekly_sets:least:quads": 4, "weekly_sets:aim:quads": 4}, brief=goal("quads", aim=4)),
    more={
        "below the aim alone": Case(legs(4), {"weekly_sets:aim:quads": 8}, brief=goal("quads", aim=6)),
        "the aim of 10 is a default": Case(legs(5), {"weekly_sets:aim:quads": 20}, brief=goal("quads")),
        "edge of the most": Case(legs(5), brief=goal("quads", least=0, aim=0, most=5)),
        "over the most": Case(legs(5), {"weekly_sets:most:quads": 2}, brief=goal("quads", least=0, aim=0, most=4.5)),
        "far over a small most": Case(
            (*legs(5), session("legs", "fri 18:00", "leg_extension 5")),
            {"weekly_sets:most:quads": 32},
            brief=goal("quads", least=0, aim=0, most=2),
        ),
        "over a most of nothing": Case(
            legs(3), {"weekly_sets:most:quads": 12}, brief=goal("quads", least=0, aim=0, most=0)
        ),
        "Burke's biceps: 12 counted sets": Case(BURKE, brief=goal("biceps", aim=12, most=12)),
        "Burke's triceps: 12 counted sets": Case(BURKE, brief=goal("triceps", aim=12, most=12)),
        "Burke's biceps: not 12.25": Case(BURKE, {"weekly_sets:aim:biceps": 1}, brief=goal("biceps", aim=12.25)),
        "a group counts a set once": Case(
            (session("pull", "mon 18:00", "lat_pulldown 4", "seated_cable_row 4"),),
            brief=goal("back", least=8, aim=8, most=8),
        ),
        "add-ons count": Case(
            (session("legs", "mon 18:00", "leg_press 3", "pull_up 4 add_on"),),
            brief={**goal("lats", aim=4, most=4), "kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}}},
        ),
        "sets that are done cannot be taken back": Case(
            brief={
                **goal("quads", least=0, aim=0, most=2),
                "done": [record("legs", "2026-03-02T18:00", 60, "leg_extension 5")],
            }
        ),
    },
    modes=("mode", "least", "aim", "most"),
)
