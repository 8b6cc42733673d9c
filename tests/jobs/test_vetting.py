"""What is refused before it waits: the same that the job itself would refuse, field and code."""

import asyncio

import pytest

from boathouse import changed, rack_sign
from jobs.quick_job import run_quick_job
from letterply.errors import InputError
from letterply.jobs.resources import Resources
from letterply.jobs.run import normalise_request, run_job
from letterply.jobs.running import RunningPlan
from letterply.jobs.service import JobService
from letterply.jobs.vetting import names_strangers, refuse_strangers, vet_job
from letterply.storage.store import Store
from letterply.workers.pool import ComputePool

OWN = {"text": "Teal", "font": "lobstr", "size": {"cap_height": 20}}


def with_layer(number, **changes):
    recipe = rack_sign()
    recipe["layers"][number] |= changes
    return {"recipe": recipe}


WRONG = [
    ("check", {"recipe": changed(rack_sign(), lettering={**OWN})}),
    ("check", {"recipe": changed(rack_sign(), lettering={**OWN, "font": "oswald", "text": "漢"})}),
    ("plan", with_layer(0, material="birch-plywod")),
    ("stack", with_layer(2, outline={"kind": "lettering", "lettering": OWN})),
    ("check", with_layer(0, features=[{"kind": "groove_lettering", "lettering": OWN}])),
    ("plan", {"recipe": rack_sign(), "shop": {"machine": "shop-routr"}}),
    ("survey", {"font": "lobstr", "set": "latin-basic", "material": "mdf", "thickness": 6}),
    ("survey", {"font": "oswald", "set": "latin-basic", "material": "mfd", "thickness": 6}),
]


def problem(call, kind, clean):
    with pytest.raises(InputError) as caught:
        call(kind, clean, Resources())
    error = caught.value
    return error.code, error.message, error.field, error.expected, error.data


def refusal(call, *args):
    with pytest.raises(InputError) as caught:
        call(*args)
    return caught.value.code, caught.value.field


@pytest.mark.parametrize(("kind", "request_"), WRONG)
def test_the_same_is_refused_as_by_the_job(kind, request_):
    clean = normalise_request(kind, request_)
    assert refusal(vet_job, kind, clean, Resources()) == refusal(run_job, kind, clean, Resources())


@pytest.mark.parametrize("kind", ["stack", "check", "plan"])
def test_what_is_right_passes(kind):
    vet_job(kind, normalise_request(kind, {"recipe": rack_sign()}), Resources())


@pytest.mark.parametrize(("kind", "request_"), WRONG)
def test_a_name_that_is_not_there_is_noticed_without_opening_a_font(kind, request_):
    clean = normalise_request(kind, request_)
    unknown = refusal(vet_job, kind, clean, Resources())[0].startswith("unknown-")
    assert names_strangers(clean, Resources()) is unknown


@pytest.mark.parametrize(("kind", "request_"), WRONG[:1] + WRONG[2:3] + WRONG[5:6])
def test_the_same_is_said_without_opening_a_font_where_that_is_enough(kind, request_):
    clean = normalise_request(kind, request_)
    said = [problem(tell, kind, clean) for tell in (refuse_strangers, vet_job, run_job)]
    assert said[0] == said[1] == said[2]


def test_what_a_font_would_tell_first_is_left_to_who_opens_it():
    """Here the words may lack a letter, which is told before the unknown font of a layer."""
    kind, request_ = WRONG[3]
    assert refuse_strangers(kind, normalise_request(kind, request_), Resources())


@pytest.mark.parametrize("kind", ["stack", "check", "plan"])
def test_no_name_is_noticed_where_all_are_there(kind):
    clean = normalise_request(kind, {"recipe": rack_sign(), "shop": {"stock": ["mdf-6"]}})
    assert not names_strangers(clean, Resources())


def test_a_typo_is_told_without_a_job(tmp_path):
    """No worker is there: who asked one would never hear of it."""

    async def main():
        pool, short_lane = (ComputePool(1, 60, 4_000_000_000) for _ in range(2))
        store = Store(tmp_path)
        job_service = JobService(store, pool, short_lane)
        try:
            with pytest.raises(InputError) as caught:
                await job_service.place(*WRONG[0])
            return caught.value, job_service.under_way
        finally:
            await job_service.close()
            store.close()

    refused, under_way = asyncio.run(main())
    assert (refused.code, refused.field) == ("unknown-font", "recipe.lettering.font")
    assert under_way == 0


def test_a_typo_is_told_while_all_workers_are_taken(tmp_path):
    """The only worker of jobs sleeps all the while."""

    async def main():
        pool, short_lane = (ComputePool(1, 60, 4_000_000_000) for _ in range(2))
        for lane in (pool, short_lane):
            lane.start()
        store = Store(tmp_path)
        job_service = JobService(store, pool, short_lane, plan=RunningPlan(run_quick_job))
        try:
            held = await job_service.place("check", {"recipe": rack_sign("sleep 300")})
            with pytest.raises(InputError) as caught:
                await job_service.place(*WRONG[0])
            return caught.value, await held.result(0)
        finally:
            await job_service.close()
            store.close()
            for lane in (pool, short_lane):
                lane.stop()

    refused, still_running = asyncio.run(main())
    assert refused.code == "unknown-font"
    assert still_running is None
