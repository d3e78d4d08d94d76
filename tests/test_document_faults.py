"""Faults of a brief: each in plain words, at its place, all at once."""

from __future__ import annotations

import copy
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, JsonValue, ValidationError, field_validator

from api.questions import BlockQuestion, LogQuestion
from scheduler.document_faults import MOST_FAULTS
from scheduler.documents import validate
from scheduler.domain.brief import Brief, Lift
from scheduler.domain.catalogue import Evidence
from scheduler.domain.errors import Fault, InputError
from scheduler.domain.units import Frozen
from tests.test_documents import BRIEF, read


def brief_with(path: str, value: object) -> dict[str, Any]:
    """The good brief with one thing changed, by a path with slashes."""
    document = read(BRIEF)
    *walk, last = [int(part) if part.isdigit() else part for part in path.split("/")]
    here: Any = document
    for part in walk:
        here = here[part]
    here[last] = copy.deepcopy(value)
    return document


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        ("opnings", [], "opnings: unknown field \"opnings\". Did you mean 'openings'"),
        ("goals/lats/leest", 3, "goals.lats.leest: unknown field \"leest\". Did you mean 'least'"),
        ("places/hall/equipment/dumbbell/heavyest_kg", 3, "Did you mean 'heaviest_kg'"),
        ("goals/lats/least", -2, "goals.lats.least: -2 is too small: at least 0. Write 0 or more."),
        ("goals/lats/most", 900, "goals.lats.most: 900 is too large: at most 200. Write 200 or less."),
        (
            "goals/lats/least",
            "ten",
            'goals.lats.least: expected a number, got "ten". Write it in digits without quotes',
        ),
        ("goals/lats/least", "10", 'goals.lats.least: expected a number, got "10". Write it in digits without quotes'),
        ("goals/lats/aim", False, "goals.lats.aim: expected a number, got false. Write it in digits without quotes"),
        ("goals/lats/priority", True, "goals.lats.priority: true is not known here. Write one of: 1, 2, 3."),
        ("kinds/whole/per_week", True, "kinds.whole.per_week: expected a whole number or a range, got true."),
        ("kinds/whole/sets/most", "16", 'kinds.whole.sets.most: expected a whole number, got "16".'),
        (
            "lifter",
            {"lifts": [{"exercise": "row", "load_kg": "50", "reps": 5}]},
            'lifter.lifts[0].load_kg: expected a number, got "50".',
        ),
        ("exercises", {"most_per_week": {"row": True}}, "exercises.most_per_week.row: expected a whole number, got"),
        ("openings/0/start", 18, "openings[0].start: expected a clock time like 18:00, got 18. Write hours:minutes."),
        ("week/start", 345_600, "week.start: expected a date like 2026-03-02, got 345600. Write year-month-day."),
        ("week/start", "345600.0", 'week.start: expected a date like 2026-03-02, got "345600.0".'),
        ("not_before", 5, "not_before: expected a date and time like 2026-03-02T18:00, got 5."),
        ("week/repeats", 1, "week.repeats: expected true or false, got 1. Write true or false, without quotes."),
        ("goals/lats/least", 3.3, "goals.lats.least: 3.3 is no whole number of quarter sets. Use steps of 0.25."),
        ("goals/lats/least", 12, "goals.lats: the sets cross: least 12 is above aim 10.5. Lower one."),
        ("goals/lats/priority", 4, "goals.lats.priority: 4 is not known here. Write one of: 1, 2, 3."),
        ("goals/lats", None, "goals.lats: expected a block of fields, got nothing. Write it as {least: ..., aim: ...}"),
        (
            "kinds/whole/per_week",
            "2",
            'kinds.whole.per_week: expected a whole number or a range, got "2". Write it like 2',
        ),
        ("kinds/whole/per_week", 20_000, "kinds.whole.per_week: 20000 is too large: at most 10000."),
        ("kinds/whole/sets", {"least": 9, "most": 8}, "kinds.whole.sets: the range runs backwards: least 9 is above"),
        ("kinds/whole/sets", {"least": 9}, 'kinds.whole.sets.most: the field "most" is missing. Add "most" here.'),
        ("openings/1/start", "25:00", 'openings[1].start: expected a clock time like 18:00, got "25:00". Write hours'),
        ("openings/1/day/1", "Friday", "openings[1].day[1]: \"Friday\" is not known here. Did you mean 'fri'?"),
        ("openings/0/day", "mun", "openings[0].day: \"mun\" is not known here. Did you mean 'sun' or 'mon'"),
        ("openings/0/end", "17:00", "openings[0]: the opening runs backwards: 18:00 to 17:00. Swap them."),
        (
            "openings/0/end",
            "06:00",
            "18:00 to 06:00. One through the night is two: end it at 24:00 and add one",
        ),
        (
            "openings/0/end",
            "00:00",
            "18:00 to 00:00. Write midnight at its end as 24:00.",
        ),
        ("openings/0/end", "18:00", "18:00 to 18:00. Let it end later."),
        ("openings/0", 7, "openings[0]: expected a block of fields, got 7."),
        ("openings", [], "openings: it has 0 entries and needs at least 1. Add 1 or more."),
        ("openings", "mon", 'openings: expected a list, got "mon". Write it as [a, b]'),
        ("week/start", "2026-03-03", "week.start: 2026-03-03 is a Tuesday. The week starts on its Monday, 2026-03-02."),
        ("week/start", "soon", 'week.start: expected a date like 2026-03-02, got "soon". Write year-month-day.'),
        ("week/zone", "Berlin", "week.zone: 'Berlin' is no IANA time zone. Write one like Europe/Berlin"),
        ("week/repeats", "often", 'week.repeats: expected true or false, got "often".'),
        (
            "busy",
            [{"start": "x", "end": "2026-03-02T10:00"}],
            "busy[0].start: expected a date and time like 2026-03-02T",
        ),
        ("title", 12, "title: expected text, got 12. Put it in quotes."),
        ("title", "x" * 2001, "title: the text is longer than 300 characters. Shorten it."),
        ("lifter", {"status": "expert"}, 'lifter.status: "expert" is not known here.'),
        ("lifter", {"status": "qqq"}, "Write one of: novice, intermediate, advanced."),
        ("lifter", {"age_band": "18-49"}, "Did you mean '18_49'"),
        ("rules/pairing", "off", 'rules.pairing: expected names with values, got "off".'),
        (
            "exercises",
            {"most_per_week": {"row": 2.5}},
            "exercises.most_per_week.row: expected a whole number, got 2.5.",
        ),
        ("kinds", {str(number): {"per_week": 1} for number in range(21)}, "it has 21 entries and may have at most 20."),
    ],
)
def test_one_fault_of_a_brief_in_plain_words(path: str, value: object, message: str) -> None:
    with pytest.raises(InputError) as caught:
        validate(Brief, brief_with(path, value))
    assert message in str(caught.value)
    (fault,) = caught.value.faults
    assert str(fault).endswith((".", "?"))
    for jargon in ("Input", "Value error", "CountRange", "function-", "pydantic", "model_type", "instance"):
        assert jargon not in str(fault)


def nouns(kind: type[Frozen] = Frozen) -> Iterator[type[Frozen]]:
    for noun in kind.__subclasses__():
        yield noun
        yield from nouns(noun)


def test_no_noun_takes_a_value_of_another_type() -> None:
    """Whatever field is added: true is no number, a number in quotes neither, and a number is no date."""
    wrong: dict[str, tuple[object, ...]] = {
        "float": (True, "1"),
        "int": (False, "1"),
        "bool": (1, "yes"),
        "dt.date": (1, "1"),
        "Moment": (1, "1"),
        "ClockTime": (1, "1"),
        "Sets": (True, "1"),
    }
    looked = 0
    for noun in {BlockQuestion, LogQuestion, *nouns()}:
        for name, annotation in noun.__annotations__.items():
            for value in wrong.get(str(annotation).removesuffix(" | None"), ()):
                with pytest.raises(ValidationError) as caught:
                    noun.model_validate({name: value})
                assert name in {detail["loc"][0] for detail in caught.value.errors()}, (noun, name, value)
                looked += 1
    assert looked > 150


def test_whole_numbers_may_be_written_with_a_point() -> None:
    """3.0 is an integer of JSON Schema (validation, draft 2020-12, section 6.1.1)."""
    assert validate(Lift, {"exercise": "row", "load_kg": 50, "reps": 5.0}).reps == 5


def test_all_faults_are_said_at_once_and_below_the_prefix() -> None:
    document = brief_with("goals/lats/least", -1)
    document["openings"] = [{"day": "mon", "start": "18:00"}, "x"]
    del document["week"]
    with pytest.raises(InputError) as caught:
        validate(Brief, document, prefix="brief")
    assert {fault.path for fault in caught.value.faults} == {
        "brief.week",
        "brief.openings[0].end",
        "brief.openings[0].place",
        "brief.openings[1]",
        "brief.goals.lats.least",
    }


def test_a_value_that_fits_no_member_of_a_union_is_one_fault() -> None:
    row: dict[str, Any] = {"value": [2, 3], "unit": "sessions", "means": "m", "source": "s", "grade": "published"}
    assert validate(Evidence, row).value == (2, 3)
    for value, message in [
        ({"a": 1}, "value: expected a whole number or a number or text or a list, got a block of fields. Write one"),
        ([2, "x"], 'value[1]: expected a whole number, got "x"'),
        ([1, 2, 3], "value: it has 3 entries and may have at most 2"),
    ]:
        with pytest.raises(InputError) as caught:
            validate(Evidence, row | {"value": value})
        assert len(caught.value.faults) == 1
        assert str(caught.value).startswith(message)


def test_a_book_of_faults_is_cut_short_and_counted() -> None:
    started = time.perf_counter()
    with pytest.raises(InputError) as caught:
        validate(Brief, read(BRIEF) | {f"field{number}": 1 for number in range(50_000)})
    assert time.perf_counter() - started < 3
    assert len(caught.value.faults) == MOST_FAULTS + 1
    assert f"{50_000 - MOST_FAULTS} more faults are not shown" in str(caught.value)


def test_an_infinite_number_and_a_message_without_advice() -> None:
    with pytest.raises(InputError) as caught:
        validate(Lift, {"exercise": "row", "load_kg": float("inf"), "reps": 5})
    assert "load_kg: inf is " in str(caught.value)

    class Even(BaseModel):
        number: int

        @field_validator("number")
        @classmethod
        def _even(cls, value: int) -> int:
            if value % 2:
                raise ValueError(f"{value} is odd")
            return value

    with pytest.raises(InputError) as caught:
        validate(Even, {"number": 3})
    assert str(caught.value) == "number: 3 is odd. Correct the value."


def test_what_the_table_of_words_does_not_know_is_still_said_with_its_value() -> None:
    class Link(BaseModel):
        target: Path
        value: JsonValue
        code: bytes

    with pytest.raises(InputError) as caught:
        validate(Link, {"target": 3, "value": 1, "code": 4})
    assert [fault.path for fault in caught.value.faults] == ["target", "code"]
    assert all(", got " in fault.problem and fault.advice == "Correct the value." for fault in caught.value.faults)


VALUES: st.SearchStrategy[Any] = st.sampled_from(
    [None, True, -1, 0, 3, 10**17, 2.5, 1e308, "", "mon", "18:00", "24:00", "2026-03-02", "x" * 3000, [], {}, ["mon"],
     [[1]], {"least": 2, "most": 1}, {"a": None}, {"": {}}, [{}]]
)  # fmt: skip


PATHS = st.sampled_from(
    ["week", "week/start", "week/zone", "places", "places/hall", "places/hall/equipment", "openings", "openings/0",
     "openings/0/day", "openings/0/start", "openings/0/end", "kinds", "kinds/whole", "kinds/whole/per_week", "goals",
     "kinds/whole/sets", "goals/lats", "goals/lats/least", "goals/lats/frequency", "rules", "rules/pairing", "done",
     "rules/pairing/mode", "lifter", "exercises", "sessions", "history", "busy", "pinned", "previous", "expect"]
)  # fmt: skip


@given(path=PATHS, value=VALUES)
def test_any_value_anywhere_gives_a_brief_or_a_refusal_that_points_there(path: str, value: object) -> None:
    faults: tuple[Fault, ...] = ()
    try:
        assert isinstance(validate(Brief, brief_with(path, value)), Brief)
    except InputError as error:
        faults = error.faults
    top = path.split("/", maxsplit=1)[0]
    assert all(fault.path.startswith(top) for fault in faults)
