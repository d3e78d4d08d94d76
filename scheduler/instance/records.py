"""Sessions that were trained or planned before, on the week's clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from itertools import pairwise

from scheduler.domain.brief import HISTORY_DAYS, SessionRecord
from scheduler.domain.catalogue import Catalogue
from scheduler.domain.errors import Fault, InputError
from scheduler.domain.plan import Role, Zone
from scheduler.domain.units import GRAMS_PER_KG, SLOT_MINUTES
from scheduler.instance.clock import Clock
from scheduler.instance.model import Instance, Item, SessionFacts


def in_order_of_time(
    records: Iterable[SessionRecord], clock: Clock, catalogue: Catalogue, *, done: bool
) -> tuple[SessionFacts, ...]:
    """Recorded sessions, the earliest first."""
    return tuple(_facts(record, clock, catalogue, done=done) for record in _sorted(records, clock))


def _sorted(records: Iterable[SessionRecord], clock: Clock) -> list[SessionRecord]:
    return sorted(records, key=lambda r: (clock.instant(r.start), r.kind))


def _facts(record: SessionRecord, clock: Clock, catalogue: Catalogue, *, done: bool) -> SessionFacts:
    start = clock.floor(record.start)
    end = clock.ceil(clock.instant(record.start) + dt.timedelta(minutes=record.minutes))
    items = []
    for row in record.exercises:
        if row.sets == 0:
            continue
        zone = None if row.reps is None else Zone.of(row.reps)
        load = round(row.load_kg * GRAMS_PER_KG) if row.load_kg else None
        role = Role.ADD_ON if row.add_on else Role.MAIN
        reps, reserve = (row.reps, row.reps_in_reserve) if done else (None, None)
        exercise = catalogue.exercises[row.exercise]
        items.append(Item(row.exercise, exercise, row.sets, zone, role, load_grams=load, reps=reps, reserve=reserve))
    return SessionFacts(record.kind, start, end, clock.day(start), record.place, tuple(items), done=done)


def check_records(instance: Instance) -> None:
    """Done sessions lie in the week and apart, history begins before it."""
    faults = []
    brief, clock = instance.brief, instance.clock
    # Records are looked at in order of time; faults name them by where they stand in the brief.
    done, history = (
        [(records.index(record), facts) for record, facts in zip(_sorted(records, clock), settled, strict=True)]
        for records, settled in ((brief.done, instance.done), (brief.history, instance.history))
    )
    for number, session in done:
        if not 0 <= session.start < instance.clock.slots:
            faults.append(Fault(f"done[{number}].start", "lies outside the week", "Older sessions belong in history"))
    for (one, earlier), (other, later) in pairwise(done):
        if later.start < earlier.end:
            faults.append(Fault(f"done[{other}]", f"overlaps with done[{one}]", "Correct a start or its minutes"))
    for number, session in history:
        if session.start >= 0:  # one that goes on past midnight is still of the week before
            faults.append(
                Fault(f"history[{number}].start", "does not lie before the week", "This week's belong in done")
            )
        elif session.start < -HISTORY_DAYS * 24 * 60 // SLOT_MINUTES:
            faults.append(
                Fault(f"history[{number}].start", f"is more than {HISTORY_DAYS} days before the week", "Leave it out")
            )
    if instance.brief.week.repeats and instance.history:
        faults.append(
            Fault("history", "a repeating week has no history", "Write repeats: false, or leave the history out")
        )
    if faults:
        raise InputError(faults)
