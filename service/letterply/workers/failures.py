"""What a task failed with that did not end by itself, in the words of whoever asked for it."""

from __future__ import annotations

import signal
from typing import Any

from letterply.errors import JobFailed
from letterply.workers.process import OUT_OF_TIME

__all__ = ["crashed", "expired", "waited_out"]


def expired(exit_code: int | None, limit_s: float) -> JobFailed:
    """Return the failure of a task whose process ended under it; its limit is in s."""
    if OUT_OF_TIME is None or exit_code != -OUT_OF_TIME:
        return crashed(exit_code)
    return JobFailed(
        f"The request takes more than the {limit_s:g} s of processor time that a job may use.",
        code="job-timeout",
        expected="less text, fewer copies or larger tolerances",
        data={"time_limit_s": limit_s},
    )


def waited_out(limit_s: float, clock_factor: float) -> JobFailed:
    """Return the failure of a task that the guard by the clock ended."""
    clock_limit_s = limit_s * clock_factor
    return JobFailed(
        f"The request was not done after {clock_limit_s:g} s by the clock.",
        code="job-timeout",
        expected="the same request when the machine is less busy, or a smaller one",
        data={"time_limit_s": limit_s, "clock_limit_s": clock_limit_s},
    )


def crashed(exit_code: int | None) -> JobFailed:
    """Return the failure of a task that took its process down."""
    data: dict[str, Any] = {}
    if exit_code is not None and exit_code < 0:
        data["signal"] = signal.Signals(-exit_code).name
    return JobFailed(
        "The job failed through a fault of the service.", code="job-crashed", data=data
    )
