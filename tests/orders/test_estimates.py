"""Dry runs: no request is held for long, and none is made twice."""

import asyncio
import errno
import math

import pytest

from letterply.errors import InputError, JobFailed
from letterply.orders.estimates import Estimates
from letterply.storage.vault import FolderVault

ORDER, ANOTHER = "a" * 32, "b" * 32


@pytest.fixture
def vault(tmp_path):
    return FolderVault(tmp_path)


def with_estimates(vault, use):
    """Run `use(estimates)` on an event loop, as a process does."""

    async def main():
        estimates = Estimates(vault)
        try:
            return await use(estimates)
        finally:
            await estimates.close()

    return asyncio.run(main())


def test_who_is_turned_away_finds_it_when_asking_again(vault):
    begun = []

    async def use(estimates):
        release = asyncio.Event()

        async def find_out():
            begun.append(1)
            await release.wait()
            return {"dry_run": True}

        with pytest.raises(JobFailed) as caught:
            await estimates.get(ORDER, find_out, 0.0)
        assert caught.value.code == "service-busy"
        release.set()
        return [await estimates.get(ORDER, find_out, math.inf) for _ in range(2)]

    assert with_estimates(vault, use) == [{"dry_run": True}] * 2
    assert len(begun) == 1


def test_what_failed_is_tried_again(vault):
    begun = []

    async def find_out():
        begun.append(1)
        raise InputError("No.", code="no")

    async def use(estimates):
        for _ in range(2):
            with pytest.raises(InputError):
                await estimates.get(ORDER, find_out, math.inf)
            await asyncio.sleep(0)

    with_estimates(vault, use)
    assert len(begun) == 2


def test_what_a_dry_run_came_to_is_found_by_every_process(vault):
    async def find_out():
        return {"title": "Racks", "time_s": 12.5}

    async def first(estimates):
        return await estimates.get(ORDER, find_out, math.inf)

    async def elsewhere(estimates):
        async def another():
            return {"title": "Oars"}

        same = await estimates.get(ORDER, pytest.fail, math.inf)
        return same, await estimates.get(ANOTHER, another, math.inf)

    told = with_estimates(vault, first)
    assert with_estimates(vault, elsewhere) == (told, {"title": "Oars"})


def test_two_processes_that_are_asked_at_once_tell_the_same(vault):
    async def main():
        both = Estimates(vault), Estimates(vault)
        met = asyncio.Barrier(2)

        async def find_out():
            await met.wait()  # each is at it: neither has kept anything yet
            return {"title": "Racks"}

        return await asyncio.gather(*(e.get(ORDER, find_out, math.inf) for e in both))

    assert asyncio.run(main()) == [{"title": "Racks"}] * 2
    assert vault.recall(ORDER) == {"title": "Racks"}


def test_a_dry_run_that_cannot_be_kept_is_told_all_the_same(vault, monkeypatch):
    def full(key, answer):
        raise OSError(errno.ENOSPC, "no space left on device")

    async def find_out():
        return {"title": "Racks"}

    monkeypatch.setattr(vault, "note", full)
    told = with_estimates(vault, lambda e: e.get(ORDER, find_out, math.inf))
    assert told == {"title": "Racks"}
