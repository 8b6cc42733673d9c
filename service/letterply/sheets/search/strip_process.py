"""The strip search, run as a program of its own: a job on standard input, places on output.

It stands alone (no import from letterply) so that it starts at once, and so that a panic of the
search library, which would pass by `except Exception`, ends this process and nothing else.

Job: `{"height", "separation", "seconds", "seed", "items": [{"id", "shape", "turns"}]}`.
Answer: `{"width", "placed": [[id, turn_deg, x, y], ...]}`, the turn about the origin first.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
import time
from typing import Any

import spyrrow

_POLL_S = 0.05
_LAST_CALL_S = 20
"""The search overruns its budget. The best so far is then taken; when there is none, the search
goes on for this long."""

_Solution = spyrrow.StripPackingSolution


def solve(job: dict[str, Any]) -> dict[str, Any] | None:
    """Return the answer to a job, or None when the search found nothing in time."""
    items = [
        spyrrow.Item(item["id"], [tuple(p) for p in item["shape"]], 1, item["turns"])
        for item in job["items"]
    ]
    config = spyrrow.StripPackingConfig(
        total_computation_time=job["seconds"],
        min_items_separation=job["separation"],
        num_workers=1,
        seed=job["seed"],
    )
    instance = spyrrow.StripPackingInstance("sheet", job["height"], items)
    reports = spyrrow.ProgressQueue()
    results: list[_Solution] = []
    # A daemon: when time is up, this process ends without it.
    search = threading.Thread(
        target=lambda: results.append(instance.solve(config, reports)), daemon=True
    )
    search.start()
    start = time.monotonic()
    best: _Solution | None = None
    while search.is_alive():
        search.join(_POLL_S)
        for kind, solution in reports.drain():
            if kind != spyrrow.ReportType.ExplInfeas and kind != spyrrow.ReportType.ExplImproving:
                best = solution
        spent = time.monotonic() - start
        if (spent > job["seconds"] and best) or spent > job["seconds"] + _LAST_CALL_S:
            break
    found = results[0] if results else best
    if found is None:
        return None
    placed = [[p.id, p.rotation, *p.translation] for p in found.placed_items]
    return {"width": found.width, "placed": placed}


def main() -> None:
    """Read a job, write its answer, end at once."""
    # Nothing but the answer may reach the pipe, whatever the library prints.
    answer = os.fdopen(os.dup(1), "w")
    os.dup2(2, 1)
    job = json.load(sys.stdin)
    if hasattr(signal, "alarm"):  # should the caller be killed, this process ends by itself
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(job["seconds"] + 2 * _LAST_CALL_S)
    json.dump(solve(job), answer)
    answer.close()
    os._exit(0)  # the search's thread may still be at work


if __name__ == "__main__":
    main()
