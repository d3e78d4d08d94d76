"""How many sessions a day, and how far apart on one day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from pydantic import Field

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS, slots_from_hours
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import TIME, Rule, Setting, Switch, count_of, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


class SessionsADaySetting(Setting):
    most: int | None = Field(default=None, ge=1, le=4)
    hours_apart: float | None = Field(default=None, ge=0, le=24)


class SessionsADayRule(Rule[SessionsADaySetting]):
    """For every day d: sessions(d) <= most; two of one day lie ``hours_apart`` from end to start.

    Two switches. Breach: sessions too many on the fullest day; hours missing between two of one day.
    """

    key = "sessions_a_day"
    title = "Sessions a day"
    meaning = "At most so many sessions a day; two on one day lie some hours apart."
    formula = "for all d: |{s: day(s) = d}| <= most; for all s, t of one day: start(t) - end(s) >= hours"
    default_mode = Mode.MUST
    evidence = ("sessions_a_day", "hours_between_sessions_of_a_day")
    setting_model = SessionsADaySetting

    def most(self, instance: Instance) -> int:
        return self.setting(instance).most or instance.catalogue.default_int("sessions_a_day")

    def apart(self, instance: Instance) -> int:
        """Slots between two sessions of one day."""
        hours = self.setting(instance).hours_apart
        return slots_from_hours(
            hours if hours is not None else instance.catalogue.default_int("hours_between_sessions_of_a_day")
        )

    def switches(self, instance: Instance) -> Iterable[Switch]:
        most = self.most(instance)
        yield self.switch(
            instance,
            "most",
            f"At most {wording.counted(most, 'session')} a day.",
            "{} too many on one day",
            count_of("session"),
            evidence=("sessions_a_day",),
            mend=lambda amount, facts: f"{wording.counted(most + amount, 'session')} on one day instead of {most}",
        )
        hours = self.apart(instance)
        yield self.switch(
            instance,
            "apart",
            f"Two sessions of one day lie at least {wording.duration(hours)} apart.",
            "two sessions of one day are {} too close",
            TIME,
            evidence=("hours_between_sessions_of_a_day",),
            mend=lambda amount, facts: (
                f"two sessions of one day {wording.duration(hours - amount)} apart instead of {wording.duration(hours)}"
            ),
        )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        most = self.most(facts.instance)
        found = []
        for day in range(len(DAYS)):
            of_day = [s for s in facts.sessions if s.day == day]
            if any(not s.done for s in of_day):
                # What is done is no one's to change: a day already over its number only takes no further session.
                found.append((self.id("most"), len(of_day) - max(most, sum(s.done for s in of_day))))
        apart = self.apart(facts.instance)
        found += [
            (self.id("apart"), apart - (later.start - earlier.end))
            for earlier, later in facts.pairs()
            if earlier.day == later.day
        ]
        return worst(found)

    def post(self, week: Week) -> None:
        most = self.most(week.instance)
        slack = week.slack(self.id("most"), len(week.sessions))
        for day in range(len(DAYS)):
            of_day = [s.day[day] for s in week.sessions]
            done = sum(s.facts is not None and s.facts.day == day for s in week.sessions)
            week.model.add(sum(of_day) <= max(most, done) + slack)
        # A second session of a day may be what gives way.
        if most > 1 or week.may_be_broken(self.id("most")):
            apart = self.apart(week.instance)
            spread = week.slack(self.id("apart"), apart)
            for one, other in week.all_pairs():
                for day in range(len(DAYS)):
                    literals = (one.day[day], other.day[day])
                    if not any(literal is week.zero for literal in literals):
                        week.apart(one, other, apart, literals, spread)
