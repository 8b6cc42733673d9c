"""Memory of a worker over many jobs, and how long the first plan of a service takes.

    .venv/bin/python tests/bench/worker.py [JOBS]

Jobs (layers and checks of words that differ) go to one worker, one after the other; printed is its
resident memory as it goes on. Then a service is started and asked for a plan twice: the second,
of another word, is the usual time.
"""

from __future__ import annotations

import asyncio
import itertools
import json
import sys
import time
from pathlib import Path
from typing import Any

import httpx

from letterply.jobs import Resources
from letterply.jobs.run import run_job
from letterply.workers import ComputePool
from letterply_client import private_service

RECIPE = json.loads(
    (Path(__file__).parents[2] / "deploy/recipes/avocet-rack-sign.json").read_text("utf-8")
)
BIRDS = ("Avocet", "Dunlin", "Knot", "Curlew", "Godwit", "Ruff", "Tern", "Snipe")


def recipe(text: str, size: float = 60.0) -> dict[str, Any]:
    """Return the sign of the demo with other words."""
    found = json.loads(json.dumps(RECIPE))
    found["lettering"] |= {"text": text, "size": {"cap_height": size}}
    return found


async def watch(jobs: int) -> None:
    """Print the memory of a worker as it goes through its jobs."""
    pool = ComputePool(1, 120, 4_096_000_000, preload=("letterply.jobs.run",), tasks_a_worker=10**6)
    pool.start()
    try:
        print(f"worker at rest {await pool.run(eval, MEMORY):.0f} MB")
        marks = {jobs // 100, jobs // 10, jobs // 4, jobs // 2, jobs}
        for number, text in zip(range(1, jobs + 1), itertools.cycle(BIRDS), strict=False):
            kind = "check" if number % 2 else "stack"
            asked = {"recipe": recipe(text, 30 + number % 40)}
            await pool.run(_job, kind, asked)
            if number in marks:
                print(f"after {number:5} jobs {await pool.run(eval, MEMORY):.0f} MB")
    finally:
        pool.stop()


MEMORY = "int(open('/proc/self/status').read().split('VmRSS:')[1].split()[0]) / 1000"


def _job(kind: str, request: dict[str, Any]) -> int:
    return len(run_job(kind, request, Resources()).artifacts)


def first_plan() -> None:
    """Print how long the first plan of a service takes, and the second."""
    with private_service() as url, httpx.Client(base_url=url, timeout=300) as api:
        for word in ("Avocet", "Dunlin"):
            began = time.perf_counter()
            api.post("/v1/plans", json={"recipe": recipe(word)}).raise_for_status()
            print(f"plan of {word}: {time.perf_counter() - began:.1f} s")


if __name__ == "__main__":
    asyncio.run(watch(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
    first_plan()
