"""Rows and presses alternate; never the heavy first lift."""

from rule_world import Case, RuleCases, session


def upper(*items):
    return (session("upper", "mon 18:00", *items),)


ONE = ("machine_row 3 pair=1", "machine_chest_press 3 pair=1")
TWO = (*ONE, "cable_curl 3 pair=2", "lying_dumbbell_extension 4 pair=2")

CASES = RuleCases(
    holds=Case(upper(*TWO)),
    edge=Case(upper(*ONE, "cable_curl 3")),
    broken=Case(upper("machine_row 3", "machine_chest_press 3"), {"pairing": 1}),
    more={
        "two pairs asked, edge": Case(upper(*TWO), setting={"least_pairs": 2}),
        "two pairs asked, none there": Case(upper("machine_row 3"), {"pairing": 2}, setting={"least_pairs": 2}),
        "two sessions": Case(
            (*upper(*ONE), session("upper", "thu 18:00", "machine_row 3", "machine_chest_press 3")), {"pairing": 1}
        ),
        "heavy work is not paired": Case(
            upper("seated_cable_row 3 heavy pair=1", "barbell_bench_press 3 heavy pair=1"),
            {"pairing": 2},
            unsayable="no pair of heavy work",
        ),
        "no antagonists": Case(
            upper("machine_row 3 pair=1", "lat_pulldown 3 pair=1"),
            {"pairing": 2},
            unsayable="no pair of other patterns",
        ),
        "two cables": Case(
            upper("cable_curl 3 pair=1", "cable_pushdown 3 pair=1"),
            brief={"places": {"gym": {"equipment": {"cable": {"count": 2}}}}},
        ),
        "both need the one bench": Case(
            upper("chest_supported_dumbbell_row 3 pair=1", "dumbbell_bench_press 3 pair=1"),
            {"pairing": 2},
            brief={"places": {"gym": {"equipment": {"bench": {"count": 1}}}}},
            unsayable="no pair at one bench",
        ),
        "both need the one cable": Case(
            upper("cable_curl 3 pair=1", "cable_pushdown 3 pair=1"), {"pairing": 2}, unsayable="no pair at one machine"
        ),
    },
)
