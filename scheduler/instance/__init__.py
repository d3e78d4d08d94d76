"""A brief settled: defaults filled in, names resolved, times on the week's clock."""

from scheduler.instance.clock import Clock
from scheduler.instance.model import (
    AddOnSpec,
    Busy,
    Instance,
    Item,
    Kind,
    Limits,
    Offer,
    SessionFacts,
    Spot,
    Target,
    Venue,
    ZoneNumbers,
)
from scheduler.instance.offers import row_of_sets, usual_reserve

__all__ = [
    "AddOnSpec",
    "Busy",
    "Clock",
    "Instance",
    "Item",
    "Kind",
    "Limits",
    "Offer",
    "SessionFacts",
    "Spot",
    "Target",
    "Venue",
    "ZoneNumbers",
    "row_of_sets",
    "usual_reserve",
]
