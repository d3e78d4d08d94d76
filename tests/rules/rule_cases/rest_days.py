"""One rest day a week at least, three training days in a row at most (common practice)."""

from rule_world import Case, RuleCases, record, session


def days(*names):
    return tuple(session("pull", f"{day} 18:00", "pull_up 3") for day in names)


def done(*dates):
    return [record("pull", f"2026-{date}T18:00", 30) for date in dates]


FOUR_DONE = {"done": done("03-02", "03-03", "03-04", "03-05")}
WEEKEND = {"history": done("02-28", "03-01")}

CASES = RuleCases(
    holds=Case(days("mon", "wed", "fri")),
    edge=Case(days("mon", "tue", "wed", "fri", "sat", "sun")),
    broken=Case(days("mon", "tue", "wed", "thu"), {"rest_days:in_a_row": 1}),
    more={
        "every day": Case(
            days("mon", "tue", "wed", "thu", "fri", "sat", "sun"), {"rest_days:least": 1, "rest_days:in_a_row": 4}
        ),
        "three rest days asked, edge": Case(days("mon", "tue", "thu", "fri"), setting={"least": 3}),
        "three rest days asked, two short": Case(
            days("mon", "tue", "wed", "fri", "sat", "sun"), {"rest_days:least": 2}, setting={"least": 3}
        ),
        "round the ring": Case(
            days("mon", "tue", "sat", "sun"), {"rest_days:in_a_row": 1}, brief={"week": {"repeats": True}}
        ),
        "not round a week of its own": Case(days("mon", "tue", "sat", "sun")),
        "edge after a weekend of training": Case(days("mon"), brief=WEEKEND),
        "the run looks back": Case(days("mon", "tue"), {"rest_days:in_a_row": 1}, brief=WEEKEND),
        "a session of two in one day is one day": Case(
            (*days("mon", "tue", "wed"), session("legs", "wed 08:00", "leg_press 3"))
        ),
        "done days are no one's to blame": Case(days("sat"), brief=FOUR_DONE),
        "a run that is done may not be made longer": Case(days("fri"), {"rest_days:in_a_row": 2}, brief=FOUR_DONE),
        "done days over the number take no further one": Case(
            days("fri"),
            {"rest_days:least": 1},
            brief={"done": done("03-02", "03-03")},
            setting={"least": 6},
        ),
        "done days over the number alone": Case(brief={"done": done("03-02", "03-03")}, setting={"least": 6}),
    },
)
