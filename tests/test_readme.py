"""The examples of the README show what the commands say: each line shown comes in the output, in that order."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from scheduler.cli import main

ROOT = Path(__file__).resolve().parents[1]
EXAMPLES = re.findall(r"```text\n(\$ weekwright .*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)


def test_every_question_has_an_example() -> None:
    commands = {word for example in EXAMPLES for word in re.findall(r"^\$ weekwright ([a-z-]+)", example, re.MULTILINE)}
    assert commands >= {"why", "why-not", "what-if", "alternatives", "tradeoff", "replan", "check"}


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda e: e.partition("\n")[0][2:])
def test_an_example_is_what_the_command_says(example: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "scenarios").symlink_to(ROOT / "scenarios")
    monkeypatch.chdir(tmp_path)
    text = example.replace("\\\n", " ")
    output: list[str] = []
    for line in text.splitlines():
        if line.startswith("$ "):
            output = CliRunner().invoke(main, shlex.split(line)[2:]).output.splitlines()
            output = [row.rstrip() for row in output]
        elif line.strip() and line != "...":
            assert line.rstrip() in output, line
            del output[: output.index(line.rstrip()) + 1]
