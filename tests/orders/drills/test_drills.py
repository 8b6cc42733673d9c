"""Drills: workers killed, frozen and starved, the database restarted; on SQLite and PostgreSQL.

Each ends the same way: nothing acknowledged is lost, no finished line is computed again, there is
one answer, no process is left over. LETTERPLY_DRILLS=long makes the orders longer and prints the
figures that DEVELOPERS.md has.
"""

import os
import signal
import time

import httpx
import pytest
import sqlalchemy as sa

from letterply.errors import Conflict, LetterplyError
from letterply.orders.codec import plain, value_of
from letterply.orders.engine.engine import GENERATION, Queueing
from letterply.storage import tables
from letterply.storage.database import Database
from letterply.storage.vault import open_vault
from orders.drills.scene import Scene, Worker, alive, descendants, wait_until
from orders.pipeline.small import PLAIN

pytestmark = pytest.mark.slow

LONG = os.environ.get("LETTERPLY_DRILLS") == "long"
LINES = 60 if LONG else 16
LINE_S = 0.2 if LONG else 0.12
HALF = LINES // 2
on_server = pytest.mark.parametrize(
    "database_url", ["sqlite", "postgresql"] if LONG else ["postgresql"], indirect=True
)
"""Where several workers share an order a server is usual; the long run takes SQLite as well."""
AHEAD = 3
"""Tasks that a worker with one process takes up at once: what may be under way when it dies."""


@pytest.fixture
def scene(tmp_path, database_url):
    made = Scene(tmp_path / "data", database_url, LINE_S)
    yield made
    made.close()


def names(count=LINES):
    return [f"line {n}" for n in range(count)]


def report(request, scene, **figures):
    """Print the figures of a drill, for the table."""
    if LONG:
        kind = "sqlite" if scene.url.startswith("sqlite") else "postgresql"
        print(f"\nFIGURES {request.node.originalname} {kind} {figures}")


def check_all_made(scene, order, count=LINES):
    document = scene.document(order)
    assert [line["state"] for line in document["lines"]] == ["made"] * count
    scene.assert_one_answer(order)
    scene.assert_nothing_left_over()


def starts_after(scene, texts, rows_before):
    """Return which of these lines were started after the log had so many rows of starts."""
    later = [text for text, _ in scene.rows("start")[rows_before:]]
    return [text for text in later if text in texts]


@on_server
def test_a_worker_killed_at_half_is_relieved_by_another(scene, request):
    first, _ = scene.start_two()
    order = scene.submit(names())
    scene.wait_for_ends(HALF)
    first.note_children()
    first.kill()
    finished = scene.finished_lines(order)
    before, killed_at = len(scene.rows("start")), time.monotonic()
    assert scene.wait_for_end(order) == "done"
    took = time.monotonic() - killed_at
    assert starts_after(scene, finished, before) == []
    twice = len(scene.rows("start")) - LINES
    assert twice <= AHEAD
    check_all_made(scene, order)
    report(request, scene, finished=len(finished), twice=twice, done_after_s=round(took, 1))


def test_a_killed_worker_alone_is_followed_by_a_new_one(scene, request):
    worker = scene.start()
    order = scene.submit(names())
    scene.wait_for_ends(HALF)
    worker.kill()
    finished, before = scene.finished_lines(order), len(scene.rows("start"))
    began = time.monotonic()
    scene.start()
    assert scene.wait_for_end(order) == "done"
    assert starts_after(scene, finished, before) == []
    twice = len(scene.rows("start")) - LINES
    assert twice <= AHEAD
    check_all_made(scene, order)
    report(request, scene, twice=twice, done_after_s=round(time.monotonic() - began, 1))


@on_server
def test_the_work_of_a_worker_that_was_off_for_days_is_taken_up_and_then_it_is_struck_off(scene):
    """A machine is switched off on Friday in the middle of an order, and on again on Monday."""
    worker = scene.start()
    order = scene.submit(names(6))
    scene.wait_for_ends(2)
    worker.kill()
    c = tables.workers.c
    days_ago = sa.update(tables.workers).where(c.id == worker.name)
    days_ago = days_ago.values(beat_at=c.beat_at - 3 * 86_400)
    scene.store.database.write(lambda db: db.execute(days_ago))
    finished, before = scene.finished_lines(order), len(scene.rows("start"))
    newer = scene.start()
    assert scene.wait_for_end(order) == "done"
    assert starts_after(scene, finished, before) == []
    check_all_made(scene, order, 6)
    known = sa.select(c.id).where(c.generation > 0)
    wait_until(
        lambda: (
            scene.store.database.read(lambda db: db.execute(known).scalars().all()) == [newer.name]
        ),
        60,
    )


@on_server
def test_an_order_left_open_by_an_older_release_is_finished_by_the_new_one(scene, request):
    scene.counter.queueing.generation = GENERATION - 1
    old = scene.start("--generation", str(GENERATION - 1))
    scene.start()
    order = scene.submit(names())
    scene.wait_for_ends(HALF)
    assert scene.counter.book.state(order).attempt == 1  # the old one is at work on it
    old.kill()
    finished, before, began = (
        scene.finished_lines(order),
        len(scene.rows("start")),
        time.monotonic(),
    )
    assert scene.wait_for_end(order) == "done"
    assert scene.counter.book.state(order).attempt == 2
    assert starts_after(scene, finished, before) == []
    twice = len(scene.rows("start")) - LINES
    assert twice <= AHEAD
    check_all_made(scene, order)
    report(request, scene, twice=twice, done_after_s=round(time.monotonic() - began, 1))


@on_server
def test_a_worker_frozen_past_its_lease_wakes_and_nothing_counts_twice(scene, request):
    first, _ = scene.start_two("--dead-after", "2")
    order = scene.submit(names())
    scene.wait_for_ends(HALF)
    first.freeze()
    finished, before = scene.finished_lines(order), len(scene.rows("start"))
    began = time.monotonic()
    assert scene.wait_for_end(order) == "done"
    took = time.monotonic() - began
    first.signal(signal.SIGCONT)
    wait_until(lambda: scene.beat_age_s(first.name) < 1.5, 60)
    assert starts_after(scene, finished, before) == []
    twice = len(scene.rows("start")) - LINES
    assert twice <= 2 * AHEAD
    check_all_made(scene, order)
    again = scene.submit(names(4))
    assert scene.wait_for_end(again) == "done"
    report(request, scene, twice=twice, done_after_s=round(took, 1))


@pytest.mark.parametrize("then", [signal.SIGCONT, signal.SIGKILL])
def test_a_worker_frozen_in_a_write_holds_others_up_until_it_wakes_or_dies(tmp_path, then, request):
    """SQLite has no server that could break a lock: who writes is told so, and nothing is lost."""
    scene = Scene(tmp_path / "data", f"sqlite:///{tmp_path / 'index.sqlite'}", LINE_S)
    impatient = Database(scene.url, 0.5)
    try:
        first = scene.start("--dead-after", "2", "--freeze-at-event", str(HALF))
        order = scene.submit(names())
        first.wait_until_frozen()
        finished, before = scene.finished_lines(order), len(scene.rows("start"))
        assert HALF - 3 <= len(finished) < LINES  # readers see all that was written
        with pytest.raises(LetterplyError) as caught:
            impatient.write(lambda db: db.execute(sa.text("SELECT 1")))
        assert caught.value.code == "store-busy"
        second = Worker(scene, "--dead-after", "2")
        scene.workers.append(second)
        time.sleep(3.0)  # longer than the lease: the second one waits and does not give up
        assert second.process.poll() is None
        began = time.monotonic()
        first.signal(then)
        second.wait_until_ready()
        assert scene.wait_for_end(order) == "done"
        assert starts_after(scene, finished, before) == []
        assert len(scene.rows("start")) - LINES <= 2 * AHEAD
        check_all_made(scene, order)
        report(request, scene, done_after_s=round(time.monotonic() - began, 1))
    finally:
        impatient.close()
        scene.close()


@on_server
def test_batches_of_a_long_order_lose_nothing_when_their_worker_is_killed(tmp_path, database_url):
    scene = Scene(tmp_path / "data", database_url, 0.01)
    try:
        worker = scene.start()
        order = scene.submit(names(200))
        scene.wait_for_ends(90)
        worker.kill()
        ended, before = {t for t, _ in scene.rows("end")}, len(scene.rows("start"))
        finished = scene.finished_lines(order)
        assert len(ended) - len(finished) <= 6 * AHEAD  # six to a batch, told of at its end
        scene.start()
        assert scene.wait_for_end(order) == "done"
        assert starts_after(scene, finished, before) == []
        assert len(scene.rows("start")) - 200 <= AHEAD
        check_all_made(scene, order, 200)
    finally:
        scene.close()


@on_server
def test_raising_crashing_and_endless_lines_are_reported_and_the_rest_goes_on(scene):
    scene.start("--time-limit", "2")
    order = scene.submit([*names(5), "raise", "crash", "endless", *[f"more {n}" for n in range(4)]])
    assert scene.wait_for_end(order) == "done"
    states = {la["text"]: la for la in scene.document(order)["lines"]}
    failed = {t: la["problem"]["code"] for t, la in states.items() if la["state"] == "failed"}
    assert failed == {"raise": "bad-value", "crash": "job-crashed", "endless": "job-timeout"}
    scene.assert_one_answer(order)


@on_server
def test_lines_that_were_lost_are_asked_for_again_and_nothing_else_is_made(scene):
    worker = scene.start("--time-limit", "5")
    order = scene.submit([*names(5), "sick 1", "raise", "sick 2"])
    assert scene.wait_for_end(order) == "done"
    document = scene.document(order)
    assert document["lost"] == {"lines": [6, 8], "sheets": [], "materials": []}
    worker.kill()
    (scene.root / "cured").touch()
    before = len(scene.rows("start"))
    again = scene.again(order)
    assert scene.again(order).id == again.id != order  # asked twice it is made once
    scene.start()
    assert scene.wait_for_end(again.id) == "done"
    assert {t for t, _ in scene.rows("start")[before:]} == {"sick 1", "sick 2", "raise"}
    found = scene.document(again.id)
    assert [la["state"] for la in found["lines"]] == ["made"] * 6 + ["failed", "made"]
    assert not any(found["lost"].values())
    scene.assert_one_answer(again.id)
    assert scene.document(order) == document  # what was answered stays as it was
    with pytest.raises(Conflict) as caught:
        scene.again(again.id)
    assert caught.value.code == "nothing-lost"


@on_server
def test_a_runaway_dies_with_the_worker_that_is_killed(scene):
    worker = scene.start("--time-limit", "600")
    order = scene.submit(["endless"])
    wait_until(lambda: scene.rows("start"), 30)
    (_, runaway) = scene.rows("start")[0]
    assert alive(runaway)
    worker.kill()
    wait_until(lambda: not alive(runaway), 10)
    scene.assert_nothing_left_over()
    scene.start("--time-limit", "2")
    assert scene.wait_for_end(order) == "done"
    (line,) = scene.document(order)["lines"]
    assert line["problem"]["code"] == "job-timeout"


def test_an_order_is_made_though_the_service_is_killed_right_after_its_answer(scene):
    """A real service, killed as a power cut does; no worker was there yet: the queue has it."""
    with scene.service() as (process, url):
        request = {"recipe": "tag", "recipes": {"tag": PLAIN}, "lines": names(4)}
        answer = httpx.post(f"{url}/v1/orders", json=request, timeout=120)
        children = descendants(process.pid)
        process.kill()
        process.wait(20)
    assert answer.status_code == 202, answer.text
    wait_until(lambda: not any(alive(p) for p in children), 10)
    order = answer.json()["id"]
    assert scene.counter.book.state(order).phase == "waiting"
    scene.start()
    assert scene.wait_for_end(order) == "done"
    check_all_made(scene, order, 4)


def settled(scene, still_s=3.0, patience_s=30.0):
    """Return how many lines were begun once no further one is for a while."""
    begun, since = -1, time.monotonic()
    ends = since + patience_s
    while time.monotonic() < min(ends, since + still_s):
        if (now := len(scene.rows("start"))) != begun:
            begun, since = now, time.monotonic()
        time.sleep(0.1)
    return begun


@on_server
def test_a_cancelled_order_stops_at_once_and_can_be_asked_for_again(scene):
    scene.start()
    # All as long as each other: long ones would go first.
    first = [f"swift {n}" for n in range(6)]
    lines = [*first, "endless", *[f"late {n:02}" for n in range(20)]]
    order = scene.submit(lines)
    scene.wait_for_ends(2)
    scene.cancel(order)
    assert scene.counter.book.state(order).phase == "cancelled"
    assert settled(scene) < 27
    running = {p for _, p in scene.rows("start")} - {p for _, p in scene.rows("end")}
    assert not any(alive(p) for p in running)
    assert not scene.counter.queueing.any_open(order, 1, "lines", 1)
    small = scene.submit(first[:3])  # its lines are in the vault, or quickly made
    assert scene.wait_for_end(small) == "done"
    done_before = {text for text, _ in scene.rows("end")}
    again = scene.submit(lines)
    assert again == order
    assert scene.counter.book.state(order).attempt == 2
    before = len(scene.rows("start"))
    scene.wait_for_ends(len(done_before) + 2)
    assert starts_after(scene, done_before, before) == []
    scene.cancel(order)


def test_a_kill_between_queueing_and_the_record_of_it_queues_nothing_twice(scene):
    """The tasks are queued in their own transaction; the step that did it is repeated."""
    queueing: Queueing = scene.counter.queueing
    order = scene.submit(names(6))
    vault = open_vault(scene.store.place)
    worker = scene.start()
    wait_until(lambda: scene.counter.book.state(order).phase == "lines", 30)
    state = scene.counter.book.state(order)
    import json

    from letterply.orders.intake.reading import Order
    from letterply.orders.pipeline.stages import OrderPipeline
    from letterply.orders.pipeline.task_requests import Sources

    content = json.loads(vault.read(state.content))
    pipeline = OrderPipeline(
        value_of(Order, content["order"]), value_of(Sources, content["sources"]), vault
    )
    tasks = [[plain(t)] for t in pipeline.line_tasks()]
    worker.kill()
    for _ in range(2):
        scene.store.database.write(
            lambda db: queueing.queue_batches(db, order, 1, "lines", 1, tasks, 6)
        )
    scene.start()
    assert scene.wait_for_end(order) == "done"
    assert len(scene.rows("start")) <= 6 + AHEAD
    check_all_made(scene, order, 6)


@on_server
def test_a_worker_stopped_in_good_order_leaves_no_failed_lines(scene):
    worker = scene.start()
    order = scene.submit(names(8))
    scene.wait_for_ends(2)
    worker.end()
    assert worker.process.returncode == 0
    assert not scene.counter.book.state(order).final
    scene.start()
    assert scene.wait_for_end(order) == "done"
    check_all_made(scene, order, 8)


@on_server
def test_small_orders_go_before_large_ones(scene):
    """Both wait when the worker starts; the small one, which came later, is done first."""
    large = scene.submit([f"large {n}" for n in range(LINES)])
    small = scene.submit(["small 1", "small 2"])
    scene.start()
    assert scene.wait_for_end(small) == "done"
    assert not scene.counter.book.state(large).final
    assert scene.wait_for_end(large) == "done"


@on_server
def test_the_same_order_from_two_sides_is_made_once(scene):
    scene.start()
    first = scene.submit(names(5))
    assert scene.submit(names(5)) == first
    assert scene.wait_for_end(first) == "done"
    assert len(scene.rows("start")) == 5


def test_a_database_restarted_during_a_takeover_loses_nothing(tmp_path, cluster, request):
    scene = Scene(tmp_path / "data", cluster.new_database(), LINE_S)
    try:
        first, _ = scene.start_two()
        order = scene.submit(names())
        scene.wait_for_ends(HALF)
        first.kill()
        finished, before = scene.finished_lines(order), len(scene.rows("start"))
        time.sleep(2.5)
        cluster.restart()
        began = time.monotonic()
        assert scene.wait_for_end(order) == "done"
        assert starts_after(scene, finished, before) == []
        check_all_made(scene, order)
        report(request, scene, done_after_s=round(time.monotonic() - began, 1))
    finally:
        scene.close()
