"""Workers: functions in, values out, each in a process with hard limits."""

from letterply.workers.pool import ComputePool, Submitted
from letterply.workers.process import is_there

__all__ = ["ComputePool", "Submitted", "is_there"]
