"""Sets and reps of each exercise are sensible, and a session lasts as long as its content takes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode, Role, Zone
from scheduler.domain.units import TICKS_PER_SLOT
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, SessionFacts, row_of_sets
from scheduler.rules.base import TIME, Rule, Setting, Switch, count_of, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


class PrescriptionRule(Rule[Setting]):
    """For every main exercise e: least <= sets(e) <= most(e), its zone fits its sensible reps, and it comes once a
    session; no two sessions overlap; for every session s: length(s) >= minutes that its content takes.

    Three switches. Breach: exercises out of range; minutes that the content exceeds the session by; minutes of
    overlap. The week model makes no other sessions.
    """

    key = "prescription"
    title = "Sets, reps and minutes"
    meaning = "Sets and reps of an exercise are sensible, and a session is as long as its content takes."
    formula = (
        "least <= sets(e) <= most; reps(e) in range(e); "
        "length(s) >= warm-up + set-ups + build-ups + sets x (work + rest)"
    )
    default_mode = Mode.MUST
    must_only = True
    evidence = (
        "sets_per_exercise",
        "sets_per_exercise_novice",
        "warm_up_minutes",
        "build_up_minutes",
        "heavy_sets_left_out_for",
    )

    def switches(self, instance: Instance) -> Iterable[Switch]:
        asked = instance.sets_per_exercise
        rows = instance.catalogue.exercises
        more = [f"{rows[key].name} up to {most}" for key, most in instance.more_sets.items()]
        suit = "suit it" if instance.zones[Zone.HEAVY].offered else "suit it; none of 6 or fewer reps"
        yield self.switch(
            instance,
            "sets",
            f"Each exercise has {wording.between(asked.least, asked.most, 'working set')}"
            f"{f' ({wording.listed(more)})' if more else ''}, in reps that {suit}.",
            "{} out of range",
            count_of("exercise"),
            mode=Mode.MUST,
            evidence=(row_of_sets(instance.brief), "heavy_sets_left_out_for"),
        )
        yield self.switch(
            instance,
            "minutes",
            "A session lasts as long as its warm-up, sets and rests take, lighter sets before heavy ones included.",
            "a session is planned {} too short",
            TIME,
            mode=Mode.MUST,
            evidence=("warm_up_minutes", "build_up_minutes"),
        )
        yield self.switch(
            instance,
            "overlap",
            "One session ends before the next starts.",
            "two overlap by {}",
            TIME,
            mode=Mode.MUST,
            evidence=(),
        )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        out_of_range = sum(self._out_of_range(facts, s) for s in facts.planned)
        too_short = (-(-facts.ticks(s) // TICKS_PER_SLOT) - (s.end - s.start) for s in facts.planned)
        overlaps = (earlier.end - later.start for earlier, later in facts.pairs())
        return worst(
            [
                (self.id("sets"), out_of_range),
                *((self.id("minutes"), lack) for lack in too_short),
                *((self.id("overlap"), overlap) for overlap in overlaps),
            ]
        )

    def _out_of_range(self, facts: WeekFacts, session: SessionFacts) -> int:
        wrong = 0
        for item in session.items:
            asked = facts.instance.sets_of(item.key)
            fits = item.zone in facts.instance.fitting_zones(item.exercise)
            sets_fit = item.role is not Role.MAIN or asked.least <= item.sets <= asked.most
            wrong += not (sets_fit and (fits or item.role is Role.ACTIVATION))
        counts = Counter(i.key for i in session.items if i.role is not Role.ACTIVATION)
        return wrong + sum(n - 1 for n in counts.values())

    def post(self, week: Week) -> None:
        """Nothing to post: these are identities of the week model."""
