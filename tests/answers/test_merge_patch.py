"""RFC 7396, appendix A: its fifteen test cases."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from scheduler.answers.merge_patch import merge_patch, patch_of

CASES: list[tuple[Any, Any, Any]] = [
    ({"a": "b"}, {"a": "c"}, {"a": "c"}),
    ({"a": "b"}, {"b": "c"}, {"a": "b", "b": "c"}),
    ({"a": "b"}, {"a": None}, {}),
    ({"a": "b", "b": "c"}, {"a": None}, {"b": "c"}),
    ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
    ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
    ({"a": {"b": "c"}}, {"a": {"b": "d", "c": None}}, {"a": {"b": "d"}}),
    ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
    (["a", "b"], ["c", "d"], ["c", "d"]),
    ({"a": "b"}, ["c"], ["c"]),
    ({"a": "foo"}, None, None),
    ({"a": "foo"}, "bar", "bar"),
    ({"e": None}, {"a": 1}, {"e": None, "a": 1}),
    ([1, 2], {"a": "b", "c": None}, {"a": "b"}),
    ({}, {"a": {"bb": {"ccc": None}}}, {"a": {"bb": {}}}),
]


@pytest.mark.parametrize(("target", "patch", "result"), CASES)
def test_appendix_a(target: Any, patch: Any, result: Any) -> None:
    before = copy.deepcopy((target, patch))
    assert merge_patch(target, patch) == result
    assert (target, patch) == before


def test_a_dotted_path_becomes_a_patch() -> None:
    assert merge_patch({"goals": {"lats": {"aim": 8, "least": 4}}}, patch_of("goals.lats.aim", 12)) == {
        "goals": {"lats": {"aim": 12, "least": 4}}
    }
