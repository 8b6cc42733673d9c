"""How long short questions take while plans are queued, over how long they take when nothing is.

    .venv/bin/python tests/bench/lanes.py

A service with its usual lanes is asked previews, a dry run of one line, a font's picture that was
not asked for before and a recipe with a typo: each some times with nothing else under way, then
with ten plans queued. Printed are medians and the largest, by the clock; run it on a quiet machine.
"""

from __future__ import annotations

import copy
import json
import os
import statistics
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx

from letterply_client import private_service

RECIPE = json.loads(
    (Path(__file__).parents[2] / "deploy/recipes/avocet-rack-sign.json").read_text("utf-8")
)
TIMES = 8
QUEUED = 10


def titled(title: str, **changes: Any) -> dict[str, Any]:
    """Return the recipe under another name, so that no answer is in the store."""
    recipe = copy.deepcopy(RECIPE)
    recipe["title"] = title
    recipe["lettering"] |= changes
    return recipe


def questions(api: httpx.Client, run: str) -> dict[str, Callable[[int], httpx.Response]]:
    """Return what is asked, by name; each takes the number of the asking."""

    def preview(number: int) -> httpx.Response:
        return api.post("/v1/previews", json={"recipe": titled("Typed"), "client": "bench"})

    def dry_run(number: int) -> httpx.Response:
        order = {
            "title": f"{run} {number}",
            "recipe": "sign",
            "recipes": {"sign": titled("Typed", text="{text}")},
            "lines": [{"text": f"{run.capitalize()}{chr(97 + number)}"}],
        }
        return api.post("/v1/orders", params={"dry_run": "true"}, json=order)

    fonts: Iterator[dict[str, Any]] = iter(api.get("/v1/fonts?limit=60").json()["items"])
    skipped = list(fonts)[:TIMES] if run == "idle" else list(fonts)[TIMES : 2 * TIMES]

    def font(number: int) -> httpx.Response:
        return api.get(f"/v1/fonts/{skipped[number]['key']}.png")

    def typo(number: int) -> httpx.Response:
        return api.post("/v1/checks", json={"recipe": titled("Typo", font=f"lobstr{number}")})

    return {"preview": preview, "dry run": dry_run, "font's picture": font, "typo": typo}


def ask_all(api: httpx.Client, run: str) -> dict[str, list[float]]:
    """Return the times of all questions in ms."""
    took: dict[str, list[float]] = {}
    for name, ask in questions(api, run).items():
        for number in range(TIMES):
            began = time.perf_counter()
            answer = ask(number)
            took.setdefault(name, []).append(1000 * (time.perf_counter() - began))
            assert answer.status_code in (200, 422), answer.text
    return took


def main() -> None:
    """Print the table."""
    os.environ["LETTERPLY_PREVIEW_WORKERS"] = "1"
    with private_service() as url, httpx.Client(base_url=url, timeout=300) as api:
        api.get("/health/ready")
        ask_all(api, "warming")
        idle = ask_all(api, "idle")
        later = {"Prefer": "respond-async"}
        for number in range(QUEUED):
            api.post("/v1/plans", json={"recipe": titled(f"Plan {number}")}, headers=later)
        busy = ask_all(api, "busy")
        under_way = [
            line for line in api.get("/metrics").text.splitlines()
            if line.startswith("letterply_jobs_under_way")
        ]  # fmt: skip
    print(f"after the questions: {under_way[0]}")
    for name, alone in idle.items():
        quiet, loud = statistics.median(alone), statistics.median(busy[name])
        print(
            f"{name:15} {quiet:6.0f} ms idle (at most {max(alone):.0f}), {loud:6.0f} ms with "
            f"{QUEUED} plans queued (at most {max(busy[name]):.0f}): {loud / quiet:.1f}"
        )


if __name__ == "__main__":
    main()
