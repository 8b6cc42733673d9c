"""What many machines cost the database: measured a worker, a line and a job; then on paper.

    python tests/bench/machines.py [--workers 1 2 4] [--lines 200] [--jobs 60]

A private PostgreSQL server counts transactions and bytes of its log (WAL), which do not depend on
what else the machine does; and processor time of all its processes. Lines and jobs are empty ones:
what is measured is what is around them. The README beside says from this what saturates first.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

sys.path[0] = str(Path(__file__).parents[1])

import psycopg  # noqa: E402

from bench.durable import _all_cpu_s  # noqa: E402
from orders.drills.desk import Desk  # noqa: E402
from orders.drills.scene import TESTS, Scene, wait_until  # noqa: E402
from postgres_cluster import Cluster, private_cluster  # noqa: E402

IDLE_S = 15.0


@dataclass(frozen=True)
class Spent:
    """What a database did: transactions, bytes of its log, and processor time in s."""

    commits: float
    wal_bytes: float
    cpu_s: float

    def __sub__(self, other: Spent) -> Spent:
        return Spent(
            self.commits - other.commits,
            self.wal_bytes - other.wal_bytes,
            self.cpu_s - other.cpu_s,
        )

    def each(self, count: float) -> str:
        """Return it for one of so many."""
        return (
            f"{self.commits / count:.2f} transactions, {self.wal_bytes / count / 1000:.2f} kB of "
            f"log, {1000 * self.cpu_s / count:.2f} ms of the server's processor time"
        )


class Meter:
    """Reads what a private server has done for one database."""

    def __init__(self, cluster: Cluster, url: str) -> None:
        name, _, folder = url.rpartition("@/")[2].partition("?host=")
        self._address = f"host={folder} user=letterply dbname={name}"
        self._name = name
        self._server = int((cluster._data / "postmaster.pid").read_text().split()[0])

    def read(self) -> Spent:
        """Return what was done until now."""
        time.sleep(2.5)  # a connection tells what it did once it has been quiet for a second
        with psycopg.connect(self._address, autocommit=True) as db:
            commits = db.execute(
                "SELECT xact_commit + xact_rollback FROM pg_stat_database WHERE datname = %s",
                (self._name,),
            ).fetchone()
            wal = db.execute("SELECT pg_wal_lsn_diff(pg_current_wal_lsn(), '0/0')").fetchone()
        assert commits is not None
        assert wal is not None
        return Spent(float(commits[0]), float(wal[0]), _all_cpu_s(self._server))

    def connections(self) -> int:
        """Return how many connections there are; the bench has some of its own."""
        with psycopg.connect(self._address, autocommit=True) as db:
            found = db.execute(
                "SELECT count(*) FROM pg_stat_activity WHERE datname = %s AND pid <>"
                " pg_backend_pid()",
                (self._name,),
            ).fetchone()
        assert found is not None
        return int(found[0])


def idle(cluster: Cluster, place: Path, workers: int) -> None:
    """Print what workers cost that have nothing to do."""
    url = cluster.new_database()
    scene, meter = Scene(place / f"idle-{workers}", url, 0.0), Meter(cluster, url)
    try:
        for _ in range(workers):
            scene.start()
        before, began = meter.read(), time.monotonic()
        time.sleep(IDLE_S)
        spent = meter.read() - before
        print(
            f"{workers} workers idle, {meter.connections()} connections, each second: "
            f"{spent.each(time.monotonic() - began)}"
        )
    finally:
        scene.close()


def order(cluster: Cluster, place: Path, lines: int) -> None:
    """Print what an order of empty lines costs, a line, beside one worker's polls."""
    url = cluster.new_database()
    scene, meter = Scene(place / "order", url, 0.0), Meter(cluster, url)
    try:
        scene.start()
        scene.wait_for_end(scene.submit(["warm"]))
        before, began = meter.read(), time.monotonic()
        assert scene.wait_for_end(scene.submit([f"line {n}" for n in range(lines)])) == "done"
        took = time.monotonic() - began
        spent = meter.read() - before
        print(f"order of {lines} empty lines ({took:.1f} s), a line: {spent.each(lines)}")
    finally:
        scene.close()


def jobs(cluster: Cluster, place: Path, count: int) -> None:
    """Print what single jobs cost that are acknowledged, and such as are answered at once."""
    url = cluster.new_database()
    os.environ |= {"LETTERPLY_DRILL_LOG": str(place / "log"), "LETTERPLY_DRILL_S": "0"}
    os.environ["PYTHONPATH"] = os.pathsep.join([str(TESTS), os.environ.get("PYTHONPATH", "")])
    desk, meter = Desk(place / "jobs", url), Meter(cluster, url)
    try:
        desk.ask_and_wait("warm", 300)
        for how, ask in (("answered at once", lambda text: desk.ask_and_wait(text, 300)),
                         ("acknowledged", desk.ask)):  # fmt: skip
            before, own = meter.read(), time.process_time()
            for number in range(count):
                ask(f"{how} {number}")
            wait_until(lambda: desk.service.under_way == 0, 600)
            own = time.process_time() - own
            spent = meter.read() - before
            print(f"job {how}: {spent.each(count)}; {1000 * own / count:.1f} ms of the service's")
    finally:
        desk.close()


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--workers", type=int, nargs="*", default=[1, 2, 4])
    parser.add_argument("--lines", type=int, default=200)
    parser.add_argument("--jobs", type=int, default=60)
    given = parser.parse_args()
    with private_cluster() as cluster, tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        for workers in given.workers:
            idle(cluster, place, workers)
        if given.lines:
            order(cluster, place, given.lines)
        if given.jobs:
            jobs(cluster, place, given.jobs)


if __name__ == "__main__":
    main()
