"""Many briefs at once: nothing lost, nothing solved twice, one bad brief never stops the rest."""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from scheduler.batch import runners, solve_batch
from scheduler.briefs import read_brief
from scheduler.cli import main
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Plan
from scheduler.planning import solve
from scheduler.week.solver import Limits
from tests.batch import works

SMALL = """
title: Small week {title}
week: {{start: 2026-11-30, zone: Europe/Berlin}}
lifter: {{name: client 07, status: novice}}
places: {{gym: {{base: full_gym}}}}
openings:
  - {{day: [mon, thu], start: "18:00", end: "19:30", place: gym}}
kinds:
  pull: {{base: pull, per_week: {sessions}, sets: {{least: 4, most: 12}}}}
goals: {{lats: {{aim: {aim}}}}}
exercises: {{only: [lat_pulldown, seated_cable_row, chest_supported_dumbbell_row, back_extension]}}
"""

Rows = dict[str, dict[str, Any]]


def write(folder: Path, name: str, *, aim: int = 6, sessions: int = 2) -> Path:
    path = folder / f"{name}.yaml"
    path.write_text(SMALL.format(title=name, aim=aim, sessions=sessions), encoding="utf-8")
    return path


@pytest.fixture
def briefs(tmp_path: Path) -> Path:
    """Three that can be solved, one impossible, one bad."""
    folder = tmp_path / "briefs"
    folder.mkdir()
    for number in range(3):
        write(folder, f"client_{number}", aim=5 + number)
    write(folder, "impossible", sessions=3)
    (folder / "bad.yaml").write_text("week: {start: 2026-12-01}\n", encoding="utf-8")
    return folder


def rows(out: Path) -> Rows:
    """The answers by the brief's file name; each line is whole, no brief has two."""
    text = out.read_text(encoding="utf-8")
    assert text.endswith("\n")
    found = [json.loads(line) for line in text.splitlines()]
    by_name = {Path(row["brief"]).name: row for row in found}
    assert len(by_name) == len(found)
    return by_name


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(main, ["batch", *map(str, args)])


def without_times(plan: Plan | dict[str, Any]) -> dict[str, Any]:
    return Plan.model_validate(plan).model_copy(update={"timings": {}}).model_dump(warnings=False)


def test_every_brief_has_its_answer_and_a_bad_one_stops_nothing(briefs: Path, tmp_path: Path) -> None:
    out = tmp_path / "out" / "answers.ndjson"
    result = run(briefs, "-o", out, "--workers", "2")
    assert result.exit_code == 2, result.output
    assert "3 proved best" in result.output
    assert "1 impossible" in result.output
    found = rows(out)
    assert {name: row["status"] for name, row in found.items()} == {
        "bad.yaml": "bad brief",
        **{f"client_{n}.yaml": "proved best" for n in range(3)},
        "impossible.yaml": "impossible",
    }
    # The number is the place among those asked for: a folder's briefs by name.
    assert [name for name, _ in sorted(found.items(), key=lambda item: item[1]["number"])] == sorted(found)
    fault = found["bad.yaml"]["faults"][0]
    assert fault["path"].startswith("week.start")
    assert "2026-11-30" in fault["problem"] + fault["advice"]
    for number in range(3):
        bare = solve(read_brief(briefs / f"client_{number}.yaml"))
        assert without_times(found[f"client_{number}.yaml"]["plan"]) == without_times(bare)


def test_progress_counts_every_answer_up_to_all(briefs: Path, tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    out = tmp_path / "answers.ndjson"
    solve_batch([briefs], out, runner=runners.local(1), tell=lambda *figures: told.append(figures))
    assert told == [(n, 5) for n in range(1, 6)]
    told.clear()
    solve_batch([briefs], out, runner=runners.local(1), tell=lambda *figures: told.append(figures))
    assert told == [(n, 5) for n in range(1, 6)]


def test_a_second_run_solves_nothing_again(briefs: Path, tmp_path: Path) -> None:
    out = tmp_path / "answers.ndjson"
    first = solve_batch([briefs], out, runner=runners.local(1))
    assert (first.asked, first.before, first.statuses.total()) == (5, 0, 5)
    before = rows(out)
    second = solve_batch([briefs], out, runner=runners.local(1))
    # What was bad is looked at again, and nothing else.
    assert (second.asked, second.before, dict(second.statuses)) == (5, 4, {"bad brief": 1})
    assert rows(out) == before


def test_answers_in_the_folder_of_the_briefs_are_no_briefs(briefs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(briefs)
    assert run(".", "-o", "answers.ndjson").exit_code == 2
    before = rows(Path("answers.ndjson"))
    assert run(".", "-o", briefs / "answers.ndjson").exit_code == 2
    assert rows(Path("answers.ndjson")) == before


def test_a_torn_line_is_left_out_and_its_brief_solved_again(briefs: Path, tmp_path: Path) -> None:
    (briefs / "bad.yaml").unlink()
    out = tmp_path / "answers.ndjson"
    solve_batch([briefs], out, runner=runners.local(1))
    before = rows(out)
    lines = out.read_bytes().splitlines(keepends=True)
    out.write_bytes(b"".join(lines[:3]) + lines[3][: len(lines[3]) // 2])
    again = solve_batch([briefs], out, runner=runners.local(1))
    assert again.before == 3
    after = rows(out)
    assert {k: r["status"] for k, r in after.items()} == {k: r["status"] for k, r in before.items()}


@pytest.mark.parametrize("form", ["answers.ndjson", "answers"])
def test_a_mended_or_changed_brief_takes_the_place_of_its_old_answer(briefs: Path, tmp_path: Path, form: str) -> None:
    out = tmp_path / form
    solve_batch([briefs], out, runner=runners.local(1))
    write(briefs, "bad")
    write(briefs, "client_1", aim=8)
    again = solve_batch([briefs], out, runner=runners.local(1))
    assert again.before == 3
    assert dict(again.statuses) == {"proved best": 2}
    if form == "answers.ndjson":
        found = rows(out)
    else:
        found = {f"{p.stem}.yaml": json.loads(p.read_text()) for p in out.glob("*.json")}
    assert len(found) == 5
    assert found["bad.yaml"]["status"] == "proved best"
    assert found["client_1.yaml"]["plan"]["brief"]["goals"]["lats"]["aim"] == 8


def test_other_limits_are_another_answer(briefs: Path, tmp_path: Path) -> None:
    out = tmp_path / "answers.ndjson"
    one = briefs / "client_0.yaml"
    assert solve_batch([one], out, runner=runners.local(1)).before == 0
    assert solve_batch([one], out, runner=runners.local(1), limits=Limits(seed=3)).before == 0
    assert len(rows(out)) == 1
    assert rows(out)["client_0.yaml"]["plan"]["fingerprint"]["seed"] == 3


def test_lines_of_ndjson_are_briefs_too(briefs: Path, tmp_path: Path) -> None:
    plain = [read_brief(briefs / f"client_{n}.yaml").model_dump_json() for n in (0, 1)]
    asked = tmp_path / "many.ndjson"
    asked.write_text(f"{plain[0]}\n\n{plain[1]}\n{{broken\n", encoding="utf-8")
    folder = tmp_path / "answers"
    result = run(asked, briefs / "client_2.yaml", "-o", folder)
    assert result.exit_code == 2
    found = {p.name: json.loads(p.read_text()) for p in folder.iterdir()}
    assert {n: r["status"] for n, r in found.items()} == {
        "many-0000001.json": "proved best",
        "many-0000003.json": "proved best",
        "many-0000004.json": "bad brief",
        "client_2.json": "proved best",
    }
    assert found["many-0000003.json"]["brief"] == f"{asked}#3"
    assert found["many-0000003.json"]["plan"]["title"] == "Small week client_1"


def test_exit_code_is_zero_when_all_have_a_plan_and_three_when_one_is_impossible(briefs: Path, tmp_path: Path) -> None:
    assert run(briefs / "client_0.yaml", "-o", tmp_path / "a.ndjson").exit_code == 0
    assert run(briefs / "impossible.yaml", briefs / "client_0.yaml", "-o", tmp_path / "b.ndjson").exit_code == 3


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["nowhere.ndjson", "-o", "{out}/a.ndjson"], "cannot be read"),
        (["{out}/empty", "-o", "{out}/a.ndjson"], "no brief is named"),
        (["{briefs}", "-o", "{briefs}/client_0.yaml"], "is a file"),
        (["{briefs}", "-o", "{briefs}"], "is among the briefs"),
        (["{briefs}/client_0.yaml", "-o", "{out}/mine.ndjson"], "no answer of a batch"),
        (["{briefs}/client_0.yaml", "{out}/other/client_0.yaml", "-o", "{out}/folder"], "would both answer"),
        (["{briefs}", "-o", "{out}/a.ndjson", "--cluster", "tcp://127.0.0.1:9"], "no scheduler answers"),
        (["{briefs}", "-o", "{out}/a.ndjson", "--cluster", "what:ever:it"], "no scheduler answers"),
        (["{briefs}", "-o", "{out}/a.ndjson", "--cluster", "tcp://a:1", "--workers", "2"], "workers of its own"),
    ],
)
def test_what_cannot_be_used_is_said(
    briefs: Path, tmp_path: Path, args: list[str], words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(runners, "CONNECT_SECONDS", 1)
    (tmp_path / "empty").mkdir()
    (tmp_path / "other").mkdir()
    write(tmp_path / "other", "client_0")
    (tmp_path / "mine.ndjson").write_text("a letter to a friend\n", encoding="utf-8")
    result = run(*(a.format(out=tmp_path, briefs=briefs) for a in args))
    assert result.exit_code == 2, result.output
    assert words in result.output
    assert (tmp_path / "mine.ndjson").read_text() == "a letter to a friend\n"


# --- processes that die -------------------------------------------------------------------------------------------


def test_a_brief_that_ends_its_process_is_named_and_the_rest_is_solved(briefs: Path, tmp_path: Path) -> None:
    write(briefs, "poison")
    out = tmp_path / "answers.ndjson"
    found = solve_batch([briefs], out, runner=runners.local(2, works.dies_on_poison))
    assert found.statuses["fault of the program"] == 1
    assert rows(out)["poison.yaml"]["faults"][0]["problem"] == "the process that solved it ended, twice"
    assert {n for n, r in rows(out).items() if "plan" in r} == {
        "client_0.yaml",
        "client_1.yaml",
        "client_2.yaml",
        "impossible.yaml",
    }


def many(folder: Path, number: int = 8) -> Path:
    folder.mkdir()
    for n in range(number):
        write(folder, f"client_{n:02}", aim=4 + n % 3)
    return folder


def starts(folder: Path) -> dict[str, list[int]]:
    """By brief: the processes that began with it."""
    return {p.name: [int(pid) for pid in p.read_text().split()] for p in folder.glob("*.starts")}


def kill_one_half_way(folder: Path, candidates: Callable[[], set[int]]) -> Iterator[int]:
    """In a thread: once some briefs have been begun, end one process that has just begun another."""
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        begun = [pid for pids in starts(folder).values() for pid in pids]
        busy = [pid for pid in begun if begun.count(pid) >= 2 and pid in candidates()]
        if busy:
            os.kill(busy[-1], signal.SIGKILL)
            yield busy[-1]
            return
        time.sleep(0.02)


def test_a_process_killed_half_way_loses_and_doubles_nothing(tmp_path: Path) -> None:
    folder, out, killed = many(tmp_path / "briefs"), tmp_path / "answers.ndjson", list[int]()

    def children() -> set[int]:
        return {child.pid or 0 for child in multiprocessing.active_children()}

    killer = threading.Thread(target=lambda: killed.extend(kill_one_half_way(folder, children)))
    killer.start()
    found = solve_batch([folder], out, runner=runners.local(2, works.slow))
    killer.join()
    assert len(killed) == 1
    assert dict(found.statuses) == {"proved best": 8}
    assert len(rows(out)) == 8
    assert sum(len(pids) for pids in starts(folder).values()) > 8  # what was under way was begun again
    assert not children()


def test_ctrl_c_keeps_what_is_answered_and_the_next_run_goes_on(tmp_path: Path) -> None:
    folder, out = many(tmp_path / "briefs", 30), tmp_path / "answers.ndjson"
    command = [sys.executable, "-m", "scheduler.cli", "batch", str(folder), "-o", str(out), "--workers", "2"]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, start_new_session=True)
    while not out.exists() or out.read_bytes().count(b"\n") < 2:
        assert process.poll() is None, process.communicate()
        time.sleep(0.02)
    os.killpg(process.pid, signal.SIGINT)  # what a terminal does
    _, words = process.communicate(timeout=60)
    assert process.returncode == 4, words
    assert "goes on from there" in words
    assert "Traceback" not in words
    kept = out.read_bytes().count(b"\n")
    assert 2 <= kept < 30
    rest = solve_batch([folder], out, runner=runners.local(2))
    assert (rest.before, rest.statuses.total()) == (kept, 30 - kept)
    assert len(rows(out)) == 30


# --- a real cluster -----------------------------------------------------------------------------------------------


@pytest.fixture
def local_cluster(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(sys.path))
    with distributed.LocalCluster(
        n_workers=3, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as cluster:
        yield cluster


@pytest.mark.filterwarnings("default")
def test_a_cluster_gives_the_same_plans(briefs: Path, tmp_path: Path, local_cluster: Any) -> None:
    here, there = tmp_path / "here.ndjson", tmp_path / "there.ndjson"
    assert run(briefs, "-o", here).exit_code == 2
    result = run(briefs, "-o", there, "--cluster", local_cluster.scheduler_address)
    assert result.exit_code == 2, result.output
    assert rows(here).keys() == rows(there).keys()
    for name, row in rows(here).items():
        if "plan" in row:
            assert without_times(row["plan"]) == without_times(rows(there)[name]["plan"])


@pytest.mark.filterwarnings("default")
def test_a_worker_of_the_cluster_killed_half_way_loses_and_doubles_nothing(tmp_path: Path, local_cluster: Any) -> None:
    folder, out, killed = many(tmp_path / "briefs", 12), tmp_path / "answers.ndjson", list[int]()

    def workers() -> set[int]:
        return {worker.pid for worker in local_cluster.workers.values()}

    killer = threading.Thread(target=lambda: killed.extend(kill_one_half_way(folder, workers)))
    killer.start()
    runner = runners.cluster(local_cluster.scheduler_address, works.slow)
    found = solve_batch([folder], out, runner=runner)
    killer.join()
    assert len(killed) == 1
    assert dict(found.statuses) == {"proved best": 12}
    assert len(rows(out)) == 12
    began = starts(folder)
    assert any(killed[0] in pids and pids[-1] != killed[0] for pids in began.values())  # run again elsewhere
    # Resumed from the same file without the cluster: all is there.
    assert solve_batch([folder], out, runner=runners.local(1)).before == 12


@pytest.mark.filterwarnings("default")
def test_a_brief_that_ends_workers_is_named(briefs: Path, tmp_path: Path, local_cluster: Any) -> None:
    write(briefs, "poison")
    out = tmp_path / "answers.ndjson"
    runner = runners.cluster(local_cluster.scheduler_address, works.dies_on_poison)
    found = solve_batch([briefs], out, runner=runner)
    assert found.statuses["fault of the program"] == 1
    assert "KilledWorker" in rows(out)["poison.yaml"]["faults"][0]["problem"]
    assert found.statuses["proved best"] == 3


@pytest.mark.filterwarnings("default")
def test_another_version_on_the_cluster_is_refused(
    briefs: Path, tmp_path: Path, local_cluster: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(runners, "program_version", works.old_version)
    with pytest.raises(InputError, match="has version"):
        runners.cluster(local_cluster.scheduler_address)
