"""Which exercises stay over a block, which change, and which come so that a muscle gets as many as were asked for."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from scheduler.blocks.weeks import pinned
from scheduler.domain.block import BlockSettings
from scheduler.domain.brief import Brief, SessionRecord
from scheduler.domain.plan import Zone
from scheduler.planning import instance_of


def main_lifts(brief: Brief, settings: BlockSettings) -> tuple[str, ...]:
    """The exercises that stay over the block: those named, wanted or pinned."""
    return tuple(dict.fromkeys((*settings.main, *brief.exercises.wanted, *pinned(brief))))


def turned_over(
    records: Sequence[SessionRecord], brief: Brief, settings: BlockSettings, used: Sequence[str]
) -> list[SessionRecord]:
    """Records with every accessory exercise changed for another of its pattern and muscles, where there is one.

    No goal may count less of the other one, indirectly either: what it lacked would be made up by more work. Taken is
    what can be done at the place and has not come in the block for longest; then favourites, then another grip, then
    the order of the catalogue. Main lifts and add-ons stay.

    Args:
        used: exercises of the block so far, oldest first.
    """
    instance = instance_of(brief)
    main = main_lifts(brief, settings)
    flagged = set(brief.lifter.cautions)
    last_use = {key: n for n, key in enumerate(used, start=1)}
    catalogue_rank = {key: n for n, key in enumerate(instance.pool)}
    now = {e.exercise for r in records for e in r.exercises}
    taken: list[str] = []
    found = []
    for record in records:
        rows = []
        held = {e.exercise for e in record.exercises if e.exercise in main}
        for e in record.exercises:
            if e.exercise in main or e.add_on or e.exercise not in instance.pool:
                rows.append(e)
                continue
            old = instance.pool[e.exercise]
            others = [
                key
                for key, row in instance.pool.items()
                if row.pattern == old.pattern
                and set(row.direct) == set(old.direct)
                and all(instance.counted(key, t) >= instance.counted(e.exercise, t) for t in instance.targets)
                and key not in held
                and key not in now
                and key not in main
                and key not in brief.exercises.avoided
                and not flagged & set(row.cautions)
                and (record.place is None or any((key, record.place, zone) in instance.offers for zone in Zone))
            ]
            rank = {
                key: (
                    taken.count(key),
                    last_use.get(key, 0),
                    key not in brief.exercises.favourites,
                    instance.pool[key].grip == old.grip,
                    catalogue_rank[key],
                )
                for key in others
            }
            chosen = min(others, key=rank.__getitem__, default=e.exercise)
            held.add(chosen)
            taken.append(chosen)
            rows.append(e.model_copy(update={"exercise": chosen, "load_kg": None}))
        found.append(record.model_copy(update={"exercises": tuple(rows)}))
    return found


def newcomers(brief: Brief, asked: Mapping[str, int], held: Collection[str], phases_left: int) -> tuple[str, ...]:
    """Exercises to come in this phase, so that the block reaches its numbers of distinct ones.

    What is missing is spread over the phases left, rather late than early, for turnover brings some by itself. Taken
    is what serves most of the muscles that lack some, then favourites, then the order of the catalogue; only what a
    kind of session may hold and a place allows.

    Args:
        asked: per muscle or group, how many distinct exercises are to train it directly over the block.
        held: exercises that have come in the block or are to come in this phase anyway.
    """
    instance = instance_of(brief)
    missing = {}
    for key, number in asked.items():
        lacking = number - sum(instance.direct(e, key) for e in held)
        missing[key] = max(0, lacking) // phases_left
    found: list[str] = []
    fitting = [key for key in instance.possible() if key not in held]
    while any(missing.values()):
        serves = {
            key: sum(instance.direct(key, muscle) for muscle, n in missing.items() if n)
            for key in fitting
            if key not in found
        }
        best = max(serves, key=lambda key: (serves[key], key in brief.exercises.favourites), default=None)
        if best is None or not serves[best]:
            break
        found.append(best)
        missing = {muscle: n - (n > 0 and instance.direct(best, muscle)) for muscle, n in missing.items()}
    return tuple(found)
