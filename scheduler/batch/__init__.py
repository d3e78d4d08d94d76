"""Many briefs at once: on all cores of this machine or on a cluster, resumable, one bad brief never stops the rest."""

from scheduler.batch.batch import Summary, solve_batch

__all__ = ["Summary", "solve_batch"]
