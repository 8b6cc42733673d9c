"""What a small question costs the front: processor time of the service itself, without its workers.

    .venv/bin/python tests/bench/front.py [--questions 500]

The questions are those of the crowd (`crowd.py`) and some more, one after the other on one
connection. Printed is the processor time of the service's own process a question, and a digest of
the answers, so that two versions can be held against each other.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import re
import time
from collections.abc import Callable
from pathlib import Path

import httpx
from crowd import recipe

from letterply_client import private_service

_TICKS = os.sysconf("SC_CLK_TCK")
SETTINGS = {"LETTERPLY_WORKERS": "1", "LETTERPLY_ORDER_WORKER": "none"}

Ask = Callable[[httpx.Client, int], httpx.Response]


def questions(job: str) -> dict[str, Ask]:
    """Return the kinds of questions."""

    def typo(api: httpx.Client, number: int) -> httpx.Response:
        return api.post("/v1/checks", json={"recipe": recipe("Typo", font=f"lob{number % 50}")})

    return {
        "health": lambda api, _: api.get("/health/live"),
        "stock": lambda api, _: api.get("/v1/stock"),
        "job": lambda api, _: api.get(f"/v1/jobs/{job}"),
        "fonts": lambda api, _: api.get("/v1/fonts?limit=5"),
        "typo": typo,
        "mistake": lambda api, n: api.post("/v1/checks", json={"recipe": {"titel": f"{n}"}}),
        "known": lambda api, _: api.post("/v1/stacks", json={"recipe": recipe("First")}),
        "materials": lambda api, _: api.get("/v1/materials"),
        "usage": lambda api, _: api.get("/v1/usage"),
    }


def ask(api: httpx.Client, question: Ask, count: int) -> str:
    """Ask one kind so often; return the digest of its answers, without what is each one's own."""
    told = hashlib.sha256()
    for number in range(count):
        answer = question(api, number)
        assert answer.status_code in (200, 201, 422), answer.text
        told.update(re.sub(rb"urn:uuid:[0-9a-f-]+|\d{4}-\d\d-\d\dT[^\"]*", b"", answer.content))
    return told.hexdigest()[:12]


def spent_ms(process: int) -> float:
    """Return the processor time of one process, of all its threads, ms (proc(5))."""
    facts = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return 1000 * (int(facts[11]) + int(facts[12])) / _TICKS


def front() -> int:
    """Return the number of the service's process: the child of this one that serves."""
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parent = (folder / "stat").read_text().rpartition(")")[2].split()[1]
            line = (folder / "cmdline").read_bytes()
        except OSError:
            continue
        if int(parent) == os.getpid() and b"letterply.api.serve" in line:
            return int(folder.name)
    raise LookupError("no service is running")


def measure(url: str, count: int) -> None:
    """Print the table."""
    with httpx.Client(base_url=url, timeout=120) as api:
        job = api.post("/v1/stacks", json={"recipe": recipe("First")}).json()["id"]
        process = front()
        for name, question in questions(job).items():
            ask(api, question, 20)
            before, began = spent_ms(process), time.perf_counter()
            told = ask(api, question, count)
            took = 1000 * (time.perf_counter() - began) / count
            spent = (spent_ms(process) - before) / count
            print(f"{name:10} {spent:6.2f} ms of processor, {took:6.1f} by the clock, {told}")


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--questions", type=int, default=500)
    given = parser.parse_args()
    os.environ.update(SETTINGS)
    with private_service() as url:
        while httpx.get(f"{url}/health/ready", timeout=60).status_code != 200:
            time.sleep(0.2)
        measure(url, given.questions)


if __name__ == "__main__":
    main()
