"""How long sessions take: what they hold, in ticks and in whole slots."""

from __future__ import annotations

from math import lcm
from typing import TYPE_CHECKING

from scheduler.domain.units import TICKS_PER_SLOT
from scheduler.week.expressions import Linear
from scheduler.week.variables import OptionVars

if TYPE_CHECKING:
    from scheduler.week.model import Week


def post_lengths(week: Week) -> None:
    """Length in whole slots of what a session holds; posted last, when every rule has added its time."""
    add = week.model.add
    for session in week.open_sessions:
        total = session.ticks - week.instance.warm_up_ticks * session.active - sum(session.extra_ticks)
        times = [_ticks(week, option) for option in session.options]
        scale = lcm(*(share for share, _, _ in times))
        least = sum(scale // share * low for share, low, _ in times)
        most = sum(scale // share * high for share, _, high in times)
        if week.outline:
            add(least <= scale * total)
            add(most >= scale * total)
        else:
            add(least == scale * total)
        add(TICKS_PER_SLOT * session.length >= session.ticks)
        add(TICKS_PER_SLOT * session.length <= session.ticks + TICKS_PER_SLOT - 1)


def tell_time_by_zone(week: Week) -> None:
    """Say of each session's time what so many exercises, and so many sets in each zone, take at least.

    That follows from the lengths and removes no week. But these counts are whole, and few: where time is short a
    relaxation fills a session with parts of sets, and proofs hang on that. A second call adds nothing.
    """
    if week.time_told:
        return
    week.time_told = True
    for session in week.open_sessions:
        if not session.options:
            continue
        ways = {id(option): _ways(week, option) for option in session.options}
        exercises = week.sum_of(f"{session.label} exercises", [(o.uses, 1) for o in session.options])
        least = week.instance.warm_up_ticks * session.active + sum(session.extra_ticks)
        least += min(setup for mine in ways.values() for setup, _ in mine) * exercises
        for zones in dict.fromkeys(option.zones for option in session.options):
            alike = [o for o in session.options if o.zones == zones]
            sets = week.sum_of(f"{session.label} {'/'.join(zones)} sets", [(o.sets, 1) for o in alike])
            least += min(each for o in alike for _, each in ways[id(o)]) * sets
        week.model.add(least <= session.ticks)


def _ticks(week: Week, option: OptionVars) -> tuple[int, Linear, Linear]:
    """A number, and the ticks that an option takes at least and at most, times that number.

    In outline, members and zones take different times. The least of them is concave in the sets of an exercise, so
    no less than the straight line between the fewest sets and the most; the longest is no more.
    """
    fewest, span = option.least_sets, option.most_sets - option.least_sets
    ways = _ways(week, option)
    lines: list[Linear] = []
    for extreme in (min, max):
        first, last = (extreme(setup + sets * each for setup, each in ways) for sets in (fewest, fewest + span))
        lines.append(first * option.uses * max(1, span) + (last - first) * (option.sets - fewest * option.uses))
    return max(1, span), lines[0], lines[1]


def _ways(week: Week, option: OptionVars) -> list[tuple[int, int]]:
    """Ticks to set up and ticks a set, for each exercise and zone that an option may stand for; but for outlines
    there is one."""
    instance = week.instance
    if not week.outline:
        row, zone = option.stimulus.row, option.zone
        return [(instance.setup_ticks(row, zone), instance.set_ticks(row, zone))]
    rows = [instance.pool[key] for key in option.stimulus.members]
    return [
        (instance.setup_ticks(row, zone), instance.set_ticks(row, zone))
        for row in rows
        for zone in option.zones
        if zone in instance.fitting_zones(row)
    ]
