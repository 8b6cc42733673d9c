"""The job service: each request computed once, failures without a trace, nothing lost by a stop."""

import asyncio
import contextlib

import msgpack
import pytest
import sqlalchemy as sa

from jobs.quick_job import run_quick_job
from letterply import ENGINE_VERSION
from letterply.errors import Conflict, InputError, JobFailed, NotFound
from letterply.jobs import run as job
from letterply.jobs.running import RunningPlan
from letterply.jobs.service import JobService
from letterply.lettering.fonts.library import font_digest, shipped_faces
from letterply.storage import Runs, tables
from letterply.storage.records import JobState, UploadKind
from letterply.storage.store import Store
from letterply.workers.pool import ComputePool


def sign(text="Knot", **changes):
    return {
        "recipe": {
            "title": f"{text} sign",
            "lettering": {"text": text, "font": "lobster", "size": {"cap_height": 40}},
            "layers": [
                {
                    "name": "face",
                    "material": "mdf",
                    "thickness": 6,
                    "outline": {"kind": "lettering", "join": True},
                }
            ],
            **changes,
        }
    }


@pytest.fixture(scope="module")
def pool():
    made = ComputePool(1, 60, 4_000_000_000, preload=("jobs.quick_job",))
    made.start()
    yield made
    made.stop()


def at_service(folder, pool, use, *, run=run_quick_job, dead_after_s=30.0, **options):
    """Run `use(job_service)` with a real store and real workers."""

    async def main():
        ended = []
        store = Store(folder)
        plan = RunningPlan(
            run, dead_after_s=dead_after_s, look_every_s=0.05,
            on_end=lambda *facts: ended.append(facts),
        )  # fmt: skip
        job_service = JobService(store, pool, plan=plan, **options)
        job_service.ended = ended
        try:
            return await use(job_service)
        finally:
            await job_service.close()
            store.close()

    return asyncio.run(main())


def trace(folder):
    """Return the rows and files of a store."""
    store = Store(folder)
    rows = [store.jobs(kind, limit=100)[0] for kind in ("stack", "check", "plan")]
    store.close()
    return rows, sorted(p.name for p in (folder / "blobs").rglob("*") if p.is_file())


def test_a_repeat_is_answered_from_the_store(tmp_path, pool):
    async def use(job_service):
        first = await job_service.place("stack", sign())
        record = await first.result(60)
        again = await job_service.place("stack", sign())
        return first, record, again, await again.result(0), job_service.ended

    first, record, again, same, ended = at_service(tmp_path, pool, use)
    assert (first.repeated, again.repeated) == (False, True)
    assert record == same
    assert record.state is JobState.DONE
    assert record.document == "stack.json"
    assert record.headline["title"] == "Knot sign"
    assert [(kind, outcome) for kind, outcome, _ in ended] == [("stack", "done")]


def test_a_real_job_is_kept_with_all_that_it_made(tmp_path, pool):
    async def use(job_service):
        return await (await job_service.place("check", sign())).result(60)

    record = at_service(tmp_path, pool, use, run=job.run_job)
    assert record.document == "findings.json"
    assert record.artifact("layers/face.svg")
    assert record.headline["title"] == "Knot sign"
    assert record.headline["ready"] is (record.headline["counts"]["blocker"] == 0)


def test_pictures_and_drawings_are_made_when_asked_for_and_once(tmp_path, pool):
    async def use(job_service):
        record = await (await job_service.place("check", sign())).result(60)
        asked = [job_service.made(record, [path]) for path in ("stack.png", "stack.svg") * 3]
        made = (await asyncio.gather(*asked))[-1]
        return record, made, job_service.store.read(made.artifact("stack.svg"))

    record, made, svg = at_service(tmp_path, pool, use, run=job.run_job)
    later = {a.path for a in record.artifacts if a.later}
    assert {"stack.svg", "stack.png", "layers/face.dxf", "findings.png", "cutters.svg"} <= later
    assert all(a.digest is None for a in record.artifacts if a.later)
    assert {a.path for a in made.artifacts if a.later and a.digest} == {"stack.svg", "stack.png"}
    assert svg.startswith(b"<")


@pytest.mark.parametrize("harm", ["gone", "of an older layout"])
def test_an_answer_that_cannot_be_read_is_found_out_again(tmp_path, pool, harm):
    async def use(job_service):
        record = await (await job_service.place("stack", sign())).result(60)
        before = await job_service.made(record, ["layers/face.svg"])
        kept = tmp_path / "blobs" / record.answer[:2] / record.answer
        kept.unlink()
        if harm != "gone":
            layout = msgpack.packb([0, "0", [], [], None])
            named, _ = job_service.store.keep_file(layout)
            outdated = sa.update(tables.jobs).values(answer=named)
            job_service.store.database.write(lambda db: db.execute(outdated))
        after = await job_service.made(before, ["layers/face.svg", "stack.png"])
        again = await job_service.made(after, ["layers/face.svg"])
        return before, again

    before, again = at_service(tmp_path, pool, use, run=job.run_job)
    assert again.artifact("stack.png").digest
    assert again.artifact("layers/face.svg") == before.artifact("layers/face.svg")


def test_twins_share_one_run(tmp_path, pool):
    async def use(job_service):
        handles = await asyncio.gather(*(job_service.place("stack", sign()) for _ in range(5)))
        records = await asyncio.gather(*(t.result(60) for t in handles))
        return records, job_service.ended

    records, ended = at_service(tmp_path, pool, use)
    assert all(r == records[0] for r in records)
    assert len(ended) == 1


def test_a_wrong_request_leaves_no_trace(tmp_path, pool):
    async def use(job_service):
        with pytest.raises(InputError) as caught:
            await (await job_service.place("stack", sign(text="Knot 鷸"))).result(60)
        return caught.value

    Store(tmp_path).close()
    before = trace(tmp_path)
    assert at_service(tmp_path, pool, use).code == "glyph-missing"
    assert trace(tmp_path) == before


def test_a_job_that_takes_too_long_leaves_no_trace(tmp_path):
    async def use(job_service):
        with pytest.raises(JobFailed) as caught:
            await (await job_service.place("stack", sign("sleep 60"))).result(60)
        return caught.value

    Store(tmp_path).close()
    before = trace(tmp_path)
    hasty = ComputePool(1, 0.5, 4_000_000_000)
    hasty.start()
    assert at_service(tmp_path, hasty, use).code == "job-timeout"
    hasty.stop()
    assert trace(tmp_path) == before


def test_a_plan_that_takes_too_long_says_where_its_layers_and_checks_are(tmp_path):
    async def use(job_service):
        with pytest.raises(JobFailed) as caught:
            await (await job_service.place("plan", sign("plan 600"))).result(60)
        return caught.value, (await job_service.place("check", sign("plan 600"))).id

    hasty = ComputePool(1, 0.5, 4_000_000_000, preload=("jobs.quick_job",), clock_factor=16.0)
    hasty.start()
    failed, id_ = at_service(tmp_path, hasty, use)
    hasty.stop()
    assert failed.code == "job-timeout"
    assert failed.data["made"] == {"check": f"/v1/checks/{id_}"}
    store = Store(tmp_path)
    assert store.job(id_).state is JobState.DONE
    store.close()


def test_a_kept_job_is_there_before_and_after_it_is_finished(tmp_path, pool):
    async def use(job_service):
        handle = await job_service.place("stack", sign("sleep 0.3"))
        assert await handle.result(0) is None
        kept = await handle.keep()
        finished = await job_service.wait_for(handle.id, 60)
        return kept, finished

    kept, finished = at_service(tmp_path, pool, use)
    assert kept.state in (JobState.QUEUED, JobState.RUNNING)
    assert finished.state is JobState.DONE


def test_nobody_is_held_while_a_file_is_made_and_it_is_there_when_asked_again(tmp_path, pool):
    begun = []

    async def use(job_service):
        handle = await job_service.place("stack", sign())
        record = await handle.result(120)
        with pytest.raises(JobFailed) as caught:
            await job_service.made(record, ["stack.png"])
        assert caught.value.code == "service-busy"
        release.set()
        while (await job_service.look_up(record.id)).artifact("stack.png").digest is None:
            await asyncio.sleep(0.01)
        return await job_service.look_up(record.id)

    async def draw(stored, paths):
        begun.append(paths)
        await release.wait()
        return dict.fromkeys(paths, b"a picture")

    release = asyncio.Event()
    options = {"draw": {"stack": draw}, "file_wait_s": 0.0}
    made = at_service(tmp_path, pool, use, run=job.run_job, **options)
    assert made.artifact("stack.png").size == len(b"a picture")
    assert begun == [["stack.png"]]


def test_two_services_asked_for_a_file_at_once_tell_of_the_same_bytes(tmp_path, pool):
    """Each makes it: the later one finds it made, and what either told can be read."""
    met = asyncio.Barrier(2)

    async def draw(stored, paths):
        await met.wait()
        return dict.fromkeys(paths, b"a picture")

    async def use(job_service):
        record = await (await job_service.place("stack", sign())).result(120)
        store = Store(tmp_path)
        other = JobService(store, pool, draw={"stack": draw})
        told = await asyncio.gather(
            *(service.made(record, ["stack.png"]) for service in (job_service, other))
        )
        read = [store.read(one.artifact("stack.png")) for one in told]
        await other.close()
        store.close()
        return told, read

    (first, second), read = at_service(tmp_path, pool, use, run=job.run_job, draw={"stack": draw})
    assert first.artifacts == second.artifacts
    assert read == [b"a picture"] * 2


def test_a_kept_job_that_fails_says_so_later_and_may_be_asked_again(tmp_path, pool):
    async def use(job_service):
        handle = await job_service.place("stack", sign(text="鷸"))
        await handle.keep()
        failed = await job_service.wait_for(handle.id, 60)
        again = await job_service.place("stack", sign(text="鷸"))
        with pytest.raises(InputError):
            await again.result(60)
        return failed

    failed = at_service(tmp_path, pool, use)
    assert failed.state is JobState.FAILED
    assert failed.failure["code"] == "glyph-missing"


def test_a_stop_in_the_middle_is_made_up_for(tmp_path, pool):
    async def stop(job_service):
        handle = await job_service.place("stack", sign("sleep 2"))
        await handle.keep()
        return handle.id

    async def go_on(job_service):
        assert await job_service.resume() == 1
        return await job_service.wait_for(id_, 60)

    id_ = at_service(tmp_path, pool, stop)
    record = at_service(tmp_path, pool, go_on)
    assert record.id == id_
    assert record.state is JobState.DONE


def test_a_job_of_another_engine_is_not_taken_up(tmp_path, pool, monkeypatch):
    async def stop(job_service):
        handle = await job_service.place("stack", sign("sleep 2"))
        await handle.keep()
        return handle.id

    async def go_on(job_service):
        assert await job_service.resume() == 0
        return await job_service.wait_for(id_, 60)

    id_ = at_service(tmp_path, pool, stop)
    monkeypatch.setattr("letterply.jobs.identity.ENGINE_VERSION", "another")
    record = at_service(tmp_path, pool, go_on, dead_after_s=0.1)
    assert record.state is JobState.FAILED
    assert record.failure["code"] == "job-outdated"


@pytest.mark.parametrize("version", ["", ENGINE_VERSION])
def test_a_job_of_another_engine_is_left_to_whoever_may_have_that(
    tmp_path, pool, monkeypatch, version
):
    """An earlier release beside this one: its workers say nothing of their engine, or theirs."""

    async def stop(job_service):
        handle = await job_service.place("stack", sign("sleep 2"))
        await handle.keep()
        return handle.id

    async def look_on(job_service):
        earlier = Runs(job_service.store.database, "earlier")
        monkeypatch.setattr("letterply.storage.runs.ENGINE_VERSION", version)
        for _ in range(10):
            earlier.beat({})
            await asyncio.sleep(0.05)  # in all far more than the silence that is waited for
            assert await job_service.running.take_up() == 0
        seen = job_service.store.job(id_).state
        earlier.leave()
        await job_service.resume()
        return seen, (await job_service.wait_for(id_, 60)).failure["code"]

    id_ = at_service(tmp_path, pool, stop)
    monkeypatch.setattr("letterply.jobs.identity.ENGINE_VERSION", "another")
    found = at_service(tmp_path, pool, look_on, dead_after_s=0.1)
    assert found == ("queued", "job-outdated")


def test_a_lost_file_is_made_again(tmp_path, pool):
    async def use(job_service):
        record = await (await job_service.place("stack", sign())).result(60)
        job_service.store.path_of(record.artifacts[0].digest).unlink()
        again = await job_service.place("stack", sign())
        return again.repeated, job_service.store.is_whole(await again.result(60))

    assert at_service(tmp_path, pool, use) == (False, True)


def test_a_key_holds_one_request(tmp_path, pool):
    async def use(job_service):
        slow = sign("sleep 0.3")
        first = await job_service.place("stack", slow, key="rower\n1")
        with pytest.raises(Conflict) as running:
            await job_service.place("stack", slow, key="rower\n1")
        with pytest.raises(Conflict) as reused_while_running:
            await job_service.place("stack", sign(text="Whimbrel"), key="rower\n1")
        await first.result(60)
        again = await job_service.place("stack", slow, key="rower\n1")
        with pytest.raises(Conflict) as reused:
            await job_service.place("check", slow, key="rower\n1")
        other = await job_service.place("stack", slow, key="other\n1")
        return (
            running.value.code,
            reused_while_running.value.code,
            again.repeated,
            reused.value.code,
            other.repeated,
        )

    assert at_service(tmp_path, pool, use) == (
        "idempotency-key-running",
        "idempotency-key-reused",
        True,
        "idempotency-key-reused",
        True,
    )


def test_a_key_of_a_request_that_failed_is_free_again(tmp_path, pool):
    async def use(job_service):
        with pytest.raises(InputError):
            await (await job_service.place("stack", sign(text="鷸"), key="k")).result(60)
        return (await job_service.place("stack", sign(), key="k")).repeated

    assert at_service(tmp_path, pool, use) is False


def test_too_many_at_once_are_turned_away(tmp_path, pool):
    async def use(job_service):
        first = await job_service.place("stack", sign("sleep 0.3"))
        with pytest.raises(JobFailed) as caught:
            await job_service.place("stack", sign(text="Whimbrel"))
        twin = await job_service.place("stack", sign("sleep 0.3"))
        with contextlib.suppress(NotFound):
            await job_service.look_up(first.id)
        return caught.value.code, await twin.result(60) == await first.result(60)

    assert at_service(tmp_path, pool, use, max_waiting=1) == ("service-busy", True)


def test_an_own_font_is_used_and_counts_for_the_id(tmp_path, pool):
    data = shipped_faces()["varela-round"].path.read_bytes()
    key = font_digest(data)
    request = sign(lettering={"text": "Knot", "font": key, "size": {"cap_height": 40}})

    async def use(job_service):
        with pytest.raises(InputError) as unknown:
            await (await job_service.place("stack", request)).result(60)
        job_service.store.add_upload(UploadKind.FONT, key, data, "Varela Round", {})
        return unknown.value.code, (
            await (await job_service.place("stack", request)).result(60)
        ).state

    assert at_service(tmp_path, pool, use) == ("unknown-font", JobState.DONE)


def test_a_catalogue_of_the_shop_counts_for_the_id_and_is_kept_as_it_was(tmp_path, pool):
    own = tmp_path / "shop.toml"
    own.write_text('[materials.mdf]\nname = "Boathouse board"\n')

    async def use(job_service):
        handle = await job_service.place("stack", sign())
        own.unlink(missing_ok=True)
        return (await handle.result(60)).id

    with_own = at_service(tmp_path / "data", pool, use, catalogue_files=[own])
    without = at_service(tmp_path / "data", pool, use)
    assert with_own != without
