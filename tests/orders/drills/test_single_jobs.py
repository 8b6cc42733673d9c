"""Drills for single jobs: what was acknowledged is made, by whoever is left, and once.

LETTERPLY_DRILLS=long makes what is away stay away for a minute, and tries all of it on both kinds
of database.
"""

import contextlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from letterply.errors import NotFound
from letterply.storage import Store
from letterply.storage import runs as storage_runs
from orders.drills.desk import DEAD_AFTER_S, Desk, FarDesk
from orders.drills.scene import TESTS, alive, state_of, wait_until

pytestmark = pytest.mark.slow

LONG = os.environ.get("LETTERPLY_DRILLS") == "long"
AWAY_S = 60.0 if LONG else 2 * DEAD_AFTER_S
JOB_S = 0.3
LIMIT_S = 300.0


class Counter:
    """A store, what the log says of jobs on it, and the desks that are to be ended."""

    def __init__(self, root, url, bucket_url=None):
        self.root, self.url, self.bucket_url = root, url, bucket_url
        self.log = Path(os.environ["LETTERPLY_DRILL_LOG"])
        self.log.touch()
        self.store = Store(root, url, bucket_url)
        self.desks, self.far = [], []

    def desk(self, **options):
        """Open a desk in this process."""
        self.desks.append(Desk(self.root, self.url, self.bucket_url, **options))
        return self.desks[-1]

    def far_desk(self):
        """Open a desk in a process of its own."""
        self.far.append(FarDesk(self.root, self.url))
        return self.far[-1]

    def rows(self, what):
        """Return text and process of the rows of one kind."""
        rows = [row.split("|") for row in self.log.read_text().splitlines()]
        return [(row[1], int(row[2])) for row in rows if row[0] == what]

    def starts(self, text):
        """Return how often a job was begun."""
        return [t for t, _ in self.rows("start")].count(text)

    def at_work(self, text):
        """Wait until somebody is at a job; return the process."""
        wait_until(lambda: self.starts(text), LIMIT_S)
        return next(p for t, p in self.rows("start") if t == text)

    def made(self, ids, limit_s=LIMIT_S):
        """Wait until jobs are done, each with its answer, and nothing is under way any more."""
        jobs = list(ids)

        def done():
            with contextlib.suppress(Exception):  # the database may be away
                return all(self.store.job_of_any(i).state == "done" for i in jobs)

        wait_until(done, limit_s)
        for id_ in jobs:
            record = self.store.job_of_any(id_)
            assert b"made" in self.store.read(record.artifact(record.document))
        wait_until(lambda: storage_runs.Runs(self.store.database, "-").look() == (), LIMIT_S)

    def close(self):
        """End what is left."""
        for desk in self.far:
            desk.end()
        for desk in self.desks:
            desk.close()
        self.store.close()


@pytest.fixture(autouse=True)
def drill_environment(tmp_path, monkeypatch):
    monkeypatch.setenv("LETTERPLY_DRILL_LOG", str(tmp_path / "drill.log"))
    monkeypatch.setenv("LETTERPLY_DRILL_S", str(JOB_S))
    paths = [str(TESTS), os.environ.get("PYTHONPATH", "")]
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(filter(None, paths)))


@pytest.fixture
def counter(tmp_path, database_url):
    made = Counter(tmp_path / "data", database_url)
    yield made
    made.close()


@pytest.fixture
def on_server(tmp_path, cluster):
    made = Counter(tmp_path / "data", cluster.new_database())
    yield made
    made.close()


def report(request, **figures):
    print(f"\nFIGURES {request.node.name} {figures}")


def test_two_services_share_what_is_under_way_and_each_outlives_the_other(
    counter, database_url, request
):
    if "sqlite" in database_url and not LONG:
        pytest.skip("tests/api/test_limits.py tries SQLite; LETTERPLY_DRILLS=long tries both")
    far, home = counter.far_desk(), counter.desk()
    far.wait_until_ready()
    # Twins: asked for at both, made once, and both see it run.
    twin = far.ask("twin")
    assert home.ask_and_wait("twin", LIMIT_S).id == twin
    assert counter.starts("twin") == 1
    # Deleted at one, stopped at the other.
    endless = far.ask("endless")
    process = counter.at_work("endless")
    wait_until(lambda: home.look_up(endless).progress is not None, LIMIT_S)
    assert home.look_up(endless).state == "running"
    counter.store.let_go("stack", endless)
    wait_until(lambda: not alive(process), LIMIT_S)
    with pytest.raises(NotFound):
        home.look_up(endless)
    # What waits at one is taken up by the other, which has a place.
    queue = [far.ask(f"queued {n}") for n in range(4)]
    counter.made(queue)
    assert len({p for t, p in counter.rows("start") if t.startswith("queued")}) == 2
    # Killed right after its last answer, in the middle of some.
    left = [far.ask(f"left {n}") for n in range(4)]
    far.process.kill()
    killed_at = time.monotonic()
    counter.made(left)
    twice = [t for t, _ in counter.rows("start") if t.startswith("left")]
    report(request, done_after_s=round(time.monotonic() - killed_at, 1), twice=len(twice) - 4)
    assert len(twice) <= 4 + 1  # what it was at
    assert max(counter.starts(f"queued {n}") for n in range(4)) == 1


def test_a_service_that_is_frozen_is_relieved_and_its_late_answer_does_not_count(on_server):
    far = on_server.far_desk().wait_until_ready()
    job = far.ask("endless until it is frozen")
    process = on_server.at_work("endless until it is frozen")
    os.kill(process, signal.SIGSTOP)
    far.process.send_signal(signal.SIGSTOP)
    wait_until(lambda: state_of(far.process.pid) == "T", LIMIT_S)
    home = on_server.desk()
    wait_until(lambda: on_server.starts("endless until it is frozen") == 2, LIMIT_S)
    far.process.send_signal(signal.SIGCONT)
    os.kill(process, signal.SIGCONT)
    wait_until(lambda: not alive(process), LIMIT_S)  # it lost the job, and lets it go
    assert home.look_up(job).state == "running"
    on_server.store.let_go("stack", job)


def test_a_worker_for_orders_makes_jobs_and_is_relieved_when_it_is_killed(on_server, request):
    home = on_server.desk()
    worker = subprocess.Popen(
        [sys.executable, "-m", "orders.drills.worker_process", str(on_server.root), on_server.url],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    try:
        assert worker.stdout.readline()
        endless = home.ask("endless, so that there is no place")
        home_process = on_server.at_work("endless, so that there is no place")
        jobs = [home.ask(f"job {n}") for n in range(6)]
        on_server.at_work("job 1")
        assert home_process not in {p for t, p in on_server.rows("start") if t.startswith("job")}
        worker.kill()
        killed_at = time.monotonic()
        on_server.store.let_go("stack", endless)
        on_server.made(jobs)
    finally:
        worker.kill()
        worker.communicate()
    starts = [on_server.starts(f"job {n}") for n in range(6)]
    report(request, done_after_s=round(time.monotonic() - killed_at, 1), twice=sum(starts) - 6)
    assert sum(starts) <= 6 + 1
    assert min(starts) == 1


def test_a_database_that_is_away_and_a_clock_set_back_make_nobody_seem_gone(
    on_server, cluster, monkeypatch, request
):
    """Two desks; the database is stopped for longer than the silence that is waited for."""
    far, home = on_server.far_desk(), on_server.desk(patience_s=0.5)
    far.wait_until_ready()
    now = storage_runs.database_now
    monkeypatch.setattr(storage_runs, "database_now", lambda db: now(db) - 3600.0)
    jobs = [far.ask("far"), home.ask("home")]
    on_server.at_work("far")
    on_server.at_work("home")
    cluster.stop()
    stopped_at = time.monotonic()
    time.sleep(AWAY_S)
    cluster.start()
    on_server.made(jobs)
    report(request, away_s=AWAY_S, done_after_s=round(time.monotonic() - stopped_at - AWAY_S, 1))
    assert [on_server.starts(t) for t in ("far", "home")] == [1, 1]
    # The clock of one is an hour behind, its beats lie in the past: it is alive all the same.
    endless = home.ask("endless, an hour ago")
    on_server.at_work("endless, an hour ago")
    time.sleep(2 * DEAD_AFTER_S)
    assert on_server.starts("endless, an hour ago") == 1
    on_server.store.let_go("stack", endless)


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"] if LONG else ["sqlite"])
def test_a_full_disk_keeps_the_answer_waiting_until_there_is_room(small_disk, kind, request):
    url = f"sqlite:///{small_disk / 'data' / 'index.sqlite'}"
    if kind == "postgresql":
        url = request.getfixturevalue("cluster").new_database()
    counter = Counter(small_disk / "data", url)
    try:
        home = counter.desk(patience_s=0.5)
        job = home.ask("made on a full disk")
        counter.at_work("made on a full disk")
        filler = small_disk / "filler"
        with filler.open("wb", buffering=0) as out, contextlib.suppress(OSError):
            while out.write(b"\0" * 65536) == 65536:
                pass
        wait_until(lambda: home.service.running.get(job).ended, LIMIT_S)
        time.sleep(1.0)
        assert home.look_up(job).state in ("queued", "running")  # no word of failure
        filler.unlink()
        counter.made([job])
        assert counter.starts("made on a full disk") == 1
    finally:
        counter.close()


def test_a_server_whose_disk_is_full_keeps_the_answer_waiting(tmp_path, full_server, request):
    counter = Counter(tmp_path / "data", full_server.url)
    try:
        home = counter.desk(patience_s=0.5)
        job = home.ask("made on a full disk")
        counter.at_work("made on a full disk")
        full_server.fill()
        wait_until(lambda: home.service.running.get(job).ended, LIMIT_S)
        time.sleep(AWAY_S)
        down, began = full_server.make_room(), time.monotonic()
        counter.made([job])
        took = round(time.monotonic() - began, 1)
        report(request, away_s=AWAY_S, down=down, done_after_s=took)
        assert counter.starts("made on a full disk") == 1
    finally:
        counter.close()


def test_a_place_of_artifacts_that_is_away_keeps_the_answer_waiting(
    tmp_path, database_url, object_store, request
):
    if "sqlite" in database_url and not LONG:
        pytest.skip("tried on the server; LETTERPLY_DRILLS=long tries both")
    counter = Counter(tmp_path / "data", database_url, object_store.url)
    try:
        home = counter.desk()
        job = home.ask("made while it is away")
        counter.at_work("made while it is away")
        object_store.stop()
        time.sleep(AWAY_S)
        assert home.look_up(job).state == "running"
        object_store.start()
        came_back = time.monotonic()
        counter.made([job])
        report(request, away_s=AWAY_S, done_after_s=round(time.monotonic() - came_back, 1))
        assert counter.starts("made while it is away") == 1
    finally:
        counter.close()
