"""What coaches write, as tables: splits, days, weekly sets, lifts. The generated briefs draw from them."""

from __future__ import annotations

GOALS: dict[str, tuple[int, int]] = {
    "pectorals": (8, 12),
    "pectorals_upper": (4, 8),
    "pectorals_lower": (6, 10),
    "lats": (8, 12),
    "back": (12, 18),
    "upper_back": (6, 10),
    "rear_delts": (4, 8),
    "side_delts": (6, 10),
    "front_delts": (4, 8),
    "biceps": (6, 10),
    "triceps": (6, 10),
    "quads": (8, 12),
    "hamstrings": (6, 10),
    "glutes": (6, 10),
    "calves": (4, 8),
    "abs": (4, 8),
    "adductors": (3, 5),
    "trapezius_upper": (3, 6),
    "erectors": (3, 6),
}
"""Weekly sets that are usually aimed at, least and most."""
CORE = ("pectorals", "lats", "quads", "hamstrings")
WEAK = ("lats", "pectorals_upper", "side_delts", "quads", "hamstrings", "glutes", "biceps", "rear_delts", "calves")

DAY_PATTERNS: dict[int, tuple[str, ...]] = {
    2: ("mon thu", "tue fri", "wed sat"),
    3: ("mon wed fri", "tue thu sat", "mon thu sat"),
    4: ("mon tue thu fri", "mon tue thu sat", "tue wed fri sat"),
    5: ("mon tue wed fri sat", "mon tue thu fri sat"),
    6: ("mon tue wed fri sat sun",),
}
SPLITS: dict[str, list[list[str]]] = {
    # Kinds in the order of the days, by template of the catalogue.
    "full_body": [["full_body"] * 2, ["full_body"] * 3, ["full_body"] * 3],
    "upper_lower": [
        ["upper", "lower", "upper", "lower"],
        ["upper", "lower", "upper", "lower"],
        ["upper", "lower", "upper"],
        ["upper", "lower", "upper", "lower", "upper_small"],
    ],
    "three_way": [
        ["push", "pull", "legs"],
        ["pull", "push", "legs", "pull"],
        ["push", "pull", "legs", "push", "pull"],
        ["push", "pull", "legs", "push", "pull", "legs"],
    ],
    "body_part": [
        ["back_day", "chest_day", "legs", "shoulders_day", "arms_day"],
        ["chest_day", "back_day", "legs", "arms_day"],
        ["back_day", "push", "legs", "back_small"],
        ["back_day", "legs", "chest_day", "back_small", "shoulders_day"],
        ["legs", "chest_day", "back_day", "legs", "arms_small"],
    ],
}
LIFTS = {
    "barbell_bench_press": (60, 100),
    "barbell_back_squat": (70, 130),
    "conventional_deadlift": (90, 160),
    "romanian_deadlift": (60, 110),
    "lat_pulldown": (50, 75),
    "leg_press": (120, 220),
    "seated_dumbbell_press": (14, 24),
    "dumbbell_bench_press": (20, 32),
    "dumbbell_curl": (8, 16),
}
ZONES = ("Europe/Berlin", "Europe/Paris", "Europe/London", "America/New_York", "Asia/Tokyo", "Australia/Sydney")
CAPACITY_MINUTES_PER_SET = 3.2
"""Work, rest and a share of the set-up of a set, roughly; sizes goals only."""
