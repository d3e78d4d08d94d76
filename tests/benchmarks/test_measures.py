"""What the benchmark says of its records: percentiles, paired ratios, alarms; and one brief measured for real."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Any

import pytest

from scheduler.rules import TIER_NAMES
from tests.benchmarks.batch import bill
from tests.benchmarks.compare import geometric, paired
from tests.benchmarks.measure import gap_at, measured
from tests.benchmarks.report import percentile, tables, write_report

CAP = 20.0


def record(case: str, seconds: float, values: list[int], *, proved: bool = True, **more: Any) -> dict[str, Any]:
    tiers = [
        {"tier": n, "value": v, "bound": v if proved else 0, "proved": proved, "seconds": seconds / len(values)}
        for n, v in enumerate(values, 1)
    ]
    status = "proved best" if proved else "feasible with bound"
    sizes = {"openings": 4, "exercises": 60, "muscles": 6}
    found = {"case": case, "family": "upper_lower", "seconds": seconds, "proved": proved, "status": status}
    return {**found, "tiers": tiers, **sizes, **more}


def test_percentiles_are_nearest_rank() -> None:
    """The definition's own example: ordered 15, 20, 35, 40, 50; the 30th, 40th, 50th and 100th percentile."""
    values = [50, 15, 40, 20, 35]
    assert [percentile(values, s) for s in (0.05, 0.3, 0.4, 0.5, 1)] == [15, 20, 20, 35, 50]


def test_geometric_mean_of_a_ratio_and_its_inverse_is_one() -> None:
    mean, spread = geometric([4.0, 0.25])
    assert mean == pytest.approx(1)
    assert spread == pytest.approx(math.exp(math.log(4) * math.sqrt(2)))


def test_ratios_count_what_is_not_proved_at_the_cap_and_print_losses() -> None:
    olds = [record("a", 8.0, [0, 3]), record("b", 1.0, [2]), record("c", CAP, [5], proved=False)]
    news = [record("a", 2.0, [0, 3]), record("b", 2.0, [2]), record("c", 4.0, [5])]
    text = "\n".join(paired(olds, news, CAP))
    assert "2 proved by both, 1 by the second only" in text
    assert f"geometric mean {math.sqrt(4 * 0.5):.2f}" in text
    assert f"geometric mean {(4 * 0.5 * 5) ** (1 / 3):.2f}" in text
    assert "lost: b" in text
    assert "lost: a" not in text
    assert "ALARM" not in text


@pytest.mark.parametrize(
    ("old", "new", "alarm"),
    [
        (record("a", 1, [0, 3]), record("a", 1, [0, 4]), True),
        (record("a", 1, [0, 3]), record("a", 1, [0, 3]), False),
        # Without a proof a worse value is no contradiction; a value below the other's proved bound is.
        (record("a", 1, [3]), record("a", 1, [4], proved=False), False),
        (record("a", 1, [3]), record("a", 1, [2], proved=False), True),
        # From an unproved first tier on the second is another problem.
        (record("a", 1, [3, 9]), record("a", 1, [4, 7], proved=False), False),
        (record("a", 1, [3]), {**record("a", 1, [3]), "tiers": [], "status": "impossible"}, True),
        # From where the content is settled values depend on which content it is.
        (record("a", 1, [3, 5], same_work_from=2), record("a", 1, [3, 6], same_work_from=2), False),
    ],
)
def test_different_answers_are_an_alarm(old: dict[str, Any], new: dict[str, Any], alarm: bool) -> None:
    assert ("ALARM" in "\n".join(paired([old], [new], CAP))) is alarm


def test_seeds_are_compared_brief_by_brief() -> None:
    found = [record("upper_lower-00-60", t, [0, 3], solver_seed=n) for n, t in enumerate((1.0, 4.0, 2.0))]
    found += [record("upper_lower-01-60", 1.0, [2]), record("upper_lower-01-60", CAP, [5], proved=False, solver_seed=1)]
    text = "\n".join(tables(found, CAP))
    assert "x/÷ 2.00 a brief in the median; worst upper_lower-00-60, 4.0 times" in text
    assert "1 of 2 briefs are proved with some seeds only" in text
    assert "ALARM" not in text
    found.append(record("upper_lower-00-60", 1.0, [0, 4], solver_seed=3))
    assert "ALARM: upper_lower-00-60: tier 2 is 3 and 4" in "\n".join(tables(found, CAP))


def test_the_same_weeks_are_compared_with_the_smallest_catalogue() -> None:
    found = [
        record(f"upper_lower-{seed:02}-{size}", seconds, [0], deterministic=seconds / 2, exercises=size)
        for seed, times in enumerate(((1.0, 2.0), (1.0, 8.0)))
        for size, seconds in zip((60, 500), times, strict=True)
    ]
    text = "\n".join(tables(found, CAP))
    assert "60 to 500: 2 of 2 proved in both" in text
    assert "seconds        4.00 times (x/÷ 2.67), worst 8.0" in text


def test_gap_is_that_of_the_last_better_week_before() -> None:
    events = [(0.2, 1, 40, 10), (0.9, 1, 20, 15), (3.0, 4, 900, 700)]
    assert gap_at(1, 6.0, events) == {"tier": 1, "gap": 0.25}
    assert gap_at(5, 6.0, events) == {"tier": 4, "gap": pytest.approx(2 / 9)}
    assert gap_at(5, 4.0, events)["gap"] == 0.0
    assert gap_at(1, 6.0, events[2:])["gap"] is None


def test_a_scenario_is_measured_and_reported(tmp_path: Path) -> None:
    found = measured({"case": "scenario:pinned_solid"}, 60)
    assert found["status"] == "proved best"
    assert [t["name"] for t in found["tiers"]] == list(TIER_NAMES.values())
    assert all(t["proved"] and t["deterministic"] >= 0 for t in found["tiers"])
    assert found["deterministic"] > 0
    assert found["solve_seconds"] < found["seconds"]
    assert found["peak_mb"] > 30
    assert found["variables"] > found["classes"]
    broken = measured({"case": "scenario:no_such"}, 60)
    assert broken["status"] == "fault"
    assert "no such file" in broken["fault"]
    text = write_report(tmp_path / "result", [found, broken], 60)
    assert "not proved: scenario:no_such" in text
    rows = list(csv.DictReader((tmp_path / "result.csv").read_text().splitlines()))
    assert [r["case"] for r in rows] == ["scenario:pinned_solid", "scenario:no_such"]
    assert rows[0]["tier_1_value"] == "0"
    assert (tmp_path / "result.png").read_bytes().startswith(b"\x89PNG")


def test_the_bill_for_a_million_weeks() -> None:
    """By hand: 1.44 s a week are 400 core-hours, in 8 h 50 cores; 100 MB each are 4.9 GB; 50 kB each 47.7 GB."""
    found = bill(processor_seconds=1.44, worker_mb=100, answer_kb=50, price=0.05)
    assert found == pytest.approx(
        {"core_hours": 400, "cores": 50, "memory_gb": 4.883, "price": 20, "storage_gb": 47.68}, rel=1e-3
    )
