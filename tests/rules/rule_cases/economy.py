"""Sets above the aim, minutes, stations and exercises, of what is still to be done."""

from rule_world import Case, RuleCases, record, session

LATS = {"goals": {"lats": {"least": 0, "aim": 4}}}


def done(sets):
    return {**LATS, "done": [record("pull", "2026-03-02T18:00", 30, f"lat_pulldown {sets}")]}


CASES = RuleCases(
    holds=Case(brief=LATS, pool=("lat_pulldown",)),
    edge=Case(brief=done(4)),
    # 5 sets: 1 above the aim is 4 quarter sets. Quarter minutes: warm-up 20, two set-ups of 4, five sets of 10.
    broken=Case(
        (session("pull", "mon 18:00", "lat_pulldown 3", "seated_cable_row 2"),),
        {"economy:surplus": 4, "economy:minutes": 78, "economy:stations": 2, "economy:exercises": 2},
        brief=LATS,
    ),
    more={
        "exactly at the aim": Case(
            (session("pull", "mon 18:00", "lat_pulldown 4"),),
            {"economy:minutes": 64, "economy:stations": 1, "economy:exercises": 1},
            brief=LATS,
        ),
        "two exercises at one station": Case(
            (session("pull", "mon 18:00", "lat_pulldown 2", "neutral_grip_pulldown 2"),),
            {"economy:minutes": 68, "economy:stations": 1, "economy:exercises": 2},
            brief=LATS,
        ),
        "the station is walked to in each session": Case(
            (session("pull", "mon 18:00", "lat_pulldown 2"), session("pull", "thu 18:00", "lat_pulldown 2")),
            {"economy:minutes": 88, "economy:stations": 2, "economy:exercises": 2},
            brief=LATS,
        ),
        "done sets above the aim": Case(
            brief=done(6),
            breaches={"economy:surplus": 8},
        ),
        "add-ons are exercises": Case(
            (session("legs", "mon 18:00", "leg_press 3", "pull_up 3 add_on"),),
            {"economy:minutes": 90, "economy:stations": 2, "economy:exercises": 2},
            brief={"kinds": {"legs": {"add_on": {"pattern": "vertical_pull"}}}},
        ),
    },
)
