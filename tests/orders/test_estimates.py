"""Dry runs: no request is held for long, and none is made twice."""

import asyncio
import math

import pytest

from letterply.errors import InputError, JobFailed
from letterply.orders.estimates import Estimates


def with_estimates(use):
    """Run `use(estimates)` on an event loop."""

    async def main():
        estimates = Estimates()
        try:
            return await use(estimates)
        finally:
            await estimates.close()

    return asyncio.run(main())


def test_who_is_turned_away_finds_it_when_asking_again():
    begun = []

    async def use(estimates):
        release = asyncio.Event()

        async def find_out():
            begun.append(1)
            await release.wait()
            return {"dry_run": True}

        with pytest.raises(JobFailed) as caught:
            await estimates.get("order", find_out, 0.0)
        assert caught.value.code == "service-busy"
        release.set()
        return [await estimates.get("order", find_out, math.inf) for _ in range(2)]

    assert with_estimates(use) == [{"dry_run": True}] * 2
    assert len(begun) == 1


def test_what_failed_is_tried_again():
    begun = []

    async def find_out():
        begun.append(1)
        raise InputError("No.", code="no")

    async def use(estimates):
        for _ in range(2):
            with pytest.raises(InputError):
                await estimates.get("order", find_out, math.inf)
            await asyncio.sleep(0)

    with_estimates(use)
    assert len(begun) == 2


def test_another_order_is_another_dry_run_and_only_the_latest_are_kept():
    async def use(estimates):
        async def number(n):
            return n

        for n in range(40):
            assert await estimates.get(str(n), lambda n=n: number(n), math.inf) == n
        return await estimates.get("39", lambda: number(-1), math.inf), await estimates.get(
            "0", lambda: number(-1), math.inf
        )

    assert with_estimates(use) == (39, -1)
