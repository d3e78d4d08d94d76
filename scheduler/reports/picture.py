"""A sweep or a block as a picture, a sweep as comma-separated values. Drawn by matplotlib, an optional extra."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any, BinaryIO

from scheduler.domain import wording
from scheduler.domain.block import BlockRow, BlockWeek, WeekRole
from scheduler.domain.errors import InputError
from scheduler.domain.variants import Sweep, SweepPoint

SHAPES = {"proved best": "o", "not proved": "^", "no plan": "x"}
"""Points are told apart by shape, lines by dashes: neither needs colour."""
_MOST_TICKS = 20
_DASHES = ("-", "--", "-.", ":")
_SOLID = "#222222"
_EASY = {WeekRole.EASY: ("easy",)}
_BLOCK_KEY = (
    "Counted sets: direct ones solid, indirect ones hatched, the aim as a line. Below: hits; tonnes moved where loads "
    "are known.\nGeneral information, not medical advice; see the cautions with each plan."
)
_INKS = ("#1b4965", "#9c4221", "#3f6b3a", "#5b4b8a", "#6b6b6b")


def sweep_csv(found: Sweep) -> str:
    """One row a point: values, answer, whether it is proved, figures with their units in the head."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    head = [f"{v.path} ({v.unit})" if v.unit else v.path for v in found.varied]
    rows.writerow([*head, "answer", "proved", *(f"{key} ({unit})" for key, unit in found.units.items())])
    for point in found.points:
        figures = (_text(point.figures.get(key)) for key in found.units)
        rows.writerow([*point.values, point.status, "yes" if point.proved else "no", *figures])
    return text.getvalue()


def _text(value: float | None) -> str:
    return "" if value is None else f"{value:g}" if value % 1 else str(int(value))


def draw_sweep(found: Sweep, path: Path, *, show: str) -> None:
    """Draw one figure of a sweep over its first number, a line for each value of its second.

    Raises:
        InputError: matplotlib is not there, the figure is not known, or a value is no number.
    """
    if show not in found.units:
        raise InputError.single("--show", f"unknown figure {show!r}", f"There are: {', '.join(found.units) or 'none'}")
    if not all(isinstance(p.values[0], (int, float)) for p in found.points):
        raise InputError.single("--vary", "what is drawn over must be a number", "Write the table: -o sweep.csv")
    axes, figure, lines = _canvas()
    x, *others = found.varied
    series = list(dict.fromkeys(p.values[1:] for p in found.points))
    for number, values in enumerate(series):
        points = [p for p in found.points if p.values[1:] == values]
        ink, dash = _INKS[number % len(_INKS)], _DASHES[number % len(_DASHES)]
        _line(axes, points, show, ink, dash)
        if others:
            unit = f" {others[0].unit}" if others[0].unit else ""
            lines.append(_handle(color=ink, linestyle=dash, label=f"{others[0].path} = {values[0]}{unit}"))
    used = {_sort(p) for p in found.points}
    lines += [
        _handle(color="#333333", linestyle="none", marker=SHAPES[sort], label=sort) for sort in SHAPES if sort in used
    ]
    axes.set_xlabel(f"{x.path} ({x.unit})" if x.unit else x.path)
    axes.set_ylabel(f"{show} ({found.units[show]})")
    ticks = list(dict.fromkeys(p.values[0] for p in found.points))
    if len(ticks) <= _MOST_TICKS:
        axes.set_xticks(ticks)
    axes.grid(visible=True, color="#dddddd", linewidth=0.6)
    axes.legend(handles=lines, frameon=False, fontsize="small")
    figure.supxlabel("General information, not medical advice; see the cautions with each plan.", fontsize=6)
    figure.savefig(path, metadata={"Date": None} if path.suffix == ".svg" else {})


def draw_block(rows: Sequence[BlockRow], weeks: Sequence[BlockWeek], out: Path | BinaryIO) -> None:
    """A strip for each muscle with a column a week: direct sets solid, indirect ones hatched, the aim as a line; below
    them hits and tonnes moved where loads are known, and along the foot the reps in reserve.

    Args:
        out: a file, .svg or .png by its name; or a stream, which gets SVG.

    Raises:
        InputError: matplotlib is not there.
    """
    figure = _figure(max(6.0, 1.5 + 0.62 * len(weeks)), 1.2 + 0.95 * max(1, len(rows)))
    strips = figure.subplots(max(1, len(rows)), squeeze=False)[:, 0]
    numbers = [week.number for week in weeks]
    for strip, row in zip(strips, rows, strict=False):
        most = max(1.0, *(max(m.counted, m.aim or 0) for m in row.weeks))
        direct = [min(m.direct, m.counted) for m in row.weeks]
        strip.bar(numbers, direct, width=0.5, color=_SOLID)
        indirect = [m.counted - part for m, part in zip(row.weeks, direct, strict=True)]
        strip.bar(numbers, indirect, bottom=direct, width=0.5, facecolor="none", edgecolor=_SOLID, hatch="////", lw=0.6)
        for week, m in zip(weeks, row.weeks, strict=True):
            if m.aim is not None:
                strip.plot([week.number - 0.4, week.number + 0.4], [m.aim, m.aim], color=_INKS[0], lw=1.6)
            below = [wording.counted(m.hits, "hit"), "" if m.load_kg is None else f"{m.load_kg / 1000:.1f} t"]
            height = max(m.counted, m.aim or 0) + 0.04 * most
            strip.text(week.number, height, f"{m.counted:g}", ha="center", va="bottom", size=8, weight="bold")
            strip.text(week.number, -0.06 * most, "\n".join(below).strip(), ha="center", va="top", size=6)
            if week.role is WeekRole.EASY:
                strip.axvspan(
                    week.number - 0.5, week.number + 0.5, ymin=-0.45, color="#e6ece9", zorder=0, clip_on=False
                )
        strip.set_title(row.name, loc="left", size=8)
        strip.set(ylim=(0, 1.25 * most), xlim=(0.4, len(weeks) + 0.6), xticks=[], yticks=[])
        strip.spines[["top", "left", "right"]].set_visible(False)
    feet = (
        (
            f"week {w.number}",
            f"{w.reps_in_reserve} in reserve",
            *_EASY.get(w.role, ()),
            *(("outlook",) if w.outlook else ()),
        )
        for w in weeks
    )
    strips[-1].set_xticks(numbers, ["\n".join(lines) for lines in feet], size=7)
    strips[-1].tick_params(axis="x", length=0, pad=22)
    figure.supxlabel(_BLOCK_KEY, fontsize=6)
    form = out.suffix[1:] if isinstance(out, Path) else "svg"
    figure.savefig(out, format=form, metadata={"Date": None} if form == "svg" else {})


def _line(axes: Any, points: list[SweepPoint], show: str, ink: str, dash: str) -> None:
    planned = [p for p in points if p.figures.get(show) is not None]
    axes.plot([p.values[0] for p in planned], [p.figures[show] for p in planned], color=ink, linestyle=dash)
    for point in points:
        sort = _sort(point)
        value = point.figures.get(show)
        # A point without a plan has no height: it stands on the axis.
        axes.plot(
            point.values[0],
            0 if value is None else value,
            marker=SHAPES[sort],
            color=ink,
            transform=axes.get_xaxis_transform() if value is None else axes.transData,
            clip_on=False,
        )


def _sort(point: SweepPoint) -> str:
    if not point.figures:
        return "no plan"
    return "proved best" if point.proved else "not proved"


def _canvas() -> tuple[Any, Any, list[Any]]:
    figure = _figure(7, 4.5)
    return figure.subplots(), figure, []


def _figure(width: float, height: float) -> Any:
    try:
        from matplotlib import rcParams
        from matplotlib.figure import Figure
    except ImportError:
        raise InputError.single(
            "-o", "pictures need matplotlib, which is not installed", "pip install 'weekwright[plot]', or write a .csv"
        ) from None
    # The same figures give the same file, and its text stays text.
    rcParams["svg.hashsalt"], rcParams["svg.fonttype"] = "weekwright", "none"
    return Figure(figsize=(width, height), layout="constrained")


def _handle(**style: Any) -> Any:
    from matplotlib.lines import Line2D

    return Line2D([], [], **style)
