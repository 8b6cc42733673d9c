"""Durable orders, measured: what the engine adds to a line, memory, a second process.

    python tests/bench/durable.py --lines 1000 [--postgresql]

Lines are quick ones (`orders.drills.quick_task`): what is measured is the engine, not the geometry.
Report the machine with the figures.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path[0] = str(Path(__file__).parents[1])

from orders.drills.scene import Scene, descendants  # noqa: E402
from postgres_cluster import private_cluster  # noqa: E402


class Memory(threading.Thread):
    """Watches the resident memory of a process and of all below it, MB."""

    def __init__(self, pid: int) -> None:
        super().__init__(daemon=True)
        self.pid = pid
        self.worker_mb: list[float] = []
        self.all_mb: list[float] = []
        self._stop_now = threading.Event()

    def run(self) -> None:
        """Look twice a second."""
        while not self._stop_now.wait(0.5):
            own = _resident_mb(self.pid)
            self.worker_mb.append(own)
            self.all_mb.append(own + sum(_resident_mb(p) for p in descendants(self.pid)))

    def end(self) -> None:
        """Stop watching."""
        self._stop_now.set()
        self.join()


def _resident_mb(pid: int) -> float:
    try:
        for row in Path(f"/proc/{pid}/status").read_text().splitlines():
            if row.startswith("VmRSS"):
                return int(row.split()[1]) / 1024
    except OSError:
        pass
    return 0.0


def _cpu_s(pid: int, *, ended: bool = False) -> float:
    """Return the time on a processor that a process has had, s; with that of its ended children."""
    try:
        after = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return sum(map(int, after[11 : 15 if ended else 13])) / os.sysconf("SC_CLK_TCK")


def _all_cpu_s(pid: int) -> float:
    """Return the time on a processor of a process and of all that it started, s."""
    return sum(_cpu_s(p, ended=True) for p in (pid, *descendants(pid)))


def one_order(
    url: str, folder: Path, lines: int, line_s: float, processes: int
) -> dict[str, float]:
    """Return the figures of one order of quick lines with one worker."""
    scene = Scene(folder, url, line_s)
    try:
        worker = scene.start("--processes", str(processes))
        warm = scene.submit([f"warm {n}" for n in range(processes * 2)])
        scene.wait_for_end(warm, 300)
        memory = Memory(worker.process.pid)
        memory.start()
        spent, all_spent = _cpu_s(worker.process.pid), _all_cpu_s(worker.process.pid)
        began = time.monotonic()
        order = scene.submit([f"line {n}" for n in range(lines)])
        accepted = time.monotonic()
        book = scene.counter.book
        while book.state(order).phase in ("waiting", "lines"):
            time.sleep(0.1)
        lines_done = time.monotonic()
        spent = _cpu_s(worker.process.pid) - spent
        all_spent = _all_cpu_s(worker.process.pid) - all_spent
        phase = scene.wait_for_end(order, 3600)
        ended = time.monotonic()
        memory.end()
        assert phase == "done"
        scene.assert_one_answer(order)
        half = len(memory.worker_mb) // 2
        return {
            "accept_s": accepted - began,
            "lines_s": lines_done - accepted,
            "total_s": ended - began,
            "ms_a_line": 1000 * (lines_done - accepted) / lines,
            "cpu_ms_a_line": 1000 * spent / lines,
            "all_cpu_ms_a_line": 1000 * all_spent / lines,
            "worker_peak_mb": max(memory.worker_mb),
            "worker_growth_mb": max(memory.worker_mb[half:]) - max(memory.worker_mb[:half]),
            "all_peak_mb": max(memory.all_mb),
        }
    finally:
        scene.close()


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=1000)
    parser.add_argument("--postgresql", action="store_true")
    parser.add_argument("--scaling", type=int, default=24, help="lines of one second; 0 for none")
    given = parser.parse_args()
    if given.postgresql:
        with private_cluster() as cluster:
            run(given, cluster.new_database)
    else:
        run(given, None)


def run(given: argparse.Namespace, new_database: object) -> None:
    """Run all on one kind of database."""
    with tempfile.TemporaryDirectory() as place:

        def url(name: str) -> str:
            if callable(new_database):
                return str(new_database())
            (Path(place) / name).mkdir()
            return f"sqlite:///{Path(place) / name / 'index.sqlite'}"

        if given.lines:
            facts = one_order(url("many"), Path(place) / "many", given.lines, 0.0, 2)
            print(f"{given.lines} empty lines, pool 2:", {k: round(v, 2) for k, v in facts.items()})
        if given.scaling:
            took = {}
            for processes in (1, 2):
                name = f"pool-{processes}"
                facts = one_order(url(name), Path(place) / name, given.scaling, 1.0, processes)
                took[processes] = facts["lines_s"]
                print(f"{given.scaling} lines of 1 s, pool {processes}: {facts['lines_s']:.1f} s")
            print(f"pool 2 against pool 1: {took[1] / took[2]:.2f}")


if __name__ == "__main__":
    main()
