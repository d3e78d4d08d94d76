"""Bad documents must be refused quickly and in plain words; good ones must keep a person's meaning."""

from __future__ import annotations

import copy
import json
import time
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import example, given
from hypothesis import strategies as st
from pydantic import BaseModel, JsonValue, field_validator

from scheduler import documents
from scheduler.document_faults import MOST_FAULTS
from scheduler.documents import MOST_ALIASES, MOST_DEPTH, PLAN_BYTES, parse_text, validate
from scheduler.domain.brief import Brief, Lift
from scheduler.domain.catalogue import Evidence
from scheduler.domain.errors import Fault, InputError

BRIEF = """
week: {start: 2026-03-02, zone: Europe/Berlin}
places: {hall: {equipment: {dumbbell: {count: 2, heaviest_kg: 30}}}}
openings:
  - {day: mon, start: 18:00, end: 20:00, place: hall}
  - {day: [thu, fri], start: 07:00, end: 08:30, place: hall}
kinds: {whole: {per_week: 2, sets: {least: 8, most: 16}}}
goals: {lats: {least: 8, aim: 10.5, most: 14}}
rules: {pairing: {mode: off}}
"""


@pytest.fixture(params=["C parser", "Python parser"])
def _each_parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if request.param == "Python parser":
        monkeypatch.setattr(documents, "_LOADER", yaml.SafeLoader)


def read(text: str, source: str = "brief.yaml") -> dict[str, Any]:
    return parse_text(text.encode(), source=source)


def refused(data: str | bytes, source: str = "brief.yaml", **limits: int) -> str:
    """The one message of a refusal; checks on the way that it is quick and ends as a sentence."""
    started = time.perf_counter()
    with pytest.raises(InputError) as caught:
        parse_text(data.encode() if isinstance(data, str) else data, source=source, **limits)
    assert time.perf_counter() - started < 3
    assert len(caught.value.faults) == 1
    message = str(caught.value)
    assert message.endswith(".")
    assert ".." not in message
    assert len(message) < 400
    return message


# ------------------------------------------------------------------------------------------------ what is meant


@pytest.mark.usefixtures("_each_parser")
@pytest.mark.parametrize(
    ("written", "meant"),
    [
        # YAML 1.2.2, section 10.3.2, the table of the core schema, and its examples in section 10.3.
        *((word, None) for word in ("", "null", "Null", "NULL", "~")),
        *((word, True) for word in ("true", "True", "TRUE")),
        *((word, False) for word in ("false", "False", "FALSE")),
        *((text, number) for text, number in (("0", 0), ("0o7", 7), ("0x3A", 58), ("-19", -19), ("+12", 12))),
        *((text, number) for text, number in (("0.", 0.0), ("-0.0", 0.0), (".5", 0.5), ("+12e03", 12000.0))),
        ("-2E+05", -200000.0),
        ("012", 12),
        # What YAML 1.1 would have changed under the writer's hands.
        *((word, word) for word in ("off", "on", "yes", "no", "Off", "y", "n")),
        *((text, text) for text in ("18:00", "1:30:00", "2026-03-02", "2026-03-02T18:00:00", "18_49", "1_000")),
        *((text, text) for text in ("0b1", "+", ".", "1.2.3", "12kg", "=")),
        ('"12"', "12"),
        ("'true'", "true"),
    ],
)
def test_plain_words_follow_yaml_1_2(written: str, meant: object) -> None:
    value = read(f"field: {written}\n")["field"]
    assert value == meant
    assert type(value) is type(meant)


@pytest.mark.usefixtures("_each_parser")
def test_yaml_and_json_of_one_brief_are_one_brief() -> None:
    from_yaml = read(BRIEF)
    assert from_yaml["rules"] == {"pairing": {"mode": "off"}}
    assert from_yaml["openings"][1]["start"] == "07:00"
    text = json.dumps(from_yaml)
    assert read(text, "brief.json") == from_yaml
    assert read(" \n" + text, "request") == from_yaml  # by its first character
    assert read("\ufeff" + text, "brief.json") == from_yaml  # past a byte-order mark
    assert validate(Brief, from_yaml).goals["lats"].aim == 10.5


@pytest.mark.usefixtures("_each_parser")
def test_an_alias_is_a_copy_of_its_own() -> None:
    document = read("a: &sets {least: 8}\nb: *sets\n")
    assert document["b"] == {"least": 8}
    document["b"]["least"] = 9
    assert document["a"] == {"least": 8}


def test_as_many_aliases_and_levels_as_allowed_are_read() -> None:
    assert len(read(f"a: &x 1\nb: [{'*x,' * MOST_ALIASES}]")["b"]) == MOST_ALIASES
    inner = MOST_DEPTH - 1
    read(f"a: {'[' * inner}{']' * inner}")
    read(f'{{"a": {"[" * inner}{"]" * inner}}}')


# ------------------------------------------------------------------------------------------------ what is refused

EXPLOSION = "a: &a [x,x,x,x,x,x,x,x,x]\n" + "".join(
    f"{name}: &{name} [{','.join(['*' + before] * 9)}]\n" for before, name in zip("abcdefgh", "bcdefghi", strict=True)
)
"""Written out: 9 to the 9th values."""


@pytest.mark.usefixtures("_each_parser")
@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a: 1\nb:\n  c: 1\n  c: 2\n", 'line 4, column 3: the field "c" is written twice'),
        ("a: 1\n'a': 1\n", "line 2, column 1"),
        ("12: a", "line 1, column 1: a field's name must be text, got 12. Put the name in quotes."),
        ("true: a", "must be text, got true"),
        ("? [a, b]\n: 1", "must be text, got a list or block"),
        ("a: .nan", "line 1, column 4: .nan is no finite number"),
        ("a: -.INF", "-.INF is no finite number"),
        ("a: [1, 1e999]", "line 1, column 8: 1e999 is no finite number"),
        (f"a: {'9' * 5000}", "a number has more than 18 digits"),
        (f"a: 0.{'9' * 5000}", "a number has more than 40 characters"),
        ("a: 1\n---\nb: 1", "a second document begins. Keep one"),
        ("", "brief.yaml: the document is empty"),
        (" \n\t\n", "the document is empty"),
        ("# only a comment\n", "the document is empty"),
        ("- a\n- b\n", "brief.yaml: the document holds a list, not a block of fields"),
        ("only words", "the document holds a single value"),
        ("---", "the document holds nothing"),
        ("a: !!python/object/apply:os.system [ls]", "line 1, column 4: the tag"),
        ("a: !mine 1", "the tag '!mine' is not read here"),
        ("a: &x {b: 1}\nc:\n  <<: *x\n", "line 3, column 3: merge keys"),
        ("a: &x [*x]", "the alias *x stands before the end of its anchor"),
        ("a: *x", "the alias *x stands before"),
        (f"a: &x 1\nb: [{'*x,' * (MOST_ALIASES + 1)}]", "more than 100 aliases"),
        (EXPLOSION, "more than 200,000 values"),
        (f"a: {'[' * MOST_DEPTH}{']' * MOST_DEPTH}", "deeper than 60 levels"),
        (f"a: &x {'[' * 40}{']' * 40}\nb: {'[' * 40}*x{']' * 40}", "line 2, column 44: the document nests deeper"),
        ("- " * 450_000, "deeper than 60 levels"),
        ("[" * 900_000, "deep|depth"),
        ("a: b: c", "line 1, column 5: this is not valid YAML: mapping values are not allowed"),
        ("a: [1, 2", "this is not valid YAML"),
        ("a:\n\t- b", "line 2, column 1: this is not valid YAML"),
        ("a: @b", "this is not valid YAML"),
        ("\x07: a", "this is not valid YAML"),
        ("%YAML 9.1\n---\na: 1", "this is not valid YAML"),
        ('a: "\\0"', "an escaped character"),
        ('a: "\\ud800"', "an escaped character|not valid YAML"),
        ('a: "\\UFFFFFFFF"', "an escaped character|not valid YAML"),
    ],
)
def test_bad_yaml(text: str, message: str) -> None:
    found = refused(text)
    assert any(part in found for part in message.split("|")), found  # the two parsers differ in a few words


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('{"a": 1, "a": 2}', 'brief.json: the field "a" is written twice'),
        ('{"a": [{"b": 1, "c": 1, "b": 1}]}', 'the field "b" is written twice'),
        ('{"a": NaN}', "NaN is no finite number"),
        ('{"a": -Infinity}', "-Infinity is no finite number"),
        ('{"a": 1e999}', "1e999 is no finite number"),
        (f'{{"a": {"9" * 5000}}}', "more than 18 digits"),
        ('{\n "a": 1,\n}', "line 3, column 1: this is not valid JSON"),
        ("{'a': 1}", "line 1, column 2: this is not valid JSON"),
        ('{"a": 1} {"b": 1}', "line 1, column 10: this is not valid JSON"),
        ('{"a": "\n"}', "this is not valid JSON"),
        ("a: 1", "this is not valid JSON"),
        ("[1]", "brief.json: the document holds a list"),
        ("null", "the document holds nothing"),
        ("", "the document is empty"),
        ('{"a":' * 150_000, "deeper than 60 levels"),
        (f'{{"a": {"[" * MOST_DEPTH}{"]" * MOST_DEPTH}}}', "deeper than 60 levels"),
        ('{"a": "\\u0000"}', "an escaped character"),
        ('{"\\udc00": 1}', "an escaped character"),
    ],
)
def test_bad_json(text: str, message: str) -> None:
    assert message in refused(text, "brief.json")


def noise(size: int) -> bytes:
    return bytes((number * number * 31 + number * 7 + 128) % 255 + 1 for number in range(1000)) * (size // 1000)


def test_ten_megabytes_of_noise() -> None:
    assert "brief.yaml: the document has 10.0 MB, more than the 1 MB read here" in refused(noise(10_000_000))
    assert "no UTF-8 text: byte 1 fits" in refused(noise(10_000_000), max_bytes=PLAN_BYTES)
    assert "zero bytes" in refused(bytes(10_000_000), max_bytes=PLAN_BYTES)


@pytest.mark.parametrize("text", ["a: é", "a: 1"])
def test_other_encodings_are_refused(text: str) -> None:
    assert "UTF-8" in refused(text.encode("utf-16"))
    assert "UTF-8" in refused("a: é".encode("latin-1"))


@given(st.binary(max_size=300) | st.text(alphabet="ab:-?&*!|>'\"%@{}[],# \n\t1.~<é", max_size=60).map(str.encode))
@example(b"a: &a")
@example(b"!")
@example(b"? ")
@example(b"{")
def test_any_bytes_give_a_mapping_or_a_refusal(data: bytes) -> None:
    for source in ("any.yaml", "any.json"):
        try:
            document = parse_text(data, source=source)
        except InputError:
            continue
        assert isinstance(document, dict)
        json.dumps(document, allow_nan=False, ensure_ascii=False).encode()  # finite, and text that can be stored


@given(st.dictionaries(st.text("ab\"'\\é:# ", max_size=5), st.recursive(
    st.none() | st.booleans() | st.integers(-10**17, 10**17) | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["C"]), max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text("abc", max_size=3), inner, max_size=3),
)))  # fmt: skip
def test_json_written_by_another_program_reads_back(document: dict[str, Any]) -> None:
    """Python's own writer is the other program."""
    assert parse_text(json.dumps(document).encode(), source="any.json") == document
    assert parse_text(json.dumps(document, ensure_ascii=False).encode(), source="request") == document


# ------------------------------------------------------------------------------------------------ faults of models


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
        ("goals/lats/least", "ten", 'goals.lats.least: expected a number, got "ten". Write it in digits, like 2.5.'),
        ("goals/lats/least", 3.3, "goals.lats.least: 3.3 is no whole number of quarter sets. Use steps of 0.25."),
        ("goals/lats/least", 12, "goals.lats: the sets cross: least 12 is above aim 10.5. Lower one."),
        ("goals/lats/priority", 4, "goals.lats.priority: 4 is not known here. Write one of: 1, 2, 3."),
        ("goals/lats", None, "goals.lats: expected a block of fields, got nothing. Write it as {least: ..., aim: ...}"),
        ("kinds/whole/per_week", "2", 'kinds.whole.per_week: expected a block of fields, got "2". Write it as {least'),
        ("kinds/whole/per_week", 20_000, "kinds.whole.per_week: 20000 is too large: at most 10000."),
        ("kinds/whole/sets", {"least": 9, "most": 8}, "kinds.whole.sets: the range runs backwards: least 9 is above"),
        ("kinds/whole/sets", {"least": 9}, 'kinds.whole.sets.most: the field "most" is missing. Add "most" here.'),
        ("openings/1/start", "25:00", 'openings[1].start: expected a clock time like 18:00, got "25:00". Write hours'),
        ("openings/1/day/1", "Friday", "openings[1].day[1]: \"Friday\" is not known here. Did you mean 'fri'?"),
        ("openings/0/day", "mun", "openings[0].day: \"mun\" is not known here. Did you mean 'sun' or 'mon'"),
        ("openings/0/end", "17:00", "openings[0]: the opening runs backwards: 18:00 to 17:00. Swap them."),
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
        ("title", "x" * 2001, "title: the text is longer than 2000 characters. Shorten it."),
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
