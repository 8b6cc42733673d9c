"""Processes with hard limits.

In: a function and its arguments. Out: its value, or an error that says whether it ran out of time
or memory, or took its process down.
"""

from letterply.workers.pool import ComputePool, Submitted
from letterply.workers.process import imported_to_stay, is_there
from letterply.workers.progress import Progress, tell
from letterply.workers.whereabouts import has_ended, process_mark, worker_name

__all__ = [
    "ComputePool",
    "Progress",
    "Submitted",
    "has_ended",
    "imported_to_stay",
    "is_there",
    "process_mark",
    "tell",
    "worker_name",
]
