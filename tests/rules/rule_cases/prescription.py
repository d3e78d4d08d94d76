"""Sets in range and reps that suit, minutes that are enough, no overlap.

Burke et al. (preprint 419) report a mean of 69 minutes for 24 sets of six exercises with 2-minute rests.
"""

from rule_world import Case, Posting, RuleCases, session

BURKE = tuple(
    f"{exercise} 4"
    for exercise in (
        "lat_pulldown",
        "barbell_bench_press",
        "seated_leg_curl",
        "leg_extension",
        "barbell_curl",
        "cable_pushdown",
    )
)
NO_WARM_UP = {"prescription": {"warm_up_minutes": 0}}

CASES = RuleCases(
    holds=Case((session("pull", "mon 18:00", "lat_pulldown 3", "seated_cable_row 4"),)),
    edge=Case((session("pull", "mon 18:00", "lat_pulldown 2", "seated_cable_row 5"),)),
    broken=Case((session("pull", "mon 18:00", "lat_pulldown 6"),), {"prescription:sets": 1}),
    more={
        "one set is too few": Case((session("pull", "mon 18:00", "lat_pulldown 1"),), {"prescription:sets": 1}),
        "Burke's 69 minutes fit into 70": Case((session("whole", "mon 18:00", *BURKE, minutes=70),), brief=NO_WARM_UP),
        "Burke's 69 minutes do not fit into 65": Case(
            (session("whole", "mon 18:00", *BURKE, minutes=65),), {"prescription:minutes": 1}, brief=NO_WARM_UP
        ),
        "fives do not suit a straight-arm pull": Case(
            (session("pull", "mon 18:00", "straight_arm_pulldown 3 heavy"),), {"prescription:sets": 1}
        ),
        "the same exercise twice": Case(
            (session("pull", "mon 18:00", "lat_pulldown 3", "lat_pulldown 3 light"),), {"prescription:sets": 1}
        ),
        "one ends as the next starts": Case(
            (session("pull", "mon 18:00", "pull_up 3", ends=True), session("legs", "mon 18:00", "leg_press 3"))
        ),
        "two overlap by five minutes": Case(
            (session("pull", "mon 18:05", "pull_up 3", ends=True), session("legs", "mon 18:00", "leg_press 3")),
            {"prescription:overlap": 1},
        ),
    },
    posting=Posting.MODEL,
)
