"""The rules section of a brief, validated rule by rule."""

from __future__ import annotations

from scheduler.documents import validate
from scheduler.domain.brief import Brief
from scheduler.domain.catalogue import Catalogue
from scheduler.domain.errors import Fault, InputError, unknown
from scheduler.domain.plan import Mode
from scheduler.rules import RULES, RULES_BY_KEY
from scheduler.rules.base import Setting


def rule_settings(brief: Brief, catalogue: Catalogue) -> dict[str, Setting]:
    """The setting of every rule: what the brief says of it, else its defaults. All faults are raised at once."""
    faults = [fault for key in brief.rules for fault in unknown(f"rules.{key}", "rule", (key,), RULES_BY_KEY)]
    settings: dict[str, Setting] = {}
    for rule in RULES:
        try:
            setting = validate(rule.setting_model, dict(brief.rules.get(rule.key, {})), prefix=f"rules.{rule.key}")
        except InputError as error:
            faults += error.faults
            continue
        if rule.measure and setting.mode is Mode.MUST:
            advice = "Leave it a wish, with a weight if it matters more, or write off"
            problem = "what is only kept as small as possible cannot be a must: no week has none of it"
            faults.append(Fault(f"rules.{rule.key}.mode", problem, advice))
        if rule.must_only and setting.mode is Mode.WISH:
            problem = "the planner makes nothing else, so it cannot be a wish"
            faults.append(Fault(f"rules.{rule.key}.mode", problem, "Write must or off"))
        faults += rule.faults(setting, brief, catalogue)
        settings[rule.key] = setting
    if faults:
        raise InputError(faults)
    return settings
