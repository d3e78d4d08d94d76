"""A block on its way: the usual week, then each week from those before it."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from scheduler.answers.replan import record_of
from scheduler.blocks import referee
from scheduler.blocks.beginning import with_needed
from scheduler.blocks.figures import distinct_asked, exercises_of, instance_alone
from scheduler.blocks.pain import NO_PAIN, Pain, notes_of, relatives, strangers, unhandy
from scheduler.blocks.schedule import WeekSpec, reserve_of, schedule
from scheduler.blocks.turnover import main_lifts, newcomers, turned_over
from scheduler.blocks.weeks import (
    Before,
    Ease,
    at_week,
    base_of,
    build_brief,
    easy_brief,
    left_out,
    path_goals,
    pinned,
    rhythm_brief,
    with_least_sets,
)
from scheduler.data import load_catalogue
from scheduler.domain import wording
from scheduler.domain.block import BlockSettings, BlockWeek, WeekRole
from scheduler.domain.brief import Brief, Lift, SessionRecord
from scheduler.domain.catalogue import Caution
from scheduler.domain.plan import Entry, Plan, PlannedSession, PlanStatus, Role
from scheduler.domain.units import DAYS, GRAMS_PER_KG, Day
from scheduler.planning import instance_of, solve
from scheduler.week.solver import Cancel, Limits

_LEAST_SECONDS = 0.1


@dataclass
class Course:
    """A block on its way: what the weeks so far came to, and what was logged of them."""

    brief: Brief
    settings: BlockSettings
    limits: Limits = field(default_factory=Limits)
    """Of one solve."""
    cancel: Cancel | None = None
    deadline: float | None = None
    """On the monotonic clock: when all weeks are to be there."""
    weeks: list[BlockWeek] = field(default_factory=list)
    rhythm: dict[str, tuple[SessionRecord, ...]] = field(default_factory=dict)
    done: dict[int, tuple[SessionRecord, ...]] = field(default_factory=dict)
    """By week: what was done, where a log says so."""
    lifts: tuple[Lift, ...] | None = None
    behind: Mapping[str, int] = field(default_factory=dict)
    easy: frozenset[int] = frozenset()
    pain: Pain = NO_PAIN
    """What hurts and is not cleared, and what is beyond the lifter yet."""
    cleared: Mapping[str, int] = field(default_factory=dict)
    """Exercises that hurt and are cleared, and the week whose log says so."""
    missed: Mapping[str, float] = field(default_factory=dict)
    """By muscle: sets before sessions were missed, where the last week misses some."""
    rough: bool = False
    """Whether a usual week is not proved best."""

    @property
    def specs(self) -> tuple[WeekSpec, ...]:
        return schedule(self.settings, self.brief, load_catalogue())

    def plan_next(self) -> BlockWeek:
        """Plan the week after those that are there."""
        spec = self.specs[len(self.weeks)]
        easy = spec.role is WeekRole.EASY or spec.number in self.easy
        week = self._week(spec, easy=easy)
        if week.plan.status is PlanStatus.IMPOSSIBLE and self.pain.cautions:
            # Without the caution what hurt is left out all the same, and what is like it is named.
            held, self.pain = self.pain, replace(self.pain, cautions=())
            without = self._week(spec, easy=easy)
            if without.plan.tiers:
                names = wording.listed(caution.full_name for caution in held.cautions)
                note = f"By where it hurt the {names} caution would hold, but no week keeps it beside the musts."
                week = without.model_copy(update={"notes": (*without.notes, note)})
            else:
                self.pain = held
        self.weeks.append(week)
        return week

    def _week(self, spec: WeekSpec, *, easy: bool) -> BlockWeek:
        """A week after those that are there, planned with what hurts."""
        usual = self._usual(spec)
        staying = self._staying(spec)
        notes: list[str] = []
        if self.pain != NO_PAIN:
            own, now = (base_of(self.brief, spec, pain).lifter.cautions for pain in (NO_PAIN, self.pain))
            notes += notes_of(self.pain, staying, own=own, now=now)
        if self.pain.exercises:
            # Where something hurts nobody is to come nearer to failure, and no sets are to rise.
            built = [w.path_percent for w in self.weeks if w.path_percent is not None]
            spec = replace(
                spec,
                reps_in_reserve=max(spec.reps_in_reserve, self.weeks[-1].reps_in_reserve),
                path_percent=min([spec.path_percent, *built[-1:]]),
            )
        if easy and self.weeks:
            plan, reserve = self._easy_week(spec, usual, notes)
        else:
            plan, reserve = self._building_week(spec, usual, notes), spec.reps_in_reserve
        notes += relatives(self.pain, plan, staying)
        return BlockWeek(
            number=spec.number,
            role=WeekRole.EASY if easy else WeekRole.BUILD,
            phase=spec.phase,
            path_percent=None if easy else spec.path_percent,
            reps_in_reserve=reserve,
            patch=spec.patch,
            plan=plan,
            moved=tuple(moved(usual, plan, spec.number)),
            notes=tuple(notes),
        )

    def go_back(self) -> BlockWeek | None:
        """The last week was found impossible: look for another week before it, one session on another day.

        Only where the week would be possible by itself, and where the week before was not done already.
        """
        failed = self.weeks.pop()
        if self.weeks and self.weeks[-1].number not in self.done and self._alone(failed):
            before = self.weeks.pop()
            spec = self.specs[before.number - 1]
            zone = before.plan.brief.week.tz
            used = [(s.kind, DAYS[s.start.astimezone(zone).weekday()]) for s in before.plan.sessions]
            for kind, day in dict.fromkeys(used) if before.role is WeekRole.BUILD else ():
                usual = self._usual(spec)
                shut = {kind: frozenset((day,))}
                asked = self._before_building(spec, usual)
                plan = self._solve(build_brief(self.brief, spec, replace(asked, shut=shut, demanded=())))
                if not plan.tiers:
                    continue
                name = plan.brief.kinds[kind].name or kind
                note = f"{name} is not on {day.full_name}: after that the next week would be impossible."
                update = {"plan": plan, "moved": tuple(moved(usual, plan, spec.number)), "notes": (note,)}
                self.weeks.append(before.model_copy(update=update))
                if self.plan_next().plan.tiers:
                    return self.weeks[-1]
                del self.weeks[-2:]
            self.weeks.append(before)
        self.weeks.append(failed)
        return None

    def _alone(self, failed: BlockWeek) -> bool:
        """Whether a week is possible where nothing came before it."""
        return bool(self._solve(failed.plan.brief.model_copy(update={"history": ()})).tiers)

    def _usual(self, spec: WeekSpec) -> tuple[SessionRecord, ...]:
        """The usual sessions by the week's patch, on the first week's dates; planned when first asked for."""
        if spec.patch not in self.rhythm:
            # Without a patch the top is that of the whole block: what changes later on changes nothing before it.
            alike = self.specs if not spec.patch else [s for s in self.specs if s.patch == spec.patch]
            top = replace(spec, path_percent=max(s.path_percent for s in alike))
            ring = self._solve(rhythm_brief(self.brief, top, self.rhythm.get("", ())))
            self.rhythm[spec.patch] = tuple(record_of(s) for s in ring.sessions)
            self.rough = self.rough or ring.status is PlanStatus.FEASIBLE
        found = self.rhythm[spec.patch]
        if found or not self.weeks:
            return found
        last = self.weeks[-1].plan
        return tuple(at_week(record_of(s), 1 - self.weeks[-1].number, self.brief) for s in last.sessions)

    def _staying(self, spec: WeekSpec) -> list[str]:
        """What hurt and comes in spite of it, for the brief pins it."""
        held = pinned(base_of(self.brief, spec)) if self.pain.exercises else ()
        return [key for key in self.pain.exercises if key in held]

    def _coming_back(self, spec: WeekSpec) -> tuple[str, ...]:
        """What hurt, is cleared, and has not come since: no week before this one holds it, so it is asked for anew."""
        away = [
            key
            for key, week in self.cleared.items()
            if key in exercises_of(self.weeks[:week])
            and key not in exercises_of(w for w in self.weeks[week:] if w.role is WeekRole.BUILD)
        ]
        there = set(instance_of(base_of(self.brief, spec, self.pain)).possible()) if away else ()
        return tuple(key for key in away if key in there)

    def _before(self, spec: WeekSpec, usual: Sequence[SessionRecord]) -> Before:
        records = [r for week in self.weeks for r in self.records(week)]
        return Before(
            records=records,
            rhythm=usual,
            contents=self._contents(spec, usual),
            after_easy=bool(self.weeks) and self.weeks[-1].role is WeekRole.EASY,
            lifts=self.lifts,
            aims=self._aims(spec),
            pain=self.pain,
            strange=strangers(self.pain, {e.exercise for r in records for e in r.exercises}),
            missed=self.missed,
            newcomers=self._coming_back(spec),
        )

    def records(self, week: BlockWeek) -> tuple[SessionRecord, ...]:
        """What was done in a week; without a log what was planned."""
        if week.number in self.done:
            return self.done[week.number]
        return tuple(record_of(s) for s in week.plan.sessions)

    def outlook(self, week: BlockWeek) -> BlockWeek:
        """A week as it was planned before the log: loads by the lifts that are known now, none for what is left out."""
        spec = self.specs[week.number - 1]
        lifter = base_of(self.brief, spec).lifter
        if self.lifts is not None:
            lifter = lifter.model_copy(update={"lifts": self.lifts})
        brief = week.plan.brief.model_copy(update={"lifter": lifter})
        offers = instance_alone(brief).offers
        out = left_out(base_of(self.brief, spec, self.pain), self.pain) & {*exercises_of([week])}

        def loaded(session: PlannedSession, entry: Entry) -> Entry:
            if entry.role is Role.ACTIVATION:
                return entry
            if entry.exercise in out:
                return entry.model_copy(update={"load_kg": None})
            offer = offers.get((entry.exercise, session.place or "", entry.zone))
            grams = offer.load_grams if offer is not None else None
            return entry.model_copy(update={"load_kg": None if grams is None else grams / GRAMS_PER_KG})

        sessions = tuple(
            session.model_copy(update={"entries": tuple(loaded(session, e) for e in session.entries)})
            for session in week.plan.sessions
        )
        plan = week.plan.model_copy(update={"brief": brief, "sessions": sessions})
        return week.model_copy(update={"plan": plan, "outlook": True, "left_out": tuple(sorted(out))})

    def _contents(self, spec: WeekSpec, usual: Sequence[SessionRecord]) -> list[SessionRecord]:
        """Exercises to keep: those of the last week that built, under the same patch if there is one in the phase.

        The first week has those of the usual week; a new phase has others in place of accessory exercises.
        """
        built = [w for w in self.weeks if w.role is WeekRole.BUILD and w.plan.tiers]
        same = [w for w in built if w.patch == spec.patch and w.phase == spec.phase]
        if not built:
            return with_least_sets(usual, self.brief)
        source = (same or built)[-1]
        records = [at_week(record_of(s), spec.number - source.number, source.plan.brief) for s in source.plan.sessions]
        if not spec.opens_phase:
            return records
        used = [e.exercise for w in self.weeks for s in w.plan.sessions for e in s.entries]
        return turned_over(records, base_of(self.brief, spec, self.pain), self.settings, used)

    def _needed(self, spec: WeekSpec, usual: Sequence[SessionRecord], before: Before) -> Before:
        """Without what the usual week holds for higher aims, as long as it holds the phase's exercises."""
        built = [w for w in self.weeks if w.role is WeekRole.BUILD and w.plan.tiers]
        if spec.phase > 1 or not usual or (built and built[-1].patch != spec.patch):
            return before
        base = base_of(self.brief, spec, self.pain)
        asked = base.model_copy(update={"goals": path_goals(base, spec.path_percent, before.aims)})
        there = [at_week(record, spec.number - 1, base) for record in with_least_sets(usual, self.brief)]
        known = before.contents if built else ()
        main, out = main_lifts(base, self.settings), left_out(base, self.pain)
        return replace(before, contents=with_needed(there, asked, main, known, out))

    def _aims(self, spec: WeekSpec) -> dict[str, int]:
        """The path of muscles that stand back, never above that of the week."""
        building = [s for s in self.specs if s.role is WeekRole.BUILD and s.building <= spec.building]
        return {
            key: min(spec.path_percent, building[max(0, len(building) - 1 - weeks)].path_percent)
            for key, weeks in self.behind.items()
        }

    def _solve(self, brief: Brief) -> Plan:
        limits = self.limits
        if self.deadline is not None:
            # Twice its share of the time that is left: most weeks take less, and a hard one leaves some for the others.
            share = 2 / (1 + max(1, len(self.specs) - len(self.weeks)))
            limits = replace(limits, wall_seconds=max(_LEAST_SECONDS, share * (self.deadline - time.monotonic())))
        return solve(brief, limits=limits, cancel=self.cancel)

    def _building_week(self, spec: WeekSpec, usual: Sequence[SessionRecord], notes: list[str]) -> Plan:
        before = self._before_building(spec, usual)
        plan = self._solve(build_brief(self.brief, spec, before))
        for strange in (unhandy(before.strange), ()):
            if before.strange != strange and plan.status is PlanStatus.IMPOSSIBLE:
                before = replace(before, strange=strange)
                plan = self._solve(build_brief(self.brief, spec, before))
        if before.demanded and plan.status is PlanStatus.IMPOSSIBLE:
            asked = before.demanded
            before = replace(before, demanded=())
            plan = self._solve(build_brief(self.brief, spec, before))
            held = {e.exercise for s in plan.sessions for e in s.entries}
            rows = load_catalogue().exercises
            names = [rows[key].name for key in asked if key not in held]
            if plan.tiers and names:
                notes.append(
                    f"For more distinct exercises {wording.listed(names)} should come, but cannot beside the musts."
                )
        if not plan.tiers or self._lets_follow(spec, plan):
            return plan
        for kind, day in self._elsewhere(usual, plan):
            # A session that had to leave its usual day can shut the week after out: try to have it on another.
            other = self._solve(build_brief(self.brief, spec, replace(before, shut={kind: frozenset((day,))})))
            if other.tiers and self._lets_follow(spec, other):
                name = other.brief.kinds[kind].name or kind
                notes.append(f"{name} is not on {day.full_name}: after that the next week could not be as usual.")
                return other
        return plan

    def _before_building(self, spec: WeekSpec, usual: Sequence[SessionRecord]) -> Before:
        """What a week that builds knows of those before it."""
        return self._needed(spec, usual, self._with_newcomers(spec, self._before(spec, usual)))

    def _with_newcomers(self, spec: WeekSpec, before: Before) -> Before:
        """With the exercises that come in the week's phase so that every muscle gets its number of distinct ones.

        Numbers that were asked for are demanded when the phase opens, those of the evidence are wished for.
        """
        if not spec.opens_phase:
            return before  # the phase keeps its exercises anyway
        base = base_of(self.brief, spec, self.pain)
        instance = instance_of(self.brief)
        left = max(s.phase for s in self.specs if s.role is WeekRole.BUILD) - spec.phase + 1
        held = {*exercises_of(self.weeks), *(e.exercise for r in before.contents for e in r.exercises)}
        demanded = newcomers(base, self.settings.distinct, held, left)
        usual = {}
        if Caution.PREGNANCY not in base.lifter.cautions:  # there sets are not to rise for the sake of variety
            usual = {key: distinct_asked(instance, self.settings, key) or 0 for key in instance.targets}
        wished = newcomers(base, usual, held | set(demanded), left)
        return replace(before, newcomers=(*before.newcomers, *demanded, *wished), demanded=demanded)

    def _lets_follow(self, spec: WeekSpec, plan: Plan) -> bool:
        """Whether the usual sessions of the next week, calendar aside, keep the musts after this plan."""
        following = next((s for s in self.specs if s.number == spec.number + 1), None)
        if following is None or not self.rhythm.get(following.patch):
            return True
        records = [record_of(s) for s in plan.sessions]
        return referee.can_follow(self.brief, following, records, self.rhythm[following.patch])

    def _elsewhere(self, usual: Sequence[SessionRecord], plan: Plan) -> list[tuple[str, Day]]:
        """Kinds and days of the sessions that are not on their usual days."""
        zone = plan.brief.week.tz
        days = {(r.kind, r.start.astimezone(zone).weekday()) for r in usual}
        there = ((s.kind, s.start.astimezone(zone).weekday()) for s in plan.sessions)
        return [(kind, DAYS[day]) for kind, day in there if (kind, day) not in days]

    def _easy_week(self, spec: WeekSpec, usual: Sequence[SessionRecord], notes: list[str]) -> tuple[Plan, int]:
        catalogue = load_catalogue()
        ease = Ease(
            self.settings.easy_sets_percent or catalogue.default_int("block_easy_sets_percent"),
            self.settings.easy_reps_percent or catalogue.default_int("block_easy_reps_percent"),
        )
        reserve = reserve_of(self.settings, self.brief, catalogue)[1]
        spec = replace(spec, opens_phase=False, reps_in_reserve=reserve)
        before = self._before(spec, usual)
        plan = self._solve(easy_brief(self.brief, spec, before, ease))
        if plan.status is PlanStatus.IMPOSSIBLE:
            notes.append("The exercises of the week before cannot all be kept.")
            plan = self._solve(easy_brief(self.brief, spec, before, ease, same_exercises=False))
        return plan, reserve


def moved(usual: Sequence[SessionRecord], plan: Plan, number: int) -> Iterable[str]:
    """The sessions of a week that are not at their usual day and time, in words."""
    if not usual:
        return
    clock_of = plan.brief.week.tz
    at = {
        kind: sorted(at_week(r, number - 1, plan.brief).start for r in usual if r.kind == kind)
        for kind in plan.brief.kinds
    }
    for kind in plan.brief.kinds:
        sessions = [s for s in plan.sessions if s.kind == kind]
        starts = {s.start.astimezone(clock_of): s for s in sessions}
        left = [start for start in at[kind] if start not in starts]
        for start, session in starts.items():
            if start in at[kind]:
                continue
            if left:
                was = left.pop(0)
                yield f"{session.name}: {wording.short_day_time(start)} instead of {wording.short_day_time(was)}"
            else:
                yield f"{session.name}: {wording.short_day_time(start)}, one more than usual"
        if len(sessions) < len(at[kind]):
            yield from (f"{kind}: none on {wording.short_day_time(was)}" for was in left)
