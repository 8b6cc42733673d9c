"""Jobs under way, on both databases: one worker each, kept where something was promised."""

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest
import sqlalchemy as sa

from letterply import ENGINE_VERSION
from letterply.errors import Conflict, NotFound
from letterply.storage import Begun, Finished, KeyRecord, RunLost, Runs, Store, Wanted, tables
from letterply.workers import has_ended, process_mark

JOB = Wanted("a" * 32, "stack", {"recipe": {"title": "Knot"}}, "club")
MADE = Finished("stack.json", {"stack.json": b"{}"}, {"title": "Knot"})


@pytest.fixture
def store(tmp_path, database_url):
    made = Store(tmp_path / "data", database_url).of("club")
    yield made
    made.close()


@pytest.fixture
def here(store):
    return Runs(store.database, "here", "mark of here")


@pytest.fixture
def there(store):
    return Runs(store.database, "there")


def state(store):
    return store.job(JOB.job).state


def test_of_many_who_begin_at_once_one_has_the_run(store):
    def begin(number):
        return Runs(store.database, f"worker {number}").begin(JOB, started=True)

    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(begin, range(8)))
    assert sorted(b.value for b in found) == ["mine"] + ["theirs"] * 7


def test_what_is_answered_at_once_leaves_no_trace_when_it_fails(store, here, there):
    assert here.begin(JOB, started=True) is Begun.MINE
    (seen,) = there.look()
    assert (seen.worker, seen.started, seen.kept) == ("here", True, False)
    (known,) = there.workers().items()
    assert (known[0], known[1].process) == ("here", "mark of here")
    assert known[1].engine_version == ENGINE_VERSION
    assert here.fail(JOB.job, {"code": "glyph-missing"})
    assert there.look() == ()
    with pytest.raises(NotFound):
        store.job(JOB.job)


def test_what_waits_for_a_place_is_taken_up_by_whoever_has_one_first(store, here, there):
    here.begin(JOB, started=False)
    assert state(store) == "queued"
    assert here.waiting() == 1
    (seen,) = there.look()
    assert (seen.kept, seen.started) == (True, False)
    assert there.take_over(seen)
    assert not Runs(store.database, "late").take_over(seen)
    assert not here.start(JOB.job)
    assert state(store) == "running"
    assert here.beat({}) == frozenset()
    assert there.beat({JOB.job: {"phase": "layers", "share": 0.5}}) == {JOB.job}
    assert store.job(JOB.job).progress == {"phase": "layers", "share": 0.5}
    with pytest.raises(RunLost):
        store.save_done(JOB.job, JOB.kind, JOB.request, MADE, worker="here")
    assert state(store) == "running"
    store.save_done(JOB.job, JOB.kind, JOB.request, MADE, worker="there")
    assert (state(store), there.look(), here.waiting()) == ("done", (), 0)


def test_who_asks_for_what_another_runs_finds_its_answer_or_its_failure(store, here, there):
    here.begin(JOB, started=True)
    other = Wanted(JOB.job, JOB.kind, JOB.request, "other")
    assert there.begin(other, started=True) is Begun.THEIRS
    assert store.of("other").job(JOB.job).state == "running"
    here.fail(JOB.job, {"code": "glyph-missing"})
    assert store.of("other").job(JOB.job).failure == {"code": "glyph-missing"}
    assert here.begin(JOB, started=True) is Begun.MINE
    store.save_done(JOB.job, JOB.kind, JOB.request, MADE, worker="here")
    assert [store.of(o).job(JOB.job).state for o in ("club", "other")] == ["done"] * 2
    assert here.begin(JOB, started=True) is Begun.DONE
    assert here.begin(JOB, started=True, made_anew=True) is Begun.MINE


def test_who_leaves_hands_on_what_was_promised_and_drops_the_rest(store, here, there):
    here.begin(JOB, started=True)
    store.keep_waiting(JOB.job, JOB.kind, JOB.request)
    assert state(store) == "running"
    here.begin(Wanted("b" * 32, "stack", {}, "club"), started=True)
    here.leave()
    (left,) = there.look()
    assert (left.job, left.worker, left.started) == (JOB.job, None, False)
    assert there.workers() == {}
    assert state(store) == "queued"
    assert there.take_over(left)


def test_what_nobody_was_promised_goes_with_its_worker(store, here, there):
    here.begin(JOB, started=True)
    (seen,) = there.look()
    store.keep_waiting(JOB.job, JOB.kind, JOB.request)  # just before it is forgotten
    there.forget(seen)
    (seen,) = there.look()
    assert seen.kept
    store.let_go(JOB.kind, JOB.job)
    assert there.look() == ()
    assert here.beat({}) == frozenset()


def test_a_key_belongs_to_one_request_wherever_it_is_sent(store, here, there):
    key = KeyRecord("club\nk", "f" * 32, JOB.job)
    here.begin(JOB, started=True, key=key)
    assert store.key_in_use("club\nk") == (key, True)
    another = Wanted("b" * 32, "stack", {}, "club")
    with pytest.raises(Conflict) as caught:
        there.begin(another, started=True, key=KeyRecord("club\nk", "e" * 32, another.job))
    assert caught.value.code == "idempotency-key-reused"
    assert len(there.look()) == 1  # nothing of the refused one is left
    here.fail(JOB.job, {"code": "glyph-missing"})
    assert store.key_in_use("club\nk") == (None, False)  # free again
    here.begin(JOB, started=True, key=key)
    store.save_done(JOB.job, JOB.kind, JOB.request, MADE, worker="here")
    assert store.key_in_use("club\nk") == (key, False)


def test_an_owner_is_held_to_its_number_of_jobs_at_all_services_together(store, here, there):
    counts = []
    for number, runs in enumerate((here, there, here)):
        job = Wanted(str(number) * 32, "stack", {}, "club" if number < 2 else "other")
        runs.begin(job, started=True, check_turn=counts.append)
    assert counts == [0, 1, 0]


def test_jobs_kept_by_an_earlier_release_wait_for_anyone_once_they_are_old(store, there):
    from letterply.storage.job_rows import insert_waiting
    from letterply.storage.sweeping import SweepRules, sweep

    store.database.write(lambda db: insert_waiting(db, JOB.job, JOB.kind, JOB.request))
    sweep(store, SweepRules())
    assert there.look() == ()
    old = sa.update(tables.jobs).values(created_at="2026-01-01T00:00:00.000Z")
    store.database.write(lambda db: db.execute(old))
    sweep(store, SweepRules())
    assert [(r.job, r.worker, r.owner) for r in there.look()] == [(JOB.job, None, "house")]


@pytest.mark.skipif(not process_mark(), reason="the system does not tell")
def test_a_process_of_this_machine_is_known_to_have_ended():
    tell = "print(process_mark(), flush=True); input()"
    with subprocess.Popen(
        [sys.executable, "-c", f"from letterply.workers import process_mark; {tell}"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as process:
        mark = process.stdout.readline().decode().strip()
        assert mark
        assert not has_ended(mark)
        process.kill()
        assert process.wait(30) != 0
        assert has_ended(mark)
    assert not has_ended("another boot/" + mark.partition("/")[2])
    assert has_ended(process_mark() + "0")  # the number, given out again
