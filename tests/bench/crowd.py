"""Many clients at once, and a service that is left running: waiting, refusals, memory.

    .venv/bin/python tests/bench/crowd.py [--clients 200] [--seconds 180] [--soak MINUTES]

Clients ask small questions, each some seconds after its last answer (`--pause`, 6 in the mean):
what is in stock, how far a job is, a page of fonts, a recipe with a typo. First one client alone,
then all of them with nothing under way, then all of them beside an order of 24 names and ten plans.
Printed are the times of the answers by the clock, and every status that is neither a good answer
nor a refusal that says when to come back. `--soak` asks for something each half second instead,
small plans, previews and surveys among it, and prints the memory of the service with its workers
every five minutes.
"""

from __future__ import annotations

import argparse
import asyncio
import copy
import itertools
import json
import os
import random
import time
from collections import Counter
from pathlib import Path
from typing import Any

import httpx
from spending import service_mb

from letterply_client import private_service

DEPLOY = Path(__file__).parents[2] / "deploy"
RECIPE = json.loads((DEPLOY / "recipes/avocet-rack-sign.json").read_text("utf-8"))
LINES = (DEPLOY / "orders/boat-names.csv").read_bytes()
HONEST = (429, 503)
BIRDS = ("Avocet", "Dunlin", "Knot", "Curlew", "Godwit", "Ruff", "Tern", "Snipe")
SETTINGS = {
    "LETTERPLY_PREVIEW_WORKERS": "1",
    "LETTERPLY_OWNER_REQUESTS_PER_MINUTE": "1000000",
    "LETTERPLY_OWNER_JOBS_UNDER_WAY": "100",
}


def recipe(title: str, **lettering: Any) -> dict[str, Any]:
    """Return the demo's sign under another title, so that no answer is in the store."""
    found: dict[str, Any] = copy.deepcopy(RECIPE)
    found["title"] = title
    found["lettering"] |= lettering
    return found


async def small(api: httpx.AsyncClient, number: int, job: str) -> httpx.Response:
    """Ask one of the small questions."""
    which = number % 4
    if which == 3:
        return await api.post("/v1/checks", json={"recipe": recipe("Typo", font=f"lob{number}")})
    return await api.get(("/v1/stock", f"/v1/jobs/{job}", "/v1/fonts?limit=5")[which])


async def ask(
    api: httpx.AsyncClient, clients: int, seconds: float, job: str, pause_s: float
) -> tuple[list[float], Counter[str]]:
    """Let clients ask for so long; return the times of their answers in ms, and what was wrong."""
    took: list[float] = []
    wrong: Counter[str] = Counter()
    end = time.monotonic() + seconds
    dice = random.Random(1)

    async def client(number: int) -> None:
        await asyncio.sleep(pause_s * number / clients)
        while time.monotonic() < end:
            began = time.perf_counter()
            try:
                answer = await small(api, number, job)
            except httpx.TransportError:
                # The service let go of a connection that had lain idle just as it was used.
                wrong["asked again"] += 1
                answer = await small(api, number, job)
            took.append(1000 * (time.perf_counter() - began))
            if answer.status_code in HONEST and "retry-after" in answer.headers:
                wrong[f"honest {answer.status_code}"] += 1
            elif answer.status_code not in (200, 422):
                wrong[str(answer.status_code)] += 1
            number += 1
            await asyncio.sleep(pause_s * dice.uniform(0.5, 1.5))

    await asyncio.gather(*(client(number) for number in range(clients)))
    return sorted(took), wrong


def told(name: str, took: list[float], wrong: Counter[str]) -> str:
    """Return a line of the table."""

    def share(part: float) -> float:
        return took[min(len(took) - 1, int(part * len(took)))]

    return (
        f"{name:28} {len(took):6} answers, median {share(0.5):.0f} ms, 99 of 100 within "
        f"{share(0.99):.0f}, longest {took[-1]:.0f}; {dict(wrong) or 'nothing wrong'}"
    )


async def crowd(url: str, clients: int, seconds: float, pause_s: float) -> None:
    """Print how long small questions take alone, in a crowd, and in a crowd beside work."""
    limits = httpx.Limits(max_connections=clients + 20, max_keepalive_connections=clients + 20)
    async with httpx.AsyncClient(base_url=url, timeout=300, limits=limits) as api:
        made = (await api.post("/v1/stacks", json={"recipe": recipe("First")})).json()
        await ask(api, 4, 3, made["id"], 0.2)
        print(told("one client", *await ask(api, 1, 20, made["id"], 0.2)), flush=True)
        print(
            told("all, nothing under way", *await ask(api, clients, 30, made["id"], pause_s)),
            flush=True,
        )
        order = await api.post(
            "/v1/orders",
            files={"lines": ("names.csv", LINES, "text/csv")},
            data={"order": json.dumps({"title": "Boat names", "recipe": "rack-sign"})},
        )
        assert order.status_code == 202, order.text
        for number in range(10):
            body = {"recipe": recipe(f"Plan {number}")}
            await api.post("/v1/plans", json=body, headers={"Prefer": "respond-async"})
        print(
            told("all, order and ten plans", *await ask(api, clients, seconds, made["id"], pause_s))
        )
        state = (await api.get(order.json()["links"]["self"])).json()
        print(f"the order is {state['state']}; {service_mb():.0f} MB")


async def soak(url: str, minutes: float) -> None:
    """Ask for all kinds of things for so long; print the memory as it goes on."""
    dice = random.Random(1)
    statuses: Counter[int] = Counter()
    began = time.monotonic()
    async with httpx.AsyncClient(base_url=url, timeout=300) as api:
        fonts = [f["key"] for f in (await api.get("/v1/fonts?limit=60")).json()["items"]]
        for turn in itertools.count():
            passed = time.monotonic() - began
            if turn % 600 == 0 or passed > 60 * minutes:
                told_ = f"{service_mb():.0f} MB, statuses {dict(sorted(statuses.items()))}"
                print(f"after {passed / 60:.0f} min, {turn} requests: {told_}", flush=True)
            if passed > 60 * minutes:
                return
            word, size = BIRDS[turn % len(BIRDS)], {"cap_height": 30 + turn % 41}
            body: dict[str, Any] = {
                "recipe": recipe(
                    f"Soak {turn % 400}", text=word, size=size, font=dice.choice(fonts)
                )
            }
            body["recipe"]["lettering"] |= {"features": {}}
            if turn % 10:
                path = ("/v1/previews", "/v1/stock", "/v1/fonts", "/v1/jobs", "/v1/usage")[turn % 5]
                answer = await (api.post(path, json=body) if turn % 5 == 0 else api.get(path))
            else:
                path = ("/v1/stacks", "/v1/checks", "/v1/plans")[turn // 10 % 3]
                answer = await api.post(path, json=body)
            statuses[answer.status_code] += 1
            await asyncio.sleep(max(0.0, began + (turn + 1) / 2 - time.monotonic()))


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=180)
    parser.add_argument("--pause", type=float, default=6)
    parser.add_argument("--soak", type=float, default=0, metavar="MINUTES")
    given = parser.parse_args()
    os.environ |= SETTINGS
    with private_service() as url:
        while httpx.get(f"{url}/health/ready", timeout=60).status_code != 200:
            time.sleep(0.2)
        if given.soak:
            asyncio.run(soak(url, given.soak))
        else:
            asyncio.run(crowd(url, given.clients, given.seconds, given.pause))


if __name__ == "__main__":
    main()
