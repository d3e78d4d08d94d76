"""What the terminal shows, at several widths and encodings."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
from rich.cells import cell_len
from rich.console import Console

from scheduler.domain.plan import Mode, Plan, PlanStatus, TierResult
from scheduler.reports import render_plan


def shown(plan: Plan, width: int = 80, encoding: str = "utf-8", *, verbose: bool = False) -> str:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, newline="\n")
    render_plan(plan, Console(file=stream, width=width, _environ={}), verbose=verbose)
    stream.flush()
    return raw.getvalue().decode(encoding)


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("width", [50, 80, 120])
@pytest.mark.parametrize("verbose", [False, True])
def test_no_line_is_longer_than_the_terminal(plan: Plan, width: int, verbose: bool) -> None:
    assert max(cell_len(line) for line in shown(plan, width, verbose=verbose).splitlines()) <= width


def test_every_session_with_its_clock_times_and_place_is_there(plan: Plan) -> None:
    text = flat(shown(plan))
    assert "Thursday 7 May: Legs 18:30–19:45, Quarry Lane hall, 75 min, pinned" in text
    for session in plan.sessions:
        assert text.count(session.name) >= 2, "in the week and at its own head"
    assert text.count(" rest ") >= 2, "Wednesday and Sunday"


@pytest.mark.parametrize("width", [50, 120])
def test_every_exercise_is_there_with_its_dose(plan: Plan, width: int) -> None:
    text = flat(shown(plan, width))
    for entry in (entry for session in plan.sessions for entry in session.entries):
        assert entry.name in text
    assert "Face pull (shares rests with 6)" in text
    assert "Pull-up, pronated grip (add-on)" in text
    assert re.search(r"Back squat,? 4 × 6,? 2 in reserve,? rest 3:00,? 102\.5 kg", text)


def test_every_ledger_row_says_in_words_what_is_missing(plan: Plan) -> None:
    lines = shown(plan, verbose=True).splitlines()
    for row in plan.ledger:
        assert any(line.startswith(row.name.removesuffix(" (latissimus dorsi)")) for line in lines)
    assert not any("latissimus" in line for line in lines)
    assert "short 1" in next(line for line in lines if line.startswith("Quadriceps "))
    assert "0.5 to aim" in next(line for line in lines if line.startswith("Rear deltoid "))


def test_muscles_without_a_goal_are_listed_only_when_verbose(plan: Plan) -> None:
    brief, full = shown(plan), shown(plan, verbose=True)
    assert "Calves" not in brief
    assert "1 other muscle trained, without a goal: listed when verbose" in brief
    assert "other muscle" not in full
    first = plan.model_copy(update={"ledger": (plan.ledger[-2], *plan.ledger[:-2])})
    assert shown(first, verbose=True).index("Whole back, group") < shown(first, verbose=True).index("Calves")
    assert shown(plan.model_copy(update={"ledger": plan.ledger[-2:-1]})).count("Calves") == 0


def test_measures_do_not_give_way_but_say_their_cost(plan: Plan) -> None:
    brief, full = flat(shown(plan)), flat(shown(plan, verbose=True))
    assert "As few exercises" not in brief + full
    assert "Kept as small as possible: Few exercises 118." in brief
    assert "exercises 118 118 proved Few exercises 118" in full
    assert "kept small Few exercises" in full


def test_a_measure_that_is_made_a_must_can_be_broken(plan: Plan) -> None:
    few = plan.rules[5]
    finding = few.findings[0].model_copy(update={"mode": Mode.MUST})
    must = few.model_copy(update={"mode": Mode.MUST, "findings": (finding,)})
    text = flat(shown(plan.model_copy(update={"status": PlanStatus.CHECKED, "rules": (must,)})))
    assert "1 rule: 1 broken." in text
    assert "Musts broken As few exercises as will do. 59 used" in text


def test_bars_tell_direct_from_indirect_and_show_the_aim(plan: Plan) -> None:
    line = next(line for line in shown(plan, 120).splitlines() if line.startswith("Side deltoid"))
    assert line.rstrip().endswith("▆▆▆▆▆▆▆▂▂ │")


def test_cautions_notes_and_broken_wishes_are_always_there(plan: Plan) -> None:
    text = flat(shown(plan))
    for caution in plan.cautions:
        assert caution.text in text
    for note in plan.notes:
        assert note in text
    for finding in (f for rule in plan.rules for f in rule.findings if f.breach and not rule.measure):
        assert finding.sentence in text
        assert finding.breach_text in text


def test_a_plan_without_cautions_still_carries_the_standing_one(plan: Plan) -> None:
    assert "not medical advice" in shown(plan.model_copy(update={"cautions": ()}))


def test_rules_are_counted_and_listed_one_by_one_only_when_verbose(plan: Plan) -> None:
    brief, full = shown(plan), shown(plan, verbose=True)
    assert "8 rules: 3 kept, 2 gave way, 1 kept small, 1 with nothing to check, 1 off." in brief
    for rule in plan.rules:
        assert rule.title in full
    assert "nothing to check  Ramp" not in brief
    assert "nothing to check  Ramp" in full
    assert plan.fingerprint.brief_sha256[:12] in brief
    assert plan.fingerprint.brief_sha256 in full


def test_a_broken_must_stands_before_the_wishes(plan: Plan) -> None:
    spacing = plan.rules[1]
    of = {"breach": 84, "breach_text": "41 h: 7 h short", "sessions": (0, 1)}
    finding = spacing.findings[0].model_copy(update=of)
    broken = spacing.model_copy(update={"kept": False, "findings": (finding,)})
    checked = plan.model_copy(update={"status": PlanStatus.CHECKED, "rules": (broken, *plan.rules[2:])})
    text = shown(checked)
    assert finding.mode is Mode.MUST
    assert "Checked, not solved: the plan was handed in. 1 must is broken." in text
    assert text.index("Musts broken") < text.index("41 h: 7 h short") < text.index("What gave way")
    first, second = (f"{s.start:%a %H:%M} {s.name}" for s in plan.sessions[:2])
    told = f"41 h: 7 h short: {first} and {second} ("
    assert told in flat(text)


def test_what_the_brief_concedes_gives_way_and_is_not_called_broken(plan: Plan) -> None:
    """A mend is a concession: who takes it has a week that keeps what is left of the must."""
    spacing = plan.rules[1]
    finding = spacing.findings[0].model_copy(update={"breach": 84, "breach_text": "41 h: 7 h short", "conceded": 84})
    conceded = plan.model_copy(update={"rules": (spacing.model_copy(update={"findings": (finding,)}),)})
    text = flat(shown(conceded))
    assert "1 must gives way, as the brief concedes." in text
    assert f"Musts that gave way, as the brief concedes {finding.sentence} 41 h: 7 h short" in text
    assert "1 rule: 1 gave way." in text
    assert "broken" not in text
    checked = flat(shown(conceded.model_copy(update={"status": PlanStatus.CHECKED})))
    assert "Every must is kept" not in checked


def test_status_words(plan: Plan) -> None:
    tiers = (TierResult(tier=3, name="Placement", value=31, bound=24, proved=False),)
    bare = {"sessions": (), "ledger": (), "tiers": ()}
    cases: tuple[tuple[dict[str, Any], str], ...] = (
        ({}, "Proved best:"),
        ({"status": PlanStatus.FEASIBLE, "tiers": tiers}, "Placement stands at 31 and cannot go below 24."),
        ({"status": PlanStatus.STOPPED, "tiers": tiers}, "Stopped before the proof was done"),
        ({"status": PlanStatus.STOPPED, **bare}, "Stopped before any week was found"),
        ({"status": PlanStatus.IMPOSSIBLE, **bare}, "Impossible: no week keeps every must of this brief."),
    )
    for changes, words in cases:
        text = flat(shown(plan.model_copy(update=changes)))
        assert words in text
        assert plan.cautions[0].text in text
    unproved = plan.model_copy(update={"tiers": tiers})
    assert "7 above the bound" in shown(unproved)
    # Of a plan that was handed in nothing is bounded, so it is not above anything.
    assert "31 - as handed in" in flat(shown(unproved.model_copy(update={"status": PlanStatus.CHECKED})))


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_other_encodings_get_plain_characters(plan: Plan, encoding: str) -> None:
    text = shown(plan.model_copy(update={"title": "Zoë’s week “one” 東"}), encoding=encoding)
    assert ('Zoe\'s week "one" ?' in text) == (encoding == "ascii")
    assert re.search(r"Side deltoid .*=+-* \|", text)
    assert re.search("4 [x×] 6", text)


def test_markup_and_escape_sequences_are_shown_not_obeyed(plan: Plan) -> None:
    session = plan.sessions[0]
    entry = session.entries[0].model_copy(update={"name": "[bold]Row[/bold] :smile: \x1b[31mred\n\u202eback"})
    first = session.model_copy(update={"name": "[red]Pull", "entries": (entry,)})
    text = shown(plan.model_copy(update={"title": "[link=x]T[/link]", "sessions": (first,)}), 120)
    assert "[bold]Row[/bold] :smile: [31mred back" in text
    assert "[red]Pull" in text
    assert "[link=x]T[/link]" in text
    assert "\x1b" not in text


def test_long_words_are_folded_not_cut(plan: Plan) -> None:
    name = "Pull" * 40
    session = plan.sessions[0]
    entry = session.entries[0].model_copy(update={"name": name})
    long = plan.model_copy(
        update={"title": name, "sessions": (session.model_copy(update={"name": name, "entries": (entry,)}),)}
    )
    lines = shown(long).splitlines()
    assert max(map(len, lines)) <= 80
    assert sum(line.count("Pull") for line in lines) >= 100


def test_a_plan_with_nothing_in_it_renders(plan: Plan) -> None:
    empty = {"sessions": (), "ledger": (), "rules": (), "tiers": (), "notes": ()}
    assert "No rules were looked at." in shown(plan.model_copy(update=empty), verbose=True)


def test_a_cost_of_another_tier_than_wishes_names_it(plan: Plan) -> None:
    """The others add up to the value of the first tier."""
    tiers = tuple(
        TierResult(tier=n, name=name, value=0, bound=0, proved=True) for n, name in ((1, "wishes"), (3, "placement"))
    )
    rule = plan.rules[0]
    finding = rule.findings[0].model_copy(update={"breach": 2, "cost": 32, "mode": Mode.WISH, "broken": False})
    for tier, words in ((1, "cost 32)"), (3, "cost 32 in placement)")):
        late = rule.model_copy(update={"tier": tier, "measure": False, "mode": Mode.WISH, "findings": (finding,)})
        assert words in flat(shown(plan.model_copy(update={"rules": (late,), "tiers": tiers})))
