"""One brief, one plan: byte for byte, whatever the hash seed of the process, all but the timings."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.solving.hard_week import CUT_SHORT, MIDDLING

ROOT = Path(__file__).resolve().parents[2]

WORKER = """
import json, sys
from scheduler.domain.brief import Brief
from scheduler.planning import solve
from scheduler.week.solver import Limits
limits = Limits(deterministic_seconds=float(sys.argv[1]))
plan = solve(Brief.model_validate(json.load(sys.stdin)), limits=limits)
sys.stdout.write(plan.model_dump_json(exclude={"timings"}))
"""

BRIEF: dict[str, Any] = {
    "title": "An invented week with many near-ties",
    "week": {"start": "2026-03-23", "zone": "Europe/Berlin"},
    "places": {"gym": {"base": "full_gym"}, "home": {"base": "home_dumbbells", "travel_minutes": 5}},
    "openings": [
        {"day": ["mon", "wed", "fri"], "start": "18:00", "end": "18:50", "place": "gym"},
        {"day": ["tue", "sat"], "start": "09:00", "end": "09:45", "place": "home"},
    ],
    "kinds": {
        "pull": {"base": "back_small", "per_week": 2, "required": ["vertical_pull"]},
        "push": {
            "patterns": ["horizontal_push", "vertical_push", "elbow_extension"],
            "sets": {"least": 4, "most": 9},
            "minutes": {"least": 0, "most": 45},
            "per_week": 1,
        },
    },
    "goals": {"lats": {"aim": 8, "priority": 1}, "pectorals_lower": {"aim": 4}, "arms": {"aim": 6}},
    "exercises": {
        "only": [
            "chin_up",
            "pull_up",
            "lat_pulldown",
            "chest_supported_dumbbell_row",
            "straight_arm_pulldown",
            "push_up",
            "dumbbell_bench_press",
            "dumbbell_floor_press",
            "seated_dumbbell_press",
            "cable_pushdown",
            "rope_pushdown",
        ],
        "favourites": ["chin_up", "push_up"],
    },
    "rules": {"stand_in": {"mode": "off"}},
}

UNLIMITED = "60"


def run(brief: dict[str, Any], seconds: str, hash_seed: str) -> bytes:
    environment = {**os.environ, "PYTHONHASHSEED": hash_seed, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", WORKER, seconds],
        input=json.dumps(brief).encode(),
        capture_output=True,
        env=environment,
        cwd=ROOT,
        check=True,
    )
    return done.stdout


@pytest.mark.parametrize(
    ("brief", "seconds", "status"),
    [(BRIEF, UNLIMITED, "proved best"), (MIDDLING, str(CUT_SHORT), "feasible with bound")],
    ids=["proved", "cut short"],
)
def test_the_same_bytes_in_every_process(brief: dict[str, Any], seconds: str, status: str) -> None:
    first = run(brief, seconds, "0")
    plan = json.loads(first)
    assert plan["status"] == status
    assert len(plan["sessions"]) > 2
    assert "timings" not in plan
    for seed in ("1", "4242"):
        assert run(brief, seconds, seed) == first
