"""A name that is not known in a brief leads to those that were meant: by key, by full name, by a word of either."""

from __future__ import annotations

from typing import Any

import pytest

from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError, nearest
from scheduler.planning import instance_of

BRIEF: dict[str, Any] = {
    "week": {"start": "2026-03-02"},
    "places": {"gym": {"base": "full_gym"}},
    "openings": [{"day": "mon", "start": "18:00", "end": "20:00", "place": "gym"}],
    "kinds": {"whole": {"base": "full_body", "per_week": 1}},
}


@pytest.mark.parametrize(
    ("parts", "advice"),
    [
        ({"goals": {"quadriceps": {"aim": 8}}}, "'quadriceps'. Did you mean 'quads' (Quadriceps)?"),
        ({"goals": {"latissimus dorsi": {"aim": 8}}}, "Did you mean 'lats' (latissimus dorsi)?"),
        ({"goals": {"Whole back": {"aim": 8}}}, "Did you mean 'back' (Whole back)?"),
        ({"goals": {"delts": {"aim": 8}}}, "Did you mean 'front_delts', 'side_delts' or 'rear_delts'?"),
        ({"exercises": {"least_distinct": {"Shin": 1}}}, "Did you mean 'tibialis_anterior' (Shin)?"),
        (
            {"exercises": {"wanted": ["Lying EZ-bar triceps extension"]}},
            "Did you mean 'lying_triceps_extension' (Lying EZ-bar triceps extension)?",
        ),
        ({"exercises": {"wanted": ["Leg press"]}}, "Did you mean 'leg_press'?"),
        (
            {"exercises": {"avoided": ["upright row"]}},
            "Did you mean 'cable_upright_row' or 'dumbbell_upright_row'?",
        ),
        ({"exercises": {"avoided": ["press"]}}, "or one of"),
        (
            {"kinds": {"whole": {"patterns": ["overhead press"], "per_week": 1}}},
            "Did you mean 'vertical_push' (overhead press)?",
        ),
        (
            {"places": {"gym": {"base": "full_gym", "lacks": ["Suspension straps"]}}},
            "Did you mean 'suspension_trainer' (Suspension straps)?",
        ),
        ({"goals": {"qads": {"aim": 8}}}, "Did you mean 'quads'"),
    ],
)
def test_an_unknown_name_of_a_brief(parts: dict[str, Any], advice: str) -> None:
    with pytest.raises(InputError) as caught:
        instance_of(Brief.model_validate(BRIEF | parts))
    (fault,) = caught.value.faults
    assert advice in str(fault)


def test_what_is_like_nothing_is_shown_what_there_is() -> None:
    assert nearest("??", ["back", "legs"]) == "Known names begin with: back, legs."
    assert nearest("back", []) == "None are defined."
