"""A back week holds a vertical and a horizontal pull; a weak point's lats get adduction and extension."""

from rule_world import Case, RuleCases, record, session

BOTH = {"kinds": {"pull": {"required": ["vertical_pull", "horizontal_pull"]}}}
LATS = {"goals": {"lats": {"priority": 1}}}
PULLDOWNS = (session("pull", "mon 18:00", "lat_pulldown 3"),)

CASES = RuleCases(
    holds=Case((session("pull", "mon 18:00", "lat_pulldown 3", "seated_cable_row 3", "cable_curl 3"),), brief=BOTH),
    edge=Case((session("pull", "mon 18:00", "lat_pulldown 2", "seated_cable_row 2"),), brief=BOTH),
    broken=Case(PULLDOWNS, {"coverage:kind:pull:horizontal_pull": 1}, brief=BOTH, pool=("seated_cable_row",)),
    more={
        "two sessions without": Case(
            (*PULLDOWNS, session("pull", "thu 18:00", "lat_pulldown 3")),
            {"coverage:kind:pull:horizontal_pull": 2},
            brief=BOTH,
        ),
        "an add-on does not cover": Case(
            (session("pull", "mon 18:00", "lat_pulldown 3", "seated_cable_row 3 add_on"),),
            {"coverage:kind:pull:horizontal_pull": 1},
            brief={"kinds": {"pull": {**BOTH["kinds"]["pull"], "add_on": {"pattern": "horizontal_pull"}}}},
        ),
        "the week holds it": Case(PULLDOWNS, setting={"week_patterns": ["vertical_pull"]}),
        "the week lacks it": Case(
            PULLDOWNS, {"coverage:week:elbow_flexion": 1}, setting={"week_patterns": ["elbow_flexion"]}
        ),
        "it is done": Case(
            PULLDOWNS,
            brief={"done": [record("pull", "2026-03-03T08:00", 30, "cable_curl 3")]},
            setting={"week_patterns": ["elbow_flexion"]},
        ),
        "lats in both planes": Case(
            (session("pull", "mon 18:00", "lat_pulldown 2", "seated_cable_row 2"),), brief=LATS
        ),
        "lats without extension": Case(PULLDOWNS, {"coverage:plane:lats:extension": 1}, brief=LATS),
        "lats without adduction": Case(
            (session("pull", "mon 18:00", "seated_cable_row 3"),), {"coverage:plane:lats:adduction": 1}, brief=LATS
        ),
        "planes are not asked of lats that are no weak point": Case(PULLDOWNS, brief={"goals": {"lats": {}}}),
    },
)
