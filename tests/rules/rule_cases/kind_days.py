"""A kind that is bound to Wednesday, or to one of two places."""

from rule_world import OPEN_ALWAYS, Case, Posting, RuleCases, session

WEDNESDAY = {"kinds": {"pull": {"days": ["wed"]}}}
HOME = {
    "places": {"home": {"base": "full_gym"}},
    "openings": [*OPEN_ALWAYS, {**OPEN_ALWAYS[0], "place": "home"}],
    "kinds": {"pull": {"places": ["home"]}},
}
ROW = "seated_cable_row 3"

CASES = RuleCases(
    holds=Case((session("pull", "wed 18:00", ROW),), brief=WEDNESDAY),
    edge=Case((session("pull", "wed 23:55", ROW),), brief=WEDNESDAY),
    broken=Case((session("pull", "thu 00:00", ROW),), {"kind_days:pull": 1}, brief=WEDNESDAY),
    more={
        "at its place": Case((session("pull", "mon 18:00", ROW, place="home"),), brief=HOME),
        "at another place": Case((session("pull", "mon 18:00", ROW),), {"kind_days:pull": 1}, brief=HOME),
    },
    posting=Posting.MODEL,
)
