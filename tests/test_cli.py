"""The command as a user runs it: exit codes, messages, files, Ctrl-C."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from scheduler.cli import main
from scheduler.documents import parse_text
from tests.benchmarks.briefs import case

# A small week: one muscle, two sessions; solved in well under a second.
SMALL = """
title: Small week
week: {start: 2026-11-30, zone: Europe/Berlin}
lifter: {name: client 07, status: novice}
places: {gym: {base: full_gym}}
openings:
  - {day: [mon, thu], start: "18:00", end: "19:30", place: gym}
kinds:
  pull: {base: pull, per_week: 2, sets: {least: 4, most: 12}}
goals: {lats: {aim: 6}}
exercises: {only: [lat_pulldown, seated_cable_row, chest_supported_dumbbell_row, back_extension]}
"""
IMPOSSIBLE = SMALL.replace("per_week: 2,", "per_week: 3,")


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(main, [str(a) for a in args])


@pytest.fixture
def brief(tmp_path: Path) -> Path:
    return written(tmp_path / "brief.yaml", SMALL)


def written(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def plan(brief: Path, tmp_path: Path) -> Path:
    out = tmp_path / "plan.json"
    assert run("plan", brief, "--out", out).exit_code == 0
    return out


def test_plan_shows_the_week(brief: Path) -> None:
    result = run("plan", brief)
    assert result.exit_code == 0, result.output
    for words in ("Small week", "Monday 30 November", "Thursday 3 December", "not medical advice", "proved"):
        assert words in result.output


def test_plan_json_is_the_whole_plan_and_fits_its_schema(brief: Path) -> None:
    result = run("plan", brief, "--json")
    found = json.loads(result.stdout)
    jsonschema.validate(found, json.loads(run("schema", "plan").stdout))
    assert found["status"] == "proved best"
    assert [t["proved"] for t in found["tiers"]] == [True] * len(found["tiers"])


def test_brief_fits_its_schema(brief: Path) -> None:
    schema = json.loads(run("schema", "brief").stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(parse_text(brief.read_bytes(), source="brief.yaml"), schema)
    broken = parse_text(SMALL.replace("zone:", "zoen:").encode(), source="brief.yaml")
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(broken, schema)


def test_an_impossible_week_has_exit_code_3(tmp_path: Path) -> None:
    result = run("plan", written(tmp_path / "brief.yaml", IMPOSSIBLE))
    assert result.exit_code == 3
    assert "mpossible" in result.output


@pytest.mark.parametrize("form", ["ics", "csv"])
def test_a_week_that_is_impossible_is_no_calendar(tmp_path: Path, form: str) -> None:
    plan = tmp_path / "plan.json"
    run("plan", written(tmp_path / "brief.yaml", IMPOSSIBLE), "-o", plan)
    result = run("export", plan, "--format", form)
    assert result.exit_code == 2
    assert "the plan holds no session: impossible" in result.output


def test_a_plan_checks_out_and_a_broken_one_does_not(plan: Path, tmp_path: Path) -> None:
    assert run("check", plan).exit_code == 0
    data = json.loads(plan.read_text())
    data["sessions"][1]["start"] = data["sessions"][1]["start"].replace("-03T", "-01T")
    data["sessions"][1]["end"] = data["sessions"][1]["end"].replace("-03T", "-01T")
    result = run("check", written(tmp_path / "moved.json", json.dumps(data)))
    assert result.exit_code == 3
    assert "Tuesday" in result.output


def test_a_plan_by_hand_is_checked(brief: Path, tmp_path: Path) -> None:
    hand = f"""
brief: {brief.name}
sessions:
  - kind: pull
    start: 2026-11-30 18:00
    end: 2026-11-30 18:45
    place: gym
    entries:
      - {{exercise: lat_pulldown, sets: 3}}
      - {{exercise: seated_cable_row, sets: 3}}
      - {{exercise: back_extension, sets: 2}}
  - kind: pull
    start: 2026-12-03 18:00
    end: 2026-12-03 18:45
    place: gym
    entries: [{{exercise: lat_pulldown, sets: 3}}, {{exercise: seated_cable_row, sets: 3}}]
"""
    result = run("check", written(tmp_path / "hand.yaml", hand))
    assert result.exit_code == 0, result.output
    assert "12" in result.output
    short = hand.replace("2026-12-03 18:45", "2026-12-03 18:10")
    result = run("check", written(tmp_path / "short.yaml", short))
    assert result.exit_code == 3
    assert "too short" in result.output


@pytest.mark.parametrize(("form", "sign"), [("ics", "BEGIN:VCALENDAR"), ("html", "<!doctype html>"), ("csv", "date,")])
def test_exports(plan: Path, tmp_path: Path, form: str, sign: str) -> None:
    out = tmp_path / f"week.{form}"
    assert run("export", plan, "--out", out).exit_code == 0
    assert out.read_text(encoding="utf-8").lower().startswith(sign.lower())
    assert sign.lower() in run("export", plan, "--format", form).stdout.lower()


def test_export_without_a_format_says_what_to_write(plan: Path) -> None:
    result = run("export", plan)
    assert result.exit_code == 2
    assert "--format" in result.stderr


def test_catalogue_is_searched(brief: Path) -> None:
    assert "exercises" in run("catalogue").output
    found = json.loads(run("catalogue", "exercises", "row", "cable", "--json").stdout)
    assert "seated_cable_row" in found
    assert "barbell_bench_press" not in found
    assert "McLester" in run("catalogue", "evidence", "recovery").output
    result = run("catalogue", "exercise")
    assert result.exit_code == 2
    assert "exercises" in result.stderr


def test_new_writes_a_brief_that_plans_and_overwrites_nothing(tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    assert run("new", path, "--monday", "2026-11-30").exit_code == 0
    before = path.read_bytes()
    jsonschema.validate(parse_text(before, source="mine.yaml"), json.loads(run("schema", "brief").stdout))
    again = run("new", path)
    assert again.exit_code == 2
    assert path.read_bytes() == before
    assert run("new", tmp_path / "other.yaml", "--monday", "2026-12-01").exit_code == 2
    result = run("plan", path, "--seconds", "20")
    assert result.exit_code == 0, result.output


BAD = {
    "unknown muscle": ("lats: {aim: 6}", "latz: {aim: 6}", "goals.latz", "lats"),
    "unknown field": ("zone:", "zoen:", "week.zoen", "zone"),
    "crossing sets": ("lats: {aim: 6}", "lats: {least: 9, aim: 6}", "goals.lats", "least 9"),
    "negative sets": ("lats: {aim: 6}", "lats: {aim: -6}", "goals.lats.aim", "-6"),
    "not a number": ("lats: {aim: 6}", "lats: {aim: .nan}", "line", "nan"),
    "backward opening": ('start: "18:00", end: "19:30"', 'start: "19:30", end: "18:00"', "openings[0]", "backwards"),
    "unknown zone": ("Europe/Berlin", "Europe/Berlim", "week.zone", "Europe/Berlim"),
    "not a monday": ("2026-11-30", "2026-12-01", "week.start", "2026-11-30"),
    "empty place": ("gym: {base: full_gym}", "gym: {}", "places.gym", "no equipment"),
    "unknown place": ("place: gym", "place: gmy", "openings[0].place", "gym"),
    "unknown rule": ("goals:", "rules: {recovry: {mode: off}}\ngoals:", "rules.recovry", "recovery"),
    "unknown mode": ("goals:", "rules: {recovery: {mode: maybe}}\ngoals:", "rules.recovery.mode", "maybe"),
    "duplicate key": ("goals:", "title: again\ngoals:", "line", "title"),
    "kind without numbers": ("pull: {base: pull,", "pull: {", "kinds.pull", "patterns"),
    "unknown exercise": ("[lat_pulldown,", "[lat_puldown,", "exercises.only", "lat_pulldown"),
    "calendar missing": ("goals:", "calendars: [none.ics]\ngoals:", "none.ics", "no such file"),
    "calendar elsewhere": ("goals:", "calendars: [../../x.ics]\ngoals:", "calendars[0]", "outside"),
}


@pytest.mark.parametrize("case", BAD, ids=list(BAD))
def test_bad_input_names_the_place_and_what_to_try(case: str, tmp_path: Path) -> None:
    old, new, where, hint = BAD[case]
    assert old in SMALL
    result = run("plan", written(tmp_path / "brief.yaml", SMALL.replace(old, new)))
    assert result.exit_code == 2, result.output
    assert where in result.stderr
    assert hint in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize("noise", [b"\x00\x01\x02" * 1000, b"\xff" * 10_000_000, b"- a\n- b\n", b"", b"[" * 100_000])
def test_noise_is_refused(noise: bytes, tmp_path: Path) -> None:
    path = tmp_path / "brief.yaml"
    path.write_bytes(noise)
    result = run("plan", path)
    assert result.exit_code == 2
    assert result.stderr.strip()


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    assert run("plan", tmp_path / "none.yaml").exit_code == 2
    assert run("plan", tmp_path).exit_code == 2
    assert run("check", tmp_path / "none.json").exit_code == 2


def test_ctrl_c_keeps_the_best_week_found(tmp_path: Path) -> None:
    """A week that holds less than is asked of it, from all exercises, is interrupted: the plan so far, as stopped."""
    hard = tmp_path / "hard.json"
    hard.write_text(case("over_tight", 7, exercises=120).brief.model_dump_json())
    env = {**os.environ, "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        [sys.executable, "-m", "scheduler.cli", "plan", str(hard), "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=env,
    )
    time.sleep(3)
    running = process.poll() is None
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert running, "the brief was solved before it could be interrupted: make it harder"
    assert b"Traceback" not in err
    assert process.returncode in (0, 4), err
    found = json.loads(out)
    assert found["status"] == "stopped"
    if process.returncode == 0:
        assert found["sessions"]


def test_a_brief_without_a_calendar_loads_no_calendar_reader(brief: Path) -> None:
    """Nor what pages and pictures are made with: starting up should not wait for what is not used."""
    script = (
        "import sys; from pathlib import Path; from scheduler import read_brief, solve\n"
        f"solve(read_brief(Path({str(brief)!r})))\n"
        "print([m for m in ('icalendar', 'jinja2', 'matplotlib', 'rich', 'distributed') if m in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
    assert ran.stdout.strip() == "[]"
