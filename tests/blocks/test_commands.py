"""The commands of a block, from a brief to the sheet, the calendar and the next week."""

from __future__ import annotations

import csv
import io
import json
import re
import shlex
from collections import Counter
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result
from icalendar import Calendar

from scheduler.blocks.build import plan_block
from scheduler.briefs import read_block
from scheduler.cli import main
from scheduler.domain.block import Block, BlockSettings
from scheduler.domain.errors import InputError
from scheduler.domain.units import DAYS
from scheduler.reports.block import asked_rows, remarks, render_block_html
from tests.blocks.small import SMALL, small

PULLDOWN = "Lat pulldown, wide overhand grip"
SCENARIOS = Path(__file__).parents[2] / "scenarios"


def run(*args: str) -> Result:
    return CliRunner().invoke(main, list(args))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path: Path = tmp_path_factory.mktemp("block")
    (path / "brief.json").write_text(json.dumps(SMALL), encoding="utf-8")
    names = [f"block.{end}" for end in ("json", "ics", "html", "csv", "svg")]
    outs = [word for name in names for word in ("-o", str(path / name))]
    result = run("block", str(path / "brief.json"), "--weeks", "2", *outs)
    assert result.exit_code == 0, result.output
    (path / "shown.txt").write_text(result.output, encoding="utf-8")
    return path


def test_it_is_shown_with_its_cautions(folder: Path) -> None:
    shown = (folder / "shown.txt").read_text(encoding="utf-8")
    assert "2 building and 1 easy week from" in shown
    assert "proved best" in shown
    assert "medical advice" in shown


def test_one_calendar_holds_every_session_once(folder: Path) -> None:
    calendar = Calendar.from_ical((folder / "block.ics").read_bytes())
    uids = [str(event["uid"]) for event in calendar.walk("VEVENT")]
    assert len(uids) == len(set(uids)) == 9
    assert len(list(calendar.walk("VTIMEZONE"))) == 1


def test_the_sheet_needs_no_network_and_holds_every_exercise(folder: Path) -> None:
    page = (folder / "block.html").read_text(encoding="utf-8")
    found = Block.model_validate_json((folder / "block.json").read_text(encoding="utf-8"))
    assert not re.search(r"https?://|<script|@import|url\(", page)
    assert "medical advice" in page
    for week in found.weeks:
        assert all(entry.name in page for session in week.plan.sessions for entry in session.entries)


def test_what_is_said_of_several_weeks_is_said_once() -> None:
    found = plan_block(small(), BlockSettings(weeks=3, easy_weeks=0))
    one, two, three = found.weeks
    weeks = (one, two.model_copy(update={"moved": ("A",)}), three.model_copy(update={"moved": ("A",), "notes": ("B",)}))
    assert remarks(found.model_copy(update={"weeks": weeks})) == [("weeks 2 to 3", "A"), ("week 3", "B")]


def test_names_are_escaped_on_the_sheet() -> None:
    found = plan_block(small({"title": "<script>alert(1)</script>"}), BlockSettings(weeks=1, easy_weeks=0))
    page = render_block_html(found)
    assert "<script" not in page
    assert "&lt;script" in page


def test_the_picture_says_the_figures_of_every_muscle_and_week(folder: Path) -> None:
    picture = ElementTree.parse(folder / "block.svg")
    texts = Counter(node.text for node in picture.iter("{http://www.w3.org/2000/svg}text"))
    block = Block.model_validate_json((folder / "block.json").read_text(encoding="utf-8"))
    asked = asked_rows(block)
    assert {row.name for row in asked} <= set(texts)
    figures = Counter(f"{m.counted:g}" for row in asked for m in row.weeks)
    assert all(texts[figure] >= number for figure, number in figures.items())
    assert texts["easy"] == 1
    assert any("medical advice" in (text or "") for text in texts)


def test_the_table_has_a_row_a_muscle_and_week(folder: Path) -> None:
    rows = list(csv.DictReader(io.StringIO((folder / "block.csv").read_text(encoding="utf-8"))))
    assert {row["week"] for row in rows} == {"1", "2", "3"}
    assert all(float(row["load (kg)"]) > 0 for row in rows if row["muscle"] == "quads")


def test_a_log_plans_the_next_week(folder: Path) -> None:
    log = {"week": "2026-11-30", "sessions": []}
    (folder / "log.json").write_text(json.dumps(log), encoding="utf-8")
    result = run("log", str(folder / "block.json"), str(folder / "log.json"), "-o", str(folder / "next.json"))
    assert result.exit_code == 0, result.output
    assert result.output.count("missed") >= 3
    assert "medical advice" in result.output
    late = {"week": "2026-12-21", "sessions": []}
    (folder / "late.json").write_text(json.dumps(late), encoding="utf-8")
    again = run("log", str(folder / "next.json"), str(folder / "late.json"))
    assert again.exit_code == 2
    assert "week 2, 2026-12-07" in again.output


def test_what_was_planned_before_the_log_is_an_outlook_with_the_loads_since(folder: Path) -> None:
    """Three squats fewer than asked, to failure: the weeks planned before must not stand at the loads of before."""
    before = Block.model_validate_json((folder / "block.json").read_text(encoding="utf-8"))
    sessions: list[dict[str, Any]] = []
    for session in before.weeks[0].plan.sessions:
        short = {"barbell_back_squat": {"less": 3}, "lat_pulldown": {"less": 0, "pain": "left elbow"}}
        hurt = [
            {"exercise": e.exercise, "sets": e.sets, "reps": e.reps - how.pop("less"), "load_kg": e.load_kg}
            | {"reps_in_reserve": 0}
            | how
            for e in session.entries
            if (how := dict(short.get(e.exercise, {})))
        ]
        day = DAYS[session.start.weekday()].value
        sessions.append({"kind": session.kind, "day": day, "as_planned": True, "exercises": hurt})
    (folder / "hurt.json").write_text(json.dumps({"week": "2026-11-30", "sessions": sessions}), encoding="utf-8")
    outs = [word for end in ("json", "ics", "html", "csv", "svg") for word in ("-o", str(folder / f"since.{end}"))]
    result = run("log", str(folder / "block.json"), str(folder / "hurt.json"), *outs)
    assert result.exit_code == 0, result.output
    found = Block.model_validate_json((folder / "since.json").read_text(encoding="utf-8"))
    assert [w.outlook for w in found.weeks] == [False, False, True]

    def load(block: Block, exercise: str) -> float | None:
        return next(e.load_kg for s in block.weeks[2].plan.sessions for e in s.entries if e.exercise == exercise)

    was, now = (load(block, "barbell_back_squat") for block in (before, found))
    assert was is not None
    assert now is not None
    assert now < was
    assert found.weeks[2].left_out == ("lat_pulldown",)
    assert load(before, "lat_pulldown") is not None
    assert load(found, "lat_pulldown") is None

    events = Calendar.from_ical((folder / "since.ics").read_bytes()).walk("VEVENT")
    last = [e for e in events if e.decoded("dtstart").date() >= found.monday(3)]
    assert len(last) == 3
    assert all(str(e["summary"]).endswith(" (outlook)") and "An outlook: " in str(e["description"]) for e in last)
    assert any(f"{PULLDOWN}: left out until a log says" in str(e["description"]) for e in last)
    assert not any("outlook" in f"{e['summary']} {e['description']}" for e in events if e not in last)

    page = (folder / "since.html").read_text(encoding="utf-8")
    heads = re.findall(r'<th scope="col"[^>]*>(\d.*?)</th>', page)
    assert ["outlook" in head for head in heads] == [False, False, True] * 2
    row = next(part for part in page.split("</tr>") if f"{PULLDOWN}</th>" in part)
    assert re.findall(r"<td[^>]*>(.*?)</td>", row)[1:] == ["", "if cleared"]
    assert "Week 3: An outlook: planned before" in page
    table = list(csv.DictReader(io.StringIO((folder / "since.csv").read_text(encoding="utf-8"))))
    assert {(r["week"], r["outlook"]) for r in table} == {("1", ""), ("2", ""), ("3", "outlook")}
    picture = ElementTree.parse(folder / "since.svg")
    assert [n.text for n in picture.iter("{http://www.w3.org/2000/svg}text")].count("outlook") == 1


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--set", "goals.lats.aim=9"], "names no weeks"),
        (["--patch", "travel.yaml"], "names no weeks"),
        (["--patch", "2=nowhere.yaml"], "cannot be read"),
        (["-o", "block.doc"], "is no"),
        (["--weeks", "1", "--easy-weeks", "2"], "Ask for fewer"),
        (["--set", "10-: sessions=2"], "names no weeks"),
    ],
)
def test_bad_options_are_told(folder: Path, args: list[str], words: str) -> None:
    result = run("block", str(folder / "brief.json"), *args)
    assert result.exit_code == 2, result.output
    assert words in result.output


def test_an_impossible_week_says_why(folder: Path) -> None:
    one_day = '2: openings=[{day: mon, start: "18:00", end: "20:00", place: gym}]'
    result = run("block", str(folder / "brief.json"), "--weeks", "2", "--set", one_day)
    assert result.exit_code == 3, result.output
    assert "Week 2 is impossible" in result.output
    assert "cannot hold together" in result.output
    mend = next(line for line in result.output.splitlines() if "for that week: --set" in line)
    _, _, way_out = mend.partition("--set ")
    again = run("block", str(folder / "brief.json"), "--weeks", "2", "--set", one_day, *shlex.split(f"--set {way_out}"))
    assert "Week 2 is impossible" not in again.output, again.output


def test_fewer_days_by_an_option(folder: Path) -> None:
    fewer = ["--set", "2-: sessions=2", "--set", "2-: kinds.upper.per_week=1"]
    result = run("block", str(folder / "brief.json"), "--weeks", "2", "--easy-weeks", "0", *fewer, "--json")
    assert result.exit_code == 0, result.output
    assert [len(w["plan"]["sessions"]) for w in json.loads(result.output)["weeks"]] == [3, 2]


def test_what_if_is_shown_beside_the_block_before(folder: Path) -> None:
    fewer = ["--set", "2-: sessions=2", "--set", "2-: kinds.upper.per_week=1", "--beside", str(folder / "block.json")]
    result = run("block", str(folder / "brief.json"), "--weeks", "2", *fewer)
    assert result.exit_code == 0, result.output
    told = " ".join(result.output.partition("Beside the block before")[2].split())
    assert "week 1:" not in told
    assert "week 2: sessions 3 to 2" in told
    assert "week 3: sessions 3 to 2" in told
    same = run("block", str(folder / "brief.json"), "--weeks", "2", "--beside", str(folder / "block.json"))
    assert "nothing is different" in same.output
    assert run("block", str(folder / "brief.json"), "--beside", str(folder / "brief.json")).exit_code == 2


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("brief: {}\nblok: {}\n", "'blok' is no part"),
        ("block: {}\n", "there is no brief"),
        ("[1]", "list|mapping|pairs"),
    ],
)
def test_files_that_are_no_block(tmp_path: Path, text: str, match: str) -> None:
    path = tmp_path / "b.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=match):
        read_block(path)


def test_calendars_are_read_for_every_week() -> None:
    brief, settings = read_block(SCENARIOS / "blocks" / "back_first.yaml")
    dates: list[Any] = [time.start.date() for time in brief.busy]
    assert settings.weeks == 8
    assert (max(dates) - brief.week.start).days > 7
    assert len(set(brief.busy)) == len(brief.busy)
