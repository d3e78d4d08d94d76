"""All rules, in the order in which they are reported. A new rule is one new file and one line here."""

from __future__ import annotations

from typing import Any

from scheduler.rules.activation import ActivationRule
from scheduler.rules.add_on import AddOnRule
from scheduler.rules.base import Rule, Setting, Switch
from scheduler.rules.belongs_to import BelongsToRule
from scheduler.rules.busy import BusyRule
from scheduler.rules.cautions import CautionsRule
from scheduler.rules.change import ChangeRule
from scheduler.rules.coverage import CoverageRule
from scheduler.rules.earliest import EarliestRule
from scheduler.rules.early_and_fresh import EarlyAndFreshRule
from scheduler.rules.equipment import EquipmentRule
from scheduler.rules.even_lengths import EvenLengthsRule
from scheduler.rules.favourites import FavouritesRule
from scheduler.rules.few_exercises import FewExercisesRule
from scheduler.rules.few_sets import FewSetsRule
from scheduler.rules.few_stations import FewStationsRule
from scheduler.rules.frequency import FrequencyRule
from scheduler.rules.kind_days import KindDaysRule
from scheduler.rules.kind_patterns import KindPatternsRule
from scheduler.rules.lower_back import LowerBackRule
from scheduler.rules.not_before import NotBeforeRule
from scheduler.rules.opening import OpeningRule
from scheduler.rules.order import OrderRule
from scheduler.rules.pairing import PairingRule
from scheduler.rules.pinned import PinnedRule
from scheduler.rules.preferred_times import PreferredTimesRule
from scheduler.rules.prescription import PrescriptionRule
from scheduler.rules.ramp import RampRule
from scheduler.rules.recovery import RecoveryRule
from scheduler.rules.rep_mix import RepMixRule
from scheduler.rules.rest_days import RestDaysRule
from scheduler.rules.same_movement import SameMovementRule
from scheduler.rules.selection import SelectionRule
from scheduler.rules.session_count import SessionCountRule
from scheduler.rules.session_sets import SessionSetsRule
from scheduler.rules.session_size import SessionSizeRule
from scheduler.rules.sessions_a_day import SessionsADayRule
from scheduler.rules.short_sessions import ShortSessionsRule
from scheduler.rules.sleep import SleepRule
from scheduler.rules.spacing import SpacingRule
from scheduler.rules.spread import SpreadRule
from scheduler.rules.stand_in import StandInRule
from scheduler.rules.variety import VarietyRule
from scheduler.rules.weekly_sets import WeeklySetsRule

RULES: tuple[Rule[Any], ...] = (
    OpeningRule(),
    BusyRule(),
    NotBeforeRule(),
    KindDaysRule(),
    SessionsADayRule(),
    SessionCountRule(),
    SessionSizeRule(),
    PrescriptionRule(),
    SpacingRule(),
    RecoveryRule(),
    RestDaysRule(),
    PinnedRule(),
    EquipmentRule(),
    KindPatternsRule(),
    BelongsToRule(),
    CautionsRule(),
    SelectionRule(),
    CoverageRule(),
    AddOnRule(),
    StandInRule(),
    OrderRule(),
    WeeklySetsRule(),
    SessionSetsRule(),
    FrequencyRule(),
    LowerBackRule(),
    VarietyRule(),
    RampRule(),
    ActivationRule(),
    RepMixRule(),
    PairingRule(),
    ChangeRule(),
    EarlyAndFreshRule(),
    PreferredTimesRule(),
    SpreadRule(),
    SleepRule(),
    EvenLengthsRule(),
    FewExercisesRule(),
    FavouritesRule(),
    SameMovementRule(),
    FewSetsRule(),
    FewStationsRule(),
    ShortSessionsRule(),
    EarliestRule(),
)

TIER_NAMES = {
    1: "wishes",
    2: "change",
    3: "placement",
    4: "exercises",
    5: "sets",
    6: "stations",
    7: "minutes",
    8: "tie-break",
}
"""The tiers, solved one after another. Economy (4 to 7) counts small whole things one by one, not one weighted
sum: that is plainer to read and far faster to prove."""

SAME_WORK_FROM = 6
"""From this tier on only weeks are compared that give every goal the same sets in the same sessions: what is left to
decide is no longer training. So these tiers' values say nothing of other weeks."""

SAME_CONTENT_FROM = 7
"""From this tier on they have the same exercises too."""

RULES_BY_KEY = {rule.key: rule for rule in RULES}

__all__ = ["RULES", "RULES_BY_KEY", "SAME_CONTENT_FROM", "SAME_WORK_FROM", "TIER_NAMES", "Rule", "Setting", "Switch"]
