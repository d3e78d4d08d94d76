"""Every name in a brief must be known; all unknown ones are reported at once, each with the nearest known."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.domain.brief import Brief
from scheduler.domain.catalogue import Catalogue
from scheduler.domain.errors import Fault, InputError, unknown


def check_names(brief: Brief, catalogue: Catalogue) -> None:
    """Raise an InputError with every unknown name, and every place that has no equipment."""
    faults = [
        *_lifter_faults(brief, catalogue),
        *_place_faults(brief, catalogue),
        *_kind_faults(brief, catalogue),
        *_pool_faults(brief, catalogue),
        *_record_faults(brief, catalogue),
    ]
    if faults:
        raise InputError(faults)


def _lifter_faults(brief: Brief, catalogue: Catalogue) -> Iterator[Fault]:
    for n, lift in enumerate(brief.lifter.lifts):
        yield from unknown(f"lifter.lifts[{n}].exercise", "exercise", (lift.exercise,), catalogue.exercises)
    for key in brief.goals:
        yield from unknown(f"goals.{key}", "muscle or group", (key,), catalogue.targets)


def _place_faults(brief: Brief, catalogue: Catalogue) -> Iterator[Fault]:
    for key, place in brief.places.items():
        where = f"places.{key}"
        if place.base is not None:
            yield from unknown(f"{where}.base", "sort of place", (place.base,), catalogue.places)
        yield from unknown(f"{where}.equipment", "equipment", place.equipment, catalogue.equipment)
        yield from unknown(f"{where}.lacks", "equipment", place.lacks, catalogue.equipment)
        if place.base is None and not place.equipment:
            yield Fault(where, "the place has no equipment", "List its equipment, or write base: home_bodyweight")
    for n, opening in enumerate(brief.openings):
        yield from unknown(f"openings[{n}].place", "place", (opening.place,), brief.places)


def _kind_faults(brief: Brief, catalogue: Catalogue) -> Iterator[Fault]:
    for key, kind in brief.kinds.items():
        where = f"kinds.{key}"
        if kind.base is not None:
            yield from unknown(f"{where}.base", "session-kind template", (kind.base,), catalogue.kinds)
        yield from unknown(f"{where}.patterns", "pattern", kind.patterns or (), catalogue.patterns)
        yield from unknown(f"{where}.required", "pattern", kind.required or (), catalogue.patterns)
        yield from unknown(f"{where}.places", "place", kind.places or (), brief.places)
        if kind.add_on is not None:
            yield from unknown(f"{where}.add_on.pattern", "pattern", (kind.add_on.pattern,), catalogue.patterns)


def _pool_faults(brief: Brief, catalogue: Catalogue) -> Iterator[Fault]:
    pool = brief.exercises
    lists = {
        "only": pool.only or (),
        "wanted": pool.wanted,
        "avoided": pool.avoided,
        "favourites": pool.favourites,
        "most_per_week": tuple(pool.most_per_week),
    }
    for field, names in lists.items():
        yield from unknown(f"exercises.{field}", "exercise", names, catalogue.exercises)
    yield from unknown("exercises.least_distinct", "muscle or group", pool.least_distinct, catalogue.targets)
    for name in pool.wanted:
        if name in pool.avoided:
            yield Fault("exercises.wanted", f"{name!r} is wanted and avoided", "Take it off one of the lists")


def _record_faults(brief: Brief, catalogue: Catalogue) -> Iterator[Fault]:
    # History may hold kinds that this week no longer has: only this week's lists must use its kinds.
    for field in ("history", "done", "previous"):
        for n, record in enumerate(getattr(brief, field)):
            where = f"{field}[{n}]"
            if field != "history":
                yield from unknown(f"{where}.kind", "session kind", (record.kind,), brief.kinds)
            if record.place is not None:
                yield from unknown(f"{where}.place", "place", (record.place,), brief.places)
            names = (row.exercise for row in record.exercises)
            yield from unknown(f"{where}.exercises", "exercise", names, catalogue.exercises)
    for n, pin in enumerate(brief.pinned):
        where = f"pinned[{n}]"
        yield from unknown(f"{where}.kind", "session kind", (pin.kind,), brief.kinds)
        if pin.place is not None:
            yield from unknown(f"{where}.place", "place", (pin.place,), brief.places)
        yield from unknown(f"{where}.exercises", "exercise", (e.exercise for e in pin.exercises), catalogue.exercises)
        if pin.start is not None and pin.day is None:
            yield Fault(f"{where}.start", "a start without a day", "Add day: to the pin")
    # More done and pinned than the kind allows is caught here: in the solver it would only be "impossible".
    for key, kind in brief.kinds.items():
        fixed = sum(r.kind == key for r in brief.done) + sum(p.kind == key for p in brief.pinned)
        if fixed > kind.per_week.most:
            yield Fault(
                f"kinds.{key}.per_week",
                f"{fixed} sessions are done or pinned but at most {kind.per_week.most} are allowed",
                "Raise most, or unpin one",
            )
