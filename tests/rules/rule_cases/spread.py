"""Days one after another with sessions of one kind; Sunday goes before Monday."""

from rule_world import Case, RuleCases, record, session


def pulls(*days):
    return tuple(session("pull", f"{day} 18:00", "pull_up 3") for day in days)


CASES = RuleCases(
    holds=Case(pulls("mon", "wed", "fri")),
    edge=Case((*pulls("mon", "wed"), session("legs", "tue 18:00", "leg_press 3"))),
    broken=Case(pulls("mon", "tue"), {"spread:pull": 1}),
    more={
        "three in a row are two pairs": Case(pulls("tue", "wed", "thu"), {"spread:pull": 2}),
        "Sunday before Monday": Case(pulls("mon", "sun"), {"spread:pull": 1}),
        "Saturday and Monday": Case(pulls("mon", "sat")),
        "two on one day": Case((*pulls("mon"), session("pull", "mon 08:00", "pull_up 3"))),
        "the day before the week": Case(
            pulls("mon", "thu"), {"spread:pull": 1}, brief={"history": [record("pull", "2026-03-01T18:00", 30)]}
        ),
        "two days before the week": Case(
            pulls("mon", "thu"), brief={"history": [record("pull", "2026-02-28T18:00", 30)]}
        ),
        "beside what is done": Case(
            pulls("tue"), {"spread:pull": 1}, brief={"done": [record("pull", "2026-03-02T18:00", 30)]}
        ),
    },
)
