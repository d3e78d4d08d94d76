"""Multi-joint before single-joint, large before small, higher before lower intensity (ACSM 2009); a priority first."""

from rule_world import Case, Posting, RuleCases, session


def pull(*items):
    return (session("pull", "mon 18:00", *items),)


CURLS_FIRST = {
    "pinned": [{"kind": "pull", "exercises": [{"exercise": "cable_curl"}, {"exercise": "lat_pulldown"}]}],
    "kinds": {"pull": {"per_week": {"most": 1}}},
}

CASES = RuleCases(
    holds=Case(pull("seated_cable_row 3 heavy", "lat_pulldown 3", "cable_curl 3")),
    edge=Case(pull("lat_pulldown 3", "seated_cable_row 3")),
    broken=Case(pull("cable_curl 3", "lat_pulldown 3"), {"order": 1}),
    more={
        "edge, the other way round": Case(pull("seated_cable_row 3", "lat_pulldown 3")),
        "light before heavy": Case(pull("seated_cable_row 3 light", "lat_pulldown 3 heavy"), {"order": 1}),
        "small before large": Case(pull("cable_curl 3", "straight_arm_pulldown 3"), {"order": 1}),
        "the priority muscle goes first": Case(
            pull("cable_curl 3", "lat_pulldown 3"), brief={"goals": {"biceps": {"priority": 1}}}
        ),
        "the priority muscle does not go first": Case(
            pull("lat_pulldown 3", "cable_curl 3"), {"order": 1}, brief={"goals": {"biceps": {"priority": 1}}}
        ),
        "two pairs of neighbours": Case(
            pull("cable_curl 3", "straight_arm_pulldown 3", "lat_pulldown 3"), {"order": 2}
        ),
        "a pinned order stands": Case(
            pull("cable_curl 3", "lat_pulldown 3"),
            brief={**CURLS_FIRST, "pinned": [{**CURLS_FIRST["pinned"][0], "in_this_order": True}]},
        ),
        "exercises pinned in no order": Case(pull("cable_curl 3", "lat_pulldown 3"), {"order": 1}, brief=CURLS_FIRST),
    },
    posting=Posting.READING,
)
