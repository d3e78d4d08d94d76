"""A small week for tests of blocks: two upper and one lower session, solved in a fraction of a second."""

from __future__ import annotations

from typing import Any

from scheduler.answers.merge_patch import merge_patch
from scheduler.briefs import brief_of
from scheduler.domain.brief import Brief

SMALL: dict[str, Any] = {
    "title": "Small",
    "week": {"start": "2026-11-30", "zone": "Europe/Berlin"},
    "lifter": {
        "name": "client 90",
        "lifts": [
            {"exercise": "barbell_back_squat", "load_kg": 100, "reps": 8, "reps_in_reserve": 2},
            {"exercise": "lat_pulldown", "load_kg": 60, "reps": 10, "reps_in_reserve": 2},
        ],
    },
    "places": {"gym": {"base": "full_gym"}},
    "openings": [{"day": ["mon", "tue", "wed", "thu", "fri", "sat"], "start": "18:00", "end": "20:00", "place": "gym"}],
    "kinds": {
        "upper": {
            "patterns": ["vertical_pull", "horizontal_push"],
            "sets": {"least": 4, "most": 12},
            "minutes": {"least": 15, "most": 70},
            "per_week": 2,
        },
        "lower": {
            "patterns": ["squat", "knee_flexion"],
            "sets": {"least": 2, "most": 10},
            "minutes": {"least": 15, "most": 70},
            "lower_body": True,
            "per_week": 1,
        },
    },
    "sessions": 3,
    "goals": {
        "lats": {"least": 4, "aim": 8, "most": 12},
        "quads": {"least": 3, "aim": 5, "most": 8, "frequency": 1},
    },
    "prescription": {"sets_per_exercise": {"least": 2, "most": 4}},
    "exercises": {
        "only": [
            "lat_pulldown",
            "neutral_grip_pulldown",
            "chin_up",
            "barbell_bench_press",
            "machine_chest_press",
            "barbell_back_squat",
            "leg_press",
            "seated_leg_curl",
            "lying_leg_curl",
        ],
        "wanted": ["barbell_back_squat"],
        # So that no tie decides which of three comes first.
        "favourites": ["neutral_grip_pulldown"],
    },
    "rules": {"stand_in": {"mode": "off"}, "rep_mix": {"mode": "off"}},
}


def small(patch: dict[str, Any] | None = None) -> Brief:
    return brief_of(merge_patch(SMALL, patch or {}))
