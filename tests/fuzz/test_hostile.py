"""Two hundred hostile fonts and two hundred hostile drawings, in the workers of the service.

None takes a worker down, none is held past its limit, none reads a file or opens a connection;
each ends as something that can be used or as an error that was meant.
"""

from __future__ import annotations

import asyncio
import collections
import time

import pytest

from fuzz.judging import judge
from letterply.errors import JobFailed
from letterply.workers.pool import ComputePool

CASES = 200
LIMIT_S = 20.0

MEANT = {
    "font": {"used", "not-a-font", "font-unreadable", "font-too-large", "font-without-outlines",
             "font-too-complex", "bad-outline", "glyph-missing", "nothing-to-cut", "bad-size",
             "outline-out-of-reach"},
    "svg": {"used", "not-svg", "artwork-unreadable", "artwork-too-large", "artwork-too-complex",
            "artwork-empty", "outline-out-of-reach", "bad-size", "glyph-missing"},
}  # fmt: skip


def judged(kind):
    """Return outcome, seconds and what was opened for every case of a kind."""

    async def main():
        pool = ComputePool(2, LIMIT_S, 4_000_000_000)
        pool.start()
        found = [None] * CASES

        async def some(first):
            for seed in range(first, CASES, 2):
                began = time.monotonic()
                try:
                    found[seed] = await pool.run(judge, kind, seed)
                except JobFailed as exc:
                    found[seed] = (exc.code, time.monotonic() - began, [])

        try:
            await asyncio.gather(some(0), some(1))
            return found
        finally:
            pool.stop()

    return asyncio.run(main())


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["font", "svg"])
def test_hostile_files_are_used_or_refused_within_the_limits(kind):
    found = judged(kind)
    outcomes = collections.Counter(outcome for outcome, _, _ in found)
    ended = MEANT[kind] | {"job-timeout", "job-memory"}
    assert set(outcomes) <= ended, [(n, f) for n, f in enumerate(found) if f[0] not in ended]
    # What runs into the limit is killed there: rare, since limits on size come first.
    assert outcomes["job-timeout"] + outcomes["job-memory"] <= 0.02 * CASES
    assert [(n, f[2]) for n, f in enumerate(found) if f[2]] == []
    # A worker that is killed starts again; the next case waits for it.
    assert max(seconds for _, seconds, _ in found) < LIMIT_S + 30
    # The cases must bite: some pass, most do not.
    assert 0.05 * CASES < outcomes["used"] < 0.7 * CASES
