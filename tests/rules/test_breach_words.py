"""How a breach reads: which way a range is missed, the hours to the minute, and names as the brief writes them."""

from __future__ import annotations

import pytest
from rule_cases.frequency import LATS, hits
from rule_cases.recovery import OTHER, two
from rule_cases.session_count import status, week
from rule_world import Case, RuleCases, build_brief, facts_by_hand, session

from scheduler import referee
from scheduler.planning import instance_of
from scheduler.rules import RULES_BY_KEY

BRACES = {"kinds": {"pull": {"name": "Pull {a}", "minutes": {"least": 60, "most": 90}, "per_week": 3}}}
SHORT = (session("pull", "mon 18:00", "seated_cable_row 3", minutes=20),)


@pytest.mark.parametrize(
    ("switch", "case", "words"),
    [
        ("session_count:all", Case(week(1), brief=status("novice")), "1 session too few"),
        ("session_count:all", Case(week(5), brief=status("novice")), "2 sessions too many"),
        ("session_count:kind:pull", Case(SHORT, brief=BRACES), "2 Pull {a} sessions too few"),
        ("session_size:minutes_least:pull", Case(SHORT, brief=BRACES), "a Pull {a} session is 40 min under"),
        ("frequency:lats", Case(hits("mon"), brief=LATS), "Lats (latissimus dorsi) has 1 hit too few"),
        (
            "frequency:lats",
            Case(hits("mon", "tue", "thu", "sat"), brief=LATS),
            "Lats (latissimus dorsi) has 1 hit too many",
        ),
        (
            "recovery:lats",
            Case(two("wed 16:10"), brief=LATS),
            "two hits of Lats (latissimus dorsi) are 50 min too close",
        ),
        (OTHER, Case(two("wed 16:10"), brief=LATS), "two sessions that train Teres major are 50 min too close"),
        (OTHER, Case(two("tue 16:10"), brief=LATS), "two sessions that train Teres major are 24 h 50 min too close"),
    ],
)
def test_a_breach_in_words(switch: str, case: Case, words: str) -> None:
    rule = RULES_BY_KEY[switch.partition(":")[0]]
    brief = build_brief(rule, RuleCases(case, case, case), case)
    reports = referee.review(facts_by_hand(instance_of(brief), case)).rules
    found = {finding.switch: finding.breach_text for report in reports for finding in report.findings}
    assert found[switch] == words
