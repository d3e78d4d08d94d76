"""Back sessions some hours from leg sessions: elapsed time from an end to a start, across clock changes too."""

from rule_world import Case, RuleCases, record, session


def hours(number):
    return {"pairs": [{"from": "pull", "to": "legs", "hours": number}]}


# Monday 18:00 to Wednesday 07:00 is 37 h: a rest day lies between, but not 48 h.
REST_DAY = (session("pull", "mon 18:00", "pull_up 3", ends=True), session("legs", "wed 07:00", "leg_press 3"))
OTHER_WAY_ROUND = (session("legs", "mon 18:00", "leg_press 3", ends=True), session("pull", "wed 07:00", "pull_up 3"))
PULL = {"base": "pull", "per_week": {"least": 0, "most": 0}}
# In Berlin the clocks go forward on 29 March 2026: Saturday 10:00 to Monday 10:00 is 47 h.
BERLIN = {
    "week": {"start": "2026-03-30", "zone": "Europe/Berlin"},
    "history": [record("pull", "2026-03-28T09:00", 60)],
    "kinds": {"pull": PULL},
}
MONDAY_TEN = (session("legs", "mon 10:00", "leg_press 3"),)
RING = {"week": {"repeats": True}}
AROUND = (session("pull", "sun 20:00", "pull_up 3", ends=True), session("legs", "mon 08:00", "leg_press 3"))

CASES = RuleCases(
    holds=Case((REST_DAY[0], session("legs", "thu 07:00", "leg_press 3")), setting=hours(48)),
    edge=Case(REST_DAY, setting=hours(37)),
    broken=Case(REST_DAY, {"spacing:pull-legs": 11 * 12}, setting=hours(48)),
    more={
        "in either order": Case(OTHER_WAY_ROUND, {"spacing:pull-legs": 11 * 12}, setting=hours(48)),
        "edge in the other order": Case(OTHER_WAY_ROUND, setting=hours(37)),
        "two sessions of one kind are not meant": Case(
            (session("pull", "mon 18:00", "pull_up 3"), session("pull", "tue 18:00", "pull_up 3")),
            brief={"kinds": {"legs": {"base": "legs", "per_week": {"least": 0, "most": 0}}}},
            setting=hours(48),
        ),
        "47 h across the change to summer time": Case(
            MONDAY_TEN, {"spacing:pull-legs": 12}, brief=BERLIN, setting=hours(48)
        ),
        "edge across the change to summer time": Case(MONDAY_TEN, brief=BERLIN, setting=hours(47)),
        "Sunday touches Monday in a repeating week": Case(
            AROUND, {"spacing:pull-legs": 36 * 12}, brief=RING, setting=hours(48)
        ),
        "edge in a repeating week": Case(AROUND, brief=RING, setting=hours(12)),
        "Sunday does not touch Monday in a week of its own": Case(AROUND, setting=hours(48)),
    },
)
