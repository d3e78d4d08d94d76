"""Sessions of one kind are about as long."""

from rule_world import Case, RuleCases, record, session

# 13 min 30 s in whole slots of five, and 26 min.
SHORT, LONG = ("lat_pulldown 3",), ("lat_pulldown 4", "pull_up 4")


def pull(day, *items):
    return session("pull", f"{day} 18:00", *items)


CASES = RuleCases(
    holds=Case((pull("mon", *LONG), session("legs", "wed 18:00", "leg_press 3"))),
    edge=Case((pull("mon", *SHORT), pull("thu", "pull_up 3"))),
    broken=Case((pull("mon", *SHORT), pull("thu", *LONG)), {"even_lengths:pull": 3}),
    more={
        "longest less shortest of three": Case(
            (pull("mon", *SHORT), pull("wed", "lat_pulldown 5"), pull("fri", *LONG)), {"even_lengths:pull": 3}
        ),
        "what is done may differ": Case(
            (pull("thu", *LONG),), brief={"done": [record("pull", "2026-03-02T18:00", 90)]}
        ),
        "longer than the minutes of the kind": Case(
            (
                pull("mon", *(f"{e} 5" for e in ("lat_pulldown", "pull_up", "machine_row", "seated_cable_row"))),
                pull("thu", *(f"{e} 5" for e in ("lat_pulldown", "pull_up", "machine_row", "seated_cable_row"))),
            ),
            brief={"kinds": {"pull": {"minutes": {"least": 0, "most": 10}}}},
        ),
    },
)
