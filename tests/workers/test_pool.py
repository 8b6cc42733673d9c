"""The pool: hard limits, and no task harms another.

Workers import what they run, so the tasks here are functions of the standard library.
"""

import asyncio
import builtins
import operator
import os
import resource
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from letterply.errors import InputError, JobFailed
from letterply.units import parse_length
from letterply.workers.pool import ComputePool
from letterply.workers.process import Ending, guarded
from letterply.workers.progress import Progress, tell

TIME_LIMIT_S = 1.0
MEMORY_LIMIT_BYTES = 1_000_000_000
WAITING = """
import os, time
while not os.path.exists(release):
    time.sleep(0.01)
"""
TELLING = """
import time
from letterply.workers import tell
tell("checks", 0.25)
time.sleep(0.3)
tell("sheet", 0.5, 2, 3)
time.sleep(0.3)
"""


def with_pool(use, **options):
    """Run `use(pool)` on an event loop, on the thread that starts the workers."""

    async def main():
        pool = ComputePool(options.pop("workers", 1), TIME_LIMIT_S, MEMORY_LIMIT_BYTES, **options)
        pool.start()
        try:
            return await use(pool)
        finally:
            pool.stop()

    return asyncio.run(main())


async def failure_of(pool, function, *args):
    with pytest.raises(JobFailed) as caught:
        await pool.run(function, *args)
    return caught.value


def test_a_value_comes_back():
    assert with_pool(lambda pool: pool.run(operator.add, 2, 3)) == 5


def test_workers_step_back_behind_the_process_that_started_them():
    found = with_pool(lambda pool: pool.run(os.nice, 0), niceness=3)
    assert found == min(19, os.nice(0) + 3)


def test_an_error_of_ours_passes_through_with_its_facts():
    async def use(pool):
        with pytest.raises(InputError) as caught:
            await pool.run(parse_length, "3 parsec")
        return caught.value

    assert with_pool(use).code == "unknown-unit"


def test_a_task_that_works_too_long_is_killed_and_the_next_one_runs():
    async def use(pool):
        before = await pool.run(os.getpid)
        used = children_s()
        failed = await failure_of(pool, sum, range(10**12))
        return before, failed, children_s() - used, await pool.run(os.getpid)

    before, failed, used, after = with_pool(use, clock_factor=1000.0)
    assert failed.code == "job-timeout"
    assert failed.data == {"time_limit_s": TIME_LIMIT_S}
    assert used >= 0.9 * TIME_LIMIT_S  # the kernel counts in ticks
    assert after != before
    with pytest.raises(ProcessLookupError):
        os.kill(before, 0)


def children_s():
    """Return the processor time of all workers that have ended."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return ended.ru_utime + ended.ru_stime


def test_a_task_that_gets_no_processor_is_not_out_of_time():
    """A busy machine takes the processor away; sleep takes it as surely."""
    assert with_pool(lambda pool: pool.run(time.sleep, 2 * TIME_LIMIT_S)) is None


def test_each_task_has_the_whole_limit():
    async def use(pool):
        pid = await pool.run(os.getpid)
        for _ in range(6):
            await pool.run(sum, range(8_000_000))  # some tenths of a second each
        used = await pool.run(time.process_time)
        return pid == await pool.run(os.getpid), used

    same, used = with_pool(use)
    assert same
    assert used > 0.5


def test_a_task_that_waits_for_ever_is_ended_by_the_clock():
    async def use(pool):
        return await failure_of(pool, time.sleep, 600), await pool.run(operator.add, 1, 1)

    failed, after = with_pool(use, clock_factor=2.0)
    assert failed.code == "job-timeout"
    assert failed.data == {"time_limit_s": TIME_LIMIT_S, "clock_limit_s": 2 * TIME_LIMIT_S}
    assert after == 2


def test_a_task_that_wants_too_much_memory_fails_alone():
    async def use(pool):
        failed = await failure_of(pool, bytearray, 2 * MEMORY_LIMIT_BYTES)
        return failed, await pool.run(len, bytes(10))

    failed, after = with_pool(use)
    assert failed.code == "job-memory"
    assert after == 10


@pytest.mark.parametrize(
    ("function", "args", "name"),
    [(os.abort, (), "SIGABRT"), (signal.raise_signal, (signal.SIGKILL,), "SIGKILL")],
)
def test_a_task_that_takes_its_worker_down_fails_alone(function, args, name):
    async def use(pool):
        return await failure_of(pool, function, *args), await pool.run(operator.add, 1, 1)

    failed, after = with_pool(use)
    assert failed.code == "job-crashed"
    assert failed.data == {"signal": name}
    assert after == 2


@pytest.mark.parametrize(
    ("function", "args"),
    [(operator.truediv, (1, 0)), (sys.exit, (3,)), (builtins.__import__, ("no_such",))],
)
def test_a_foreign_error_says_nothing_of_the_inside(function, args):
    failed = with_pool(lambda pool: failure_of(pool, function, *args))
    assert failed.code == "job-crashed"
    assert "division" not in failed.message
    assert failed.data == {}


def test_a_pool_whose_idle_workers_were_killed_comes_back():
    async def use(pool):
        pid = await pool.run(os.getpid)
        os.kill(pid, signal.SIGKILL)
        await asyncio.sleep(0.3)
        return await pool.run(operator.add, 1, 1), pool.restarts

    assert with_pool(use) == (2, 1)


def test_the_event_loop_goes_on_while_workers_work():
    async def use(pool):
        ticks = 0
        task = asyncio.ensure_future(pool.run(time.sleep, 0.5))
        while not task.done():
            await asyncio.sleep(0.01)
            ticks += 1
        await task
        return ticks

    assert with_pool(use) > 15


def test_two_workers_work_at_once():
    async def use(pool):
        await asyncio.gather(pool.run(time.sleep, 0.2), pool.run(time.sleep, 0.2))
        began = time.monotonic()
        await asyncio.gather(pool.run(time.sleep, 0.5), pool.run(time.sleep, 0.5))
        return time.monotonic() - began

    assert with_pool(use, workers=2) < 0.9


def test_a_worker_is_replaced_after_its_share_of_tasks():
    async def use(pool):
        return [await pool.run(os.getpid) for _ in range(5)]

    pids = with_pool(use, tasks_a_worker=2)
    assert len(set(pids)) >= 3


def test_a_started_task_says_so():
    async def use(pool):
        first, second = pool.submit(time.sleep, 0.8), pool.submit(time.sleep, 0.0)
        for _ in range(600):  # a busy machine takes a while to start the worker
            if first.started:
                break
            await asyncio.sleep(0.05)
        seen = first.started, second.started
        await first.result()
        await second.result()
        return seen

    assert with_pool(use) == (True, False)


@pytest.mark.skipif(sys.platform != "linux", reason="the parent-death signal is Linux's")
def test_no_worker_outlives_a_parent_that_was_killed(tmp_path):
    script = tmp_path / "parent.py"
    script.write_text(
        textwrap.dedent(
            """
            import asyncio, os, sys, time
            from letterply.workers.pool import ComputePool

            async def main():
                pool = ComputePool(1, 60, 1_000_000_000)
                pool.start()
                print(await pool.run(os.getpid), flush=True)
                await pool.run(time.sleep, 60)

            if __name__ == "__main__":
                asyncio.run(main())
            """
        )
    )
    parent = subprocess.Popen([sys.executable, script], stdout=subprocess.PIPE, text=True)
    try:
        worker = int(parent.stdout.readline())
        assert Path(f"/proc/{worker}").exists()
    finally:
        parent.kill()
        parent.communicate()
    deadline = time.monotonic() + 5
    while alive(worker) and time.monotonic() < deadline:
        time.sleep(0.02)
    assert not alive(worker)


def alive(pid):
    """Tell whether a process runs; one that only waits to be reaped does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


def test_nothing_escapes_the_guard():
    assert guarded(operator.add, (1, 2)).value == 3
    assert guarded(sys.exit, (1,)).ending is Ending.CRASH
    assert guarded(parse_length, ("x",)).ending is Ending.ERROR


def test_a_task_that_no_worker_takes_up_in_time_is_turned_away(tmp_path):
    release = tmp_path / "release"

    async def use(pool):
        slow = pool.submit(exec, WAITING, {"release": str(release)})
        while not slow.started:
            await asyncio.sleep(0.01)
        pool.patience_s = 0.2
        failure = await failure_of(pool, operator.add, 1, 1)
        release.touch()
        pool.patience_s = None
        await slow.result()
        return failure, await pool.run(operator.add, 2, 3)

    failure, after = with_pool(use)
    assert failure.code == "service-busy"
    assert after == 5


def test_what_a_task_tells_is_heard_while_it_runs_and_forgotten_after():
    async def use(pool):
        task = pool.submit(exec, TELLING)
        heard = set()
        waiting = asyncio.create_task(task.result())
        while not waiting.done():
            heard.add(task.progress)
            await asyncio.sleep(0.01)
        return heard - {None}, task.progress

    heard, after = with_pool(use)
    assert Progress("checks", 0.25) in heard
    assert Progress("sheet", 0.5, 2, 3) in heard
    assert after is None


def test_nobody_hears_what_is_told_outside_a_worker():
    tell("checks", 0.5)


def test_a_full_channel_stops_no_work():
    async def use(pool):
        source = "[tell('checks', 0.5) for _ in range(100_000)] and 7"
        return await pool.run(eval, source, {"tell": tell})

    assert with_pool(use) == 7


def test_owners_take_turns():
    """One hands in six tasks, then another two, then a third one: nobody waits for all six."""

    async def use(pool):
        ended = []

        async def note(owner, number):
            await pool.run(operator.add, number, 0, owner=owner)
            ended.append(f"{owner}{number}")

        wanted = [("a", n) for n in range(6)] + [("b", 0), ("b", 1), ("c", 0)]
        await asyncio.gather(*(note(*task) for task in wanted))
        return ended

    assert with_pool(use) == ["a0", "a1", "b0", "c0", "a2", "b1", "a3", "a4", "a5"]


def test_what_waits_and_is_not_wanted_any_more_is_not_taken_up(tmp_path):
    """Its client went away: neither does it run, nor does it hold its owner's turn."""
    release, mark = tmp_path / "release", tmp_path / "mark"

    async def use(pool):
        first = asyncio.create_task(pool.run(exec, WAITING, {"release": str(release)}))
        await asyncio.sleep(0.3)
        second = asyncio.create_task(pool.run(Path.touch, mark, owner="other"))
        await asyncio.sleep(0.1)
        assert (pool.running, pool.waiting) == (1, 1)
        second.cancel()
        await asyncio.gather(second, return_exceptions=True)
        assert (pool.running, pool.waiting) == (1, 0)
        release.touch()
        await first
        return await pool.run(operator.add, 1, 1, owner="other")

    assert with_pool(use) == 2
    assert not mark.exists()


def begun(submitted):
    """Return once its worker has said that it is at the task."""

    async def wait():
        while submitted.progress is None:
            await asyncio.sleep(0.01)

    return wait()


ENDLESS = """
from letterply.workers import tell
tell("begun", 0.0)
while True:
    pass
"""


async def abandoned(submitted):
    with pytest.raises(JobFailed) as caught:
        await submitted.result()
    assert caught.value.code == "job-abandoned"


def test_a_task_that_nobody_wants_ends_where_it_is_and_its_worker_goes_on():
    async def use(pool):
        worker = await pool.run(os.getpid)
        first = pool.submit(exec, ENDLESS, {})
        waiting = pool.submit(exec, ENDLESS, {})
        await begun(first)
        waiting.abandon()  # before it has begun
        first.abandon()
        await abandoned(first)
        await abandoned(waiting)
        first.abandon()  # over: nothing happens to the next one
        return worker, await pool.run(os.getpid)

    # A limit that the endless task would not live to see on any machine.
    before, after = with_pool(use, clock_factor=1000.0)
    assert after == before


def test_who_stops_waiting_ends_the_task_and_its_worker_goes_on():
    async def use(pool):
        worker = await pool.run(os.getpid)
        asked = pool.submit(exec, ENDLESS, {})
        waiting = asyncio.create_task(asked.result())
        await begun(asked)
        waiting.cancel()
        await asyncio.gather(waiting, return_exceptions=True)
        return worker, await pool.run(os.getpid)

    before, after = with_pool(use, clock_factor=1000.0)
    assert after == before


def test_what_does_not_see_the_sign_is_killed_with_its_worker(monkeypatch):
    monkeypatch.setattr("letterply.workers.pool._GRACE_S", 0.1)
    deaf = "import signal; signal.signal(signal.SIGUSR1, signal.SIG_IGN)" + ENDLESS

    async def use(pool):
        worker = await pool.run(os.getpid)
        asked = pool.submit(exec, deaf, {})
        waiting = asyncio.create_task(asked.result())
        await begun(asked)
        waiting.cancel()
        await asyncio.gather(waiting, return_exceptions=True)
        return worker, await pool.run(os.getpid)

    before, after = with_pool(use, clock_factor=1000.0)
    assert after != before


def test_others_go_on_when_one_is_abandoned():
    async def use(pool):
        asked = [pool.submit(exec, ENDLESS, {}), pool.submit(operator.add, 1, 1)]
        await begun(asked[0])
        added = await asked[1].result()
        asked[0].abandon()
        await abandoned(asked[0])
        return added

    assert with_pool(use, workers=2, clock_factor=1000.0) == 2


def test_what_swallows_every_exception_is_ended_all_the_same():
    stubborn = """
from letterply.workers import tell
tell("begun", 0.0)
while True:
    try:
        while True:
            pass
    except Exception:
        pass
"""

    async def use(pool):
        asked = pool.submit(exec, stubborn, {})
        await begun(asked)
        asked.abandon()
        await abandoned(asked)
        return await pool.run(operator.add, 1, 1)

    assert with_pool(use, clock_factor=1000.0) == 2


def test_a_worker_warms_up_before_its_first_task():
    """A module that workers do not need is there once the warm-up has called something in it."""

    async def use(pool):
        return await pool.run(eval, "'sched' in __import__('sys').modules")

    assert with_pool(use) is False
    assert with_pool(use, warm_up="sched:scheduler") is True


def test_a_task_that_is_held_has_its_place_kept_until_it_goes_or_is_taken_back():
    async def use(pool):
        kept = pool.submit(operator.add, 1, 1, held=True)
        await kept.turn()
        behind = pool.submit(operator.add, 2, 2)
        assert (pool.running, pool.waiting, kept.started) == (1, 1, False)
        kept.take_back()
        assert await behind.result() == 4
        later = pool.submit(operator.add, 3, 3, held=True)
        await later.turn()
        later.go()
        return await later.result()

    assert with_pool(use) == 6


def test_a_task_may_have_a_limit_of_its_own():
    async def use(pool):
        with pytest.raises(JobFailed) as caught:
            await pool.submit(exec, "while True: pass", limit_s=0.2).result()
        return caught.value

    failed = with_pool(use)
    assert (failed.code, failed.data["time_limit_s"]) == ("job-timeout", 0.2)
