"""What the server keeps: accepted work and its answers, idempotency keys, API keys."""

from api.store.engine import Store, StoreUnavailable
from api.store.jobs import JobStore
from api.store.keys import KeyStore
from api.store.models import BLOCK, ENDED, LOG, PLAN, Job, Key, State
from api.store.nouns import Accepted, Full, KeyUsedOtherwise, NewJob

__all__ = [
    "BLOCK",
    "ENDED",
    "LOG",
    "PLAN",
    "Accepted",
    "Full",
    "Job",
    "JobStore",
    "Key",
    "KeyStore",
    "KeyUsedOtherwise",
    "NewJob",
    "State",
    "Store",
    "StoreUnavailable",
]
