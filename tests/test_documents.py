"""Bad documents must be refused quickly and in plain words; good ones must keep a person's meaning."""

from __future__ import annotations

import json
import time
from typing import Any

import pytest
import yaml
from hypothesis import example, given
from hypothesis import strategies as st

from scheduler import documents
from scheduler.documents import MOST_ALIASES, MOST_DEPTH, PLAN_BYTES, parse_text, validate
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError

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
        ('{"a": 1, "a": 2}', 'a: the field "a" is written twice'),
        ('{"b": [0, {"c": 1, "d.e": 2, "d.e": 3}]}', 'b[1].d.e: the field "d.e" is written twice'),
        ('{"goals": {"lats": {"aim": NaN}}}', "goals.lats.aim: NaN is no finite number"),
        ('{"busy": [1, -Infinity]}', "busy[1]: -Infinity is no finite number"),
        ('{"busy": [{"start": 1e999}]}', "busy[0].start: 1e999 is no finite number"),
        (f'{{"seed": {"9" * 30}}}', "seed: a number has more than 18 digits"),
        ('{"places": {"hall": "\\ud800"}}', "places.hall: an escaped character is no character of any text"),
        ('{"places": {"h\\u0000": 1}}', "places: an escaped character is no character of any text"),
        (f'{{"a": {{"{"n" * 400}": NaN}}}}', "a: NaN is no finite number"),
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
