"""Sessions a week by training status: ACSM 2009 (Ratamess et al., Med Sci Sports Exerc 41:687-708) names 2 to 3 for
novices, 3 to 4 for intermediate and 4 to 5 for advanced lifters."""

from rule_world import Case, RuleCases, record, session

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def week(number):
    return tuple(session("pull", f"{day} 18:00", "seated_cable_row 3") for day in DAYS[:number])


def status(name):
    return {"sessions": None, "lifter": {"status": name}, "kinds": {"pull": {"per_week": {"most": 7}}}}


def by_status(name, least, most):
    return {
        f"{name}: {least}, the least": Case(week(least), brief=status(name)),
        f"{name}: {most}, the most": Case(week(most), brief=status(name)),
        f"{name}: one too few": Case(week(least - 1), {"session_count:all": 1}, brief=status(name)),
        f"{name}: one too many": Case(week(most + 1), {"session_count:all": 1}, brief=status(name)),
    }


CASES = RuleCases(
    holds=Case(week(3), brief=status("novice")),
    edge=Case(week(2), brief=status("novice")),
    broken=Case(week(1), {"session_count:all": 1}, brief=status("novice")),
    more={
        **by_status("novice", 2, 3),
        **by_status("intermediate", 3, 4),
        **by_status("advanced", 4, 5),
        "a kind has too few": Case(week(1), {"session_count:kind:pull": 2}, brief={"kinds": {"pull": {"per_week": 3}}}),
        "a kind has too many": Case(
            week(3),
            {"session_count:kind:pull": 1},
            brief={"kinds": {"pull": {"per_week": 2}}},
        ),
        "five where two are asked": Case(
            week(5), {"session_count:all": 3}, brief={"sessions": 2, "kinds": {"pull": {"per_week": {"most": 5}}}}
        ),
        "done sessions are no one's to blame": Case(
            brief={
                "sessions": 1,
                "done": [record("pull", f"2026-03-0{day}T18:00", 30) for day in (2, 3)],
            }
        ),
        "done ones over the number take no further one": Case(
            (session("pull", "fri 18:00", "seated_cable_row 3"),),
            {"session_count:all": 1},
            brief={
                "sessions": 1,
                "done": [record("pull", f"2026-03-0{day}T18:00", 30) for day in (2, 3)],
            },
        ),
    },
)
