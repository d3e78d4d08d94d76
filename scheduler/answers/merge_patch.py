"""JSON Merge Patch (RFC 7396)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def merge_patch(target: Any, patch: Any) -> Any:
    """The target with a patch applied; neither is changed. A null in the patch takes a member away."""
    if not isinstance(patch, Mapping):
        return patch
    merged = dict(target) if isinstance(target, Mapping) else {}
    for name, value in patch.items():
        if value is None:
            merged.pop(name, None)
        else:
            merged[name] = merge_patch(merged.get(name), value)
    return merged


def patch_of(path: str, value: Any) -> dict[str, Any]:
    """The merge patch that sets one value at a dotted path: ``goals.lats.aim`` and 12."""
    *parents, last = path.split(".")
    patch: dict[str, Any] = {last: value}
    for parent in reversed(parents):
        patch = {parent: patch}
    return patch
