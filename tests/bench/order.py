"""The demo's order of 24 names: how long until it is ready, and what takes the time.

    .venv/bin/python tests/bench/order.py [--names N] [--cold | --profile [--deep]]

Asks a private service what the order would take, as one does who minds the price, places it, and
prints seconds by the clock and of the processor (the service's and its workers') of both, until the
order is ready: programs and proofs, no pictures. `--cold` places it unasked: workers start with it.
`--profile` runs its tasks one after another in this process, on one core, and prints processor time
by kind of task and by room; a room is charged for what it asks of libraries. `--deep` prints the
dearest functions as well, each with all that it calls.
"""

from __future__ import annotations

import argparse
import os
import signal
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

import httpx
from spending import service_s

from letterply.catalogue import load_catalogue
from letterply.orders.codec import Facts
from letterply.orders.intake.reading import read_order
from letterply.orders.pipeline.stages import OrderPipeline, run_pipeline
from letterply.orders.pipeline.task_requests import Sources
from letterply.orders.pipeline.tasks import Task, run_task
from letterply.orders.states import OrderPhase
from letterply.storage import open_vault
from letterply_client import Client, private_service

LINES = Path(__file__).parents[2] / "deploy/orders/boat-names.csv"
WISH = {
    "title": "Boat names",
    "recipe": "rack-sign",
    "marks": "scribed",
    "shop": {"hold_down": "tabs"},
}
_EVERY_S = 0.005
_IDLE_S = 0.15
"""Processor time of a service in a second in which it has nothing to do, at most."""


def by_the_clock(lines: bytes, *, cold: bool) -> Iterator[str]:
    """Yield how long a service takes for the question and the order, in words."""
    with private_service() as url, Client(url) as client:
        while httpx.get(f"{url}/health/ready", timeout=60).status_code != 200:
            time.sleep(0.1)
        if not cold:
            yield _timed(lambda: client.estimate_order(lines, **WISH) and "dry run")
        yield _timed(lambda: "ready" if client.order(lines, **WISH).ready else "not ready")


def _timed(answer: Callable[[], str]) -> str:
    """Return what a service says, and after how long."""
    _settle()
    began, spent = time.perf_counter(), service_s()
    said = answer()
    took, used = time.perf_counter() - began, service_s() - spent
    return f"{said} after {took:.1f} s by the clock, {used:.1f} s of processor time"


def _settle() -> None:
    """Wait until all workers have got ready: then the service only looks at its queues."""
    spent = 0.0
    while (now := service_s()) - spent > _IDLE_S:
        spent = now
        time.sleep(1.0)


class Spent:
    """Where processor time goes: by kind of task, by room, by function with what it calls."""

    def __init__(self) -> None:
        self.kinds: Counter[str] = Counter()
        self.rooms: Counter[str] = Counter()
        self.functions: Counter[str] = Counter()
        self._kind, self._seen = "", 0.0

    @contextmanager
    def counting(self) -> Iterator[None]:
        """Look every few ms at what is running; a call that takes longer counts for as long."""
        self._seen = time.process_time()
        signal.signal(signal.SIGPROF, self._look)
        signal.setitimer(signal.ITIMER_PROF, _EVERY_S, _EVERY_S)
        try:
            yield
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)

    def run(self, place: str, task: Task) -> Facts:
        """Return the answer of a task."""
        self._kind = str(task.kind)
        began = time.process_time()
        answer = run_task(place, task.kind, task.key, task.args)
        self.kinds[self._kind] += time.process_time() - began
        return answer

    def _look(self, number: int, frame: FrameType | None) -> None:
        now = time.process_time()
        passed, self._seen = now - self._seen, now
        names: list[str] = []
        while frame is not None:
            module = frame.f_globals.get("__name__", "")
            if module.startswith("letterply."):
                names.append(f"{module.removeprefix('letterply.')}.{frame.f_code.co_name}")
            frame = frame.f_back
        if names:
            self.rooms[f"{self._kind} {names[0].partition('.')[0]}"] += passed
            for name in set(names):
                self.functions[f"{self._kind} {name}"] += passed


def profiled(lines: bytes) -> Spent:
    """Return where the processor time of all tasks goes, run on one core."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    order = read_order(WISH, load_catalogue(), lambda key: True, table=lines)
    spent = Spent()
    with tempfile.TemporaryDirectory() as place:
        pipeline = OrderPipeline(order, Sources({}, (), {}), open_vault(place))

        def run(phase: OrderPhase, tasks: Sequence[Task]) -> Mapping[str, Facts]:
            return {t.key: spent.run(place, t) for t in {t.key: t for t in tasks}.values()}

        with spent.counting():
            run_pipeline(pipeline, run)
    return spent


def _table(title: str, counted: Counter[str], most: int = 1000) -> None:
    print(f"\n{title}")
    for name, seconds in counted.most_common(most):
        print(f"  {seconds:7.2f} s  {name}")


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--names", type=int, default=24, help="so many of the names")
    parser.add_argument("--profile", action="store_true")
    parser.add_argument("--deep", action="store_true")
    parser.add_argument("--cold", action="store_true")
    given = parser.parse_args()
    lines = b"".join(LINES.read_bytes().splitlines(keepends=True)[: given.names + 1])
    if not given.profile:
        for told in by_the_clock(lines, cold=given.cold):
            print(told, flush=True)
        return
    spent = profiled(lines)
    _table("by kind of task", spent.kinds)
    _table("by room", spent.rooms)
    if given.deep:
        _table("dearest functions, with all that they call", spent.functions, 150)


if __name__ == "__main__":
    main()
