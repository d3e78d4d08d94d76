"""Logs as tables, and what is no table."""

from __future__ import annotations

from pathlib import Path

import pytest

from scheduler.domain.errors import InputError
from scheduler.log_files import log_of_csv, read_log

CSV = b"""date,kind,exercise,sets,reps,load_kg,reps_in_reserve,pain,state
2026-11-30,upper,lat_pulldown,3,10,55,2,,
2026-11-30,upper,barbell_bench_press,3,8,60,2,left shoulder,
2026-12-02,upper,,,,,,,as planned
2026-12-04,lower,,,,,,,missed
2026-12-06,,incline_dumbbell_press,,,,,,cleared
"""


def test_a_table_says_the_same_as_yaml(tmp_path: Path) -> None:
    (tmp_path / "log.yaml").write_text(
        """
week: 2026-11-30
sessions:
  - kind: upper
    day: mon
    exercises:
      - {exercise: lat_pulldown, sets: 3, reps: 10, load_kg: 55, reps_in_reserve: 2}
      - {exercise: barbell_bench_press, sets: 3, reps: 8, load_kg: 60, reps_in_reserve: 2, pain: left shoulder}
  - {kind: upper, day: wed, as_planned: true}
  - {kind: lower, day: fri, missed: true}
cleared: [incline_dumbbell_press]
""",
        encoding="utf-8",
    )
    assert log_of_csv(CSV) == read_log(tmp_path / "log.yaml")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"date,kind\n",
        b"\xff\xfe\x00date",
        b"date,colour\n2026-11-30,red\n",
        b"date,kind,exercise,sets\n2026-11-30,upper\n",
        b"date,kind,exercise,sets\n2026-11-30,upper,lat_pulldown,3,4,5\n",
        b"date,kind,exercise,sets\n2026-11-30,upper,lat_pulldown,three\n",
        b"date,kind,exercise,sets\n2026-11-30,upper,lat_pulldown,-3\n",
        b"date,kind,exercise,sets,load_kg\n2026-11-30,upper,lat_pulldown,3,nan\n",
        b"date,kind,exercise,sets,load_kg\n2026-11-30,upper,lat_pulldown,3,inf\n",
        b"date,kind,exercise,sets\n30.11.2026,upper,lat_pulldown,3\n",
        b"date,kind,exercise,sets\n2026-11-30,upper,lat_pulldown,3\n2026-12-07,upper,lat_pulldown,3\n",
        b"date,kind,state\n2026-11-30,upper,perhaps\n",
        b'date,kind\n2026-11-30,"upper\n',
    ],
)
def test_hostile_tables_are_told(data: bytes) -> None:
    with pytest.raises(InputError):
        log_of_csv(data)


def test_a_log_that_is_too_large(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(b"x" * 1_000_001)
    with pytest.raises(InputError, match="larger"):
        read_log(path)


def test_another_start_is_another_session() -> None:
    """Two of one kind on one day, as YAML has them: nothing of the first is lost."""
    head = b"date,kind,exercise,sets,reps,start,minutes\n"
    rows = b"2026-11-30,upper,lat_pulldown,3,10,06:15,40\n2026-11-30,upper,chin_up,2,,,\n"
    log = log_of_csv(head + rows + b"2026-11-30,upper,machine_chest_press,3,8,18:00,30\n")
    told = [(f"{s.start:%H:%M}", s.minutes, [e.exercise for e in s.exercises]) for s in log.sessions if s.start]
    assert told == [("06:15", 40, ["lat_pulldown", "chin_up"]), ("18:00", 30, ["machine_chest_press"])]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"date,exercise,sets,pain,state\n2026-11-30,lat_pulldown,3,shoulder,cleared\n", "cleared and says sets too"),
        (b"date,kind,exercise,sets,sets\n2026-11-30,upper,lat_pulldown,3,4\n", "comes twice"),
        (b"date,kind,exercise,sets\n2026-11-30,upper,lat_pulldown,1_0\n", "no number"),
    ],
)
def test_what_would_be_lost_or_misread_is_told(data: bytes, words: str) -> None:
    with pytest.raises(InputError, match=words):
        log_of_csv(data)
