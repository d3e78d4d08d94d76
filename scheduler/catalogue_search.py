"""Looking things up in the catalogue by words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scheduler.data import PARTS, load_catalogue
from scheduler.domain.errors import InputError, nearest


def rows(part: str, words: Sequence[str] = ()) -> dict[str, dict[str, Any]]:
    """Rows of one part of the catalogue, by key, that hold all the words (in key or text, case folded).

    Raises:
        InputError: there is no such part.
    """
    if part not in PARTS:
        raise InputError.single("catalogue", f"unknown part {part!r}", nearest(part, PARTS))
    table = load_catalogue().model_dump(mode="json")[part]
    wanted = [w.casefold() for w in words]
    return {
        key: row for key, row in table.items() if all(w in f"{key} {' '.join(_texts(row))}".casefold() for w in wanted)
    }


def summary() -> str:
    """How many rows each part has."""
    catalogue = load_catalogue()
    counts = [f"  {part:<10} {len(getattr(catalogue, part)):>4}" for part in PARTS]
    return "\n".join(["The catalogue holds", *counts, "Show a part: weekwright catalogue exercises row"])


def _texts(row: dict[str, Any]) -> list[str]:
    found = []
    for value in row.values():
        found += [str(v) for v in value] if isinstance(value, list) else [str(value)]
    return found
