"""Processes with hard limits.

In: a function and its arguments. Out: its value, or an error that says whether it ran out of time
or memory, or took its process down.
"""

from letterply.workers.pool import ComputePool, Submitted
from letterply.workers.process import is_there
from letterply.workers.progress import Progress, tell

__all__ = ["ComputePool", "Progress", "Submitted", "is_there", "tell"]
