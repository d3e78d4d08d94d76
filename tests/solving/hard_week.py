"""Weeks with enough in them that the limits used in these tests cut the search short."""

from __future__ import annotations

from typing import Any

MUSCLES = (
    "lats",
    "quads",
    "hamstrings",
    "pectorals_lower",
    "side_delts",
    "rear_delts",
    "biceps",
    "triceps",
    "calves",
)

HARD: dict[str, Any] = {
    "title": "An invented week with the whole catalogue and many goals",
    "week": {"start": "2026-03-02", "repeats": True},
    "lifter": {"status": "advanced"},
    "places": {"gym": {"base": "full_gym"}, "home": {"base": "home_dumbbells"}},
    "openings": [
        {"day": ["mon", "tue", "thu", "fri"], "start": "17:00", "end": "20:00", "place": "gym"},
        {"day": ["wed", "sat", "sun"], "start": "07:00", "end": "10:00", "place": "home"},
    ],
    "kinds": {
        "upper": {"base": "upper", "per_week": {"least": 1, "most": 3}},
        "lower": {"base": "lower", "per_week": {"least": 1, "most": 2}},
    },
    "sessions": {"least": 4, "most": 5},
    "goals": {m: {"aim": 12, "priority": 1 + n} if n < 3 else {"aim": 12} for n, m in enumerate(MUSCLES)},
}

MIDDLING: dict[str, Any] = HARD | {
    "title": "An invented week in a garage: a first plan at once, the proof some seconds later",
    "places": {"gym": {"base": "garage_rack"}},
    "openings": [{"day": ["mon", "tue", "thu", "fri", "sat"], "start": "17:00", "end": "19:00", "place": "gym"}],
    "kinds": {"upper": {"base": "upper", "per_week": 2}, "lower": {"base": "lower", "per_week": 2}},
    "sessions": 4,
}
CUT_SHORT = 0.2
"""Seconds of deterministic time a tier that find a plan of the middling week, but do not prove it."""
