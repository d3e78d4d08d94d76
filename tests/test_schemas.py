"""The published schemas, held against real documents by an independent validator."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from scheduler.blocks.build import plan_block
from scheduler.cli.week import DOCUMENTS
from scheduler.documents import parse_text
from scheduler.domain.block import BlockSettings
from scheduler.schemas import SCHEMAS
from tests.blocks.small import small

BLOCKS = sorted((Path(__file__).parents[1] / "scenarios" / "blocks").glob("*.yaml"))


def validate(document: Any, name: str) -> None:
    jsonschema.validate(document, SCHEMAS[name](), jsonschema.Draft202012Validator)


def test_the_command_offers_them_all() -> None:
    assert set(DOCUMENTS) == set(SCHEMAS)


@pytest.mark.parametrize("name", SCHEMAS)
def test_each_is_a_schema(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMAS[name]())


@pytest.mark.parametrize("path", BLOCKS, ids=lambda p: p.stem)
def test_what_asks_for_a_block_fits(path: Path) -> None:
    validate(parse_text(path.read_bytes(), source=path.name), "block-request")


@pytest.mark.parametrize(
    "changes",
    [{"brief": {"title": "no week"}}, {"block": {"weeks": 99}}, {"block": {"wekes": 1}}, {"blok": {}}, {"brief": None}],
)
def test_what_asks_for_no_block_does_not_fit(changes: dict[str, Any]) -> None:
    with pytest.raises(jsonschema.ValidationError):
        validate({"brief": "week.yaml", **changes}, "block-request")


def test_a_block_fits() -> None:
    found = plan_block(small(), BlockSettings(weeks=1, easy_weeks=0))
    document = json.loads(found.model_dump_json())
    validate(document, "block")
    with pytest.raises(jsonschema.ValidationError):
        validate({**document, "weeks": None}, "block")


def test_a_rule_takes_the_modes_that_it_has() -> None:
    """As the brief's own check: a measure is no must, and what the planner makes nothing else of no wish."""
    rules = SCHEMAS["brief"]()["properties"]["rules"]["properties"]
    assert rules["few_sets"]["properties"]["mode"]["enum"] == ["wish", "off", None]
    assert rules["prescription"]["properties"]["mode"]["enum"] == ["must", "off", None]
    assert rules["recovery"]["properties"]["mode"]["enum"] == ["must", "wish", "off", None]


def test_a_log_fits() -> None:
    text = """
        week: "2026-11-30"
        sessions:
          - {kind: upper, day: mon, as_planned: true}
          - kind: lower
            day: wed
            start: "18:30"
            exercises: [{exercise: leg_press, sets: 3, reps: 12, load_kg: 160, reps_in_reserve: 2, pain: left knee}]
        """
    log = yaml.safe_load(text)
    validate(log, "log")
    validate({**log, "cleared": ["leg_press"]}, "log")
    for wrong in (
        {"sessions": []},
        {**log, "cleared": [1]},
        {**log, "day": "mon"},
        {**log, "sessions": [{"kind": "upper", "day": "monday"}]},
    ):
        with pytest.raises(jsonschema.ValidationError):
            validate(wrong, "log")
