"""Memory of a worker over many jobs, and how long the first plan of a service takes.

    .venv/bin/python tests/bench/worker.py [JOBS]

Jobs go to one worker, one after the other: layers and checks by turns, words, sizes and all the
Latin fonts that are shipped, so that everything that a worker keeps fills up; every fifth is a sign
of three layers, the others are letters alone, so that a thousand take some minutes of processor
time. Printed is its resident memory as it goes on. Then a service is started and asked for a plan
twice: the second, of another word, is the usual time; by the clock, and processor time of the
service and its workers, which a busy machine changes less.
"""

from __future__ import annotations

import asyncio
import json
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import httpx
from spending import service_s

from letterply.jobs import Resources
from letterply.jobs.run import run_job
from letterply.lettering import FontLibrary
from letterply.workers import ComputePool
from letterply_client import private_service

RECIPE = json.loads(
    (Path(__file__).parents[2] / "deploy/recipes/avocet-rack-sign.json").read_text("utf-8")
)
BIRDS = ("Avocet", "Dunlin", "Knot", "Curlew", "Godwit", "Ruff", "Tern", "Snipe")


def recipe(text: str, size: float = 60.0) -> dict[str, Any]:
    """Return the sign of the demo with other words."""
    found: dict[str, Any] = json.loads(json.dumps(RECIPE))
    found["lettering"] |= {"text": text, "size": {"cap_height": size}}
    return found


def varied(number: int, fonts: Sequence[str]) -> tuple[str, dict[str, Any]]:
    """Return kind and request of a job, each unlike the ones before."""
    found = recipe(BIRDS[number % len(BIRDS)], 30 + number % 41)
    found["lettering"] |= {"font": fonts[number % len(fonts)], "features": {}}
    if number % 5:
        found["layers"], found["align"] = found["layers"][-1:], {"kind": "none"}
    return ("check" if number % 2 else "stack"), {"recipe": found}


async def watch(jobs: int) -> None:
    """Print the memory of a worker as it goes through its jobs."""
    pool = ComputePool(1, 120, 4_096_000_000, preload=("letterply.jobs.run",), tasks_a_worker=10**6)
    pool.start()
    fonts = FontLibrary().having("A")
    try:
        print(f"worker at rest {await pool.run(eval, MEMORY):.0f} MB")
        marks = {jobs // 100, jobs // 10, jobs // 4, jobs // 2, jobs}
        for number in range(1, jobs + 1):
            await pool.run(_job, *varied(number, fonts))
            if number in marks:
                memory, spent = await pool.run(eval, MEMORY), await pool.run(time.process_time)
                print(f"after {number:5} jobs {memory:.0f} MB, {spent:.0f} s of processor time")
    finally:
        pool.stop()


MEMORY = "int(open('/proc/self/status').read().split('VmRSS:')[1].split()[0]) / 1000"


def _job(kind: str, request: dict[str, Any]) -> int:
    return len(run_job(kind, request, Resources()).artifacts)


def first_plan() -> None:
    """Print how long the first plan of a service takes, and the second."""
    with private_service() as url, httpx.Client(base_url=url, timeout=300) as api:
        for word in ("Avocet", "Dunlin"):
            began, spent = time.perf_counter(), service_s()
            api.post("/v1/plans", json={"recipe": recipe(word)}).raise_for_status()
            took, spent = time.perf_counter() - began, service_s() - spent
            print(f"plan of {word}: {took:.1f} s, {spent:.1f} s of processor time")


if __name__ == "__main__":
    asyncio.run(watch(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
    first_plan()
