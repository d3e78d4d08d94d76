"""What does it cost: every point is a plan of its own, drawn with units, proved and unproved told apart by shape."""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from rich.console import Console

from scheduler.answers.tradeoff import read_values, sweep, unit_of, varying
from scheduler.answers.variants import patched
from scheduler.cli import main
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.domain.variants import Sweep, SweepPoint, Vary
from scheduler.planning import solve
from scheduler.reports.answers import render_sweep
from scheduler.reports.picture import draw_sweep, sweep_csv
from scheduler.week.solver import Limits

BRIEF = """
week: {start: 2026-03-02}
places: {gym: {base: full_gym}}
openings: [{day: [mon, tue, thu], start: "18:00", end: "18:30", place: gym}]
kinds:
  pull: {patterns: [horizontal_pull, vertical_pull], sets: {least: 2, most: 6}, minutes: {least: 0, most: 30},
    per_week: {least: 1, most: 3}}
sessions: {least: 1, most: 3}
goals: {lats: {least: 2, aim: 8, most: 14}}
exercises: {only: [machine_row, lat_pulldown, chin_up]}
rules: {stand_in: {mode: off}, coverage: {mode: off}}
"""


@pytest.fixture(scope="module")
def brief(tmp_path_factory: pytest.TempPathFactory) -> Brief:
    from scheduler.briefs import read_brief

    path = tmp_path_factory.mktemp("brief") / "brief.yaml"
    path.write_text(BRIEF)
    return read_brief(path)


def test_every_point_is_the_plan_of_its_brief(brief: Brief) -> None:
    found = sweep(brief, [Vary(path="goals.lats.aim", values=(4, 8, 12))])
    assert found.varied[0].unit == "counted sets a week"
    for point in found.points:
        plan = solve(patched(brief, {"goals": {"lats": {"aim": point.values[0]}}}))
        assert point.status == plan.status.value
        assert point.figures["wishes"] == plan.tiers[0].value
        assert point.figures["time"] == sum(s.minutes for s in plan.sessions)
    # More is never cheaper to fall short of.
    costs = [p.figures["wishes"] for p in found.points]
    assert costs == sorted(costs, key=lambda cost: cost or 0)
    assert found.cautions


def test_points_that_cannot_be_asked_or_planned_say_so(brief: Brief) -> None:
    found = sweep(brief, [Vary(path="goals.lats.least", values=(2, 9)), Vary(path="sessions", values=(1, 4))])
    assert [p.values for p in found.points] == [(2, 1), (2, 4), (9, 1), (9, 4)]
    assert found.points[1].status == "impossible"
    assert found.points[1].proved
    assert found.points[2].status.startswith("cannot be asked: ")
    assert not found.points[2].figures
    with pytest.raises(InputError):
        sweep(brief, [Vary(path="goals.latz.least", values=(2, 9))])
    with pytest.raises(InputError, match="points"):
        sweep(brief, [Vary(path="goals.lats.aim", values=tuple(range(200))), Vary(path="sessions", values=(1, 2))])


def test_out_of_time_it_says_what_is_proved(brief: Brief) -> None:
    found = sweep(brief, [Vary(path="sessions", values=(2,))], limits=Limits(wall_seconds=0.02))
    (point,) = found.points
    assert point.proved == (point.status in ("proved best", "impossible"))


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("1..3", (1, 2, 3)),
        ("36..48/4", (36, 40, 44, 48)),
        ("3..1", (3, 2, 1)),
        ("0.25..1/0.25", (0.25, 0.5, 0.75, 1)),
        ("2,3, 5.5", (2, 3, 5.5)),
        ("7", (7,)),
    ],
)
def test_ranges(text: str, values: tuple[float, ...]) -> None:
    assert read_values(text) == values


@pytest.mark.parametrize("text", ["", "1..", "a..b", "1..9/0", "1..100000", "mon"])
def test_no_ranges(text: str) -> None:
    with pytest.raises(InputError):
        read_values(text)


@pytest.mark.parametrize(
    ("path", "unit"),
    [
        ("goals.lats.aim", "counted sets a week"),
        ("kinds.pull.per_week.most", "sessions a week"),
        ("kinds.pull.minutes.most", "min"),
        ("goals.lats.recovery_hours", "h"),
        ("kinds.pull.sets.most", "sets"),
        ("rules.pairing.weight", ""),
    ],
)
def test_units(path: str, unit: str) -> None:
    assert unit_of(path) == unit


def drawn() -> Sweep:
    def point(x: int, y: int, status: str, proved: bool, figures: dict[str, Any]) -> SweepPoint:
        return SweepPoint(values=(x, y), status=status, proved=proved, figures=figures)

    return Sweep(
        varied=(Vary(path="a.minutes", values=(1, 2, 3), unit="min"), Vary(path="b", values=(1,))),
        units={"wishes": "cost", "lats": "counted sets a week"},
        points=(
            point(1, 1, "proved best", True, {"wishes": 4, "lats": 8.5}),
            point(2, 1, "feasible with bound", False, {"wishes": 4, "lats": 9}),
            point(3, 1, "impossible", True, {}),
        ),
        cautions=(),
    )


def test_csv_has_units_and_proof() -> None:
    rows = list(csv.reader(io.StringIO(sweep_csv(drawn()))))
    assert rows[0] == ["a.minutes (min)", "b", "answer", "proved", "wishes (cost)", "lats (counted sets a week)"]
    assert rows[1] == ["1", "1", "proved best", "yes", "4", "8.5"]
    assert rows[2][3] == "no"
    assert rows[3] == ["3", "1", "impossible", "yes", "", ""]
    assert varying(drawn()) == ["lats"]


def test_the_picture_has_units_shapes_and_repeats(tmp_path: Path) -> None:
    one, two = tmp_path / "one.svg", tmp_path / "two.svg"
    draw_sweep(drawn(), one, show="lats")
    draw_sweep(drawn(), two, show="lats")
    text = one.read_text()
    for words in ("a.minutes (min)", "lats (counted sets a week)", "proved best", "not proved", "no plan", "b = 1"):
        assert words in text
    assert text == two.read_text()
    draw_sweep(drawn(), tmp_path / "one.png", show="wishes")
    assert (tmp_path / "one.png").read_bytes().startswith(b"\x89PNG")
    with pytest.raises(InputError, match="unknown figure"):
        draw_sweep(drawn(), one, show="joy")


def test_without_matplotlib_it_says_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(InputError, match=r"weekwright\[plot\]"):
        draw_sweep(drawn(), tmp_path / "no.svg", show="wishes")


def test_the_command_writes_table_csv_and_picture(tmp_path: Path) -> None:
    path = tmp_path / "brief.yaml"
    path.write_text(BRIEF)
    table, picture = tmp_path / "a.csv", tmp_path / "a.svg"
    args = ["tradeoff", str(path), "--vary", "goals.lats.aim", "--over", "8..12/4"]
    result = CliRunner().invoke(main, [*args, "-o", str(table), "-o", str(picture)])
    assert result.exit_code == 0, result.output
    for words in ("goals.lats.aim", "proved best", "General information"):
        assert words in " ".join(result.output.split())
    assert len(table.read_text().splitlines()) == 3
    assert "<svg" in picture.read_text()
    assert CliRunner().invoke(main, [*args, "-o", "a.pdf"]).exit_code == 2
    assert CliRunner().invoke(main, [*args, "--vary", "sessions"]).exit_code == 2


MUSCLES = ("Pectorals", "Quadriceps", "Hamstrings", "Glutes", "Triceps", "Chest")


@pytest.mark.parametrize("names", [[f"Muscle {n}" for n in range(14)], MUSCLES], ids=["two words", "one word"])
@pytest.mark.parametrize("width", [24, 60, 70, 71, 72, 80, 200])
def test_no_figure_is_cut_off_where_the_table_is_wider_than_the_terminal(width: int, names: Sequence[str]) -> None:
    figures = {name: 10.5 + n for n, name in enumerate(names)}
    points = [
        SweepPoint(values=(x, 1), status="proved best", proved=True, figures={k: f + x for k, f in figures.items()})
        for x in (1, 3)
    ]
    found = drawn().model_copy(update={"points": tuple(points), "units": dict.fromkeys(figures, "sets")})
    stream = io.StringIO()
    render_sweep(found, Console(file=stream, width=width, _environ={}))
    words = stream.getvalue().split()
    for point in points:
        assert all(f"{figure:g}" in words for figure in point.figures.values())
    assert max(map(len, stream.getvalue().splitlines())) <= width
