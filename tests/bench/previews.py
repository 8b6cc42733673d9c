"""How long a preview takes while a name is typed and tried at other sizes, by the clock.

    .venv/bin/python tests/bench/previews.py

Forty edits of a sign of three layers, one after the other over the loopback: the words grow letter
by letter to ten, then sizes, growth and fonts change. Printed are median and 95th percentile of the
time from question to answer, and the size of the answers; run it on a quiet machine.
"""

from __future__ import annotations

import copy
import json
import statistics
import time
from pathlib import Path
from typing import Any

import httpx

from letterply_client import private_service

RECIPE = json.loads(
    (Path(__file__).parents[2] / "deploy/recipes/avocet-rack-sign.json").read_text("utf-8")
)
WORD = "Turnstones"
FONTS = ("dancing-script", "lobster", "pacifico", "oswald", "playfair-display")


def edits() -> list[dict[str, Any]]:
    """Return forty recipes, each an edit of the one before."""
    found = []
    recipe = copy.deepcopy(RECIPE)
    recipe["title"] = "Typed"
    lettering = recipe["lettering"]
    for count in range(1, len(WORD) + 1):
        lettering["text"] = WORD[:count]
        found.append(copy.deepcopy(recipe))
    for step in range(15):
        lettering["size"] = {"cap_height": 40 + 1.5 * step}
        found.append(copy.deepcopy(recipe))
    for step in range(10):
        recipe["layers"][1]["outline"]["grow"] = 3 + 0.3 * step
        found.append(copy.deepcopy(recipe))
    for font in FONTS:
        recipe["lettering"] = {**lettering, "font": font, "features": {}}
        found.append(copy.deepcopy(recipe))
    return found


def main() -> None:
    """Print the table."""
    took, sizes = [], []
    with private_service() as url, httpx.Client(base_url=url, timeout=60) as api:
        for number, recipe in enumerate([edits()[0], *edits()]):
            began = time.perf_counter()
            answer = api.post("/v1/previews", json={"recipe": recipe, "client": "bench"})
            if answer.status_code != 200:
                print(answer.json()["detail"])
                continue
            if number:  # the first warms
                took.append(1000 * (time.perf_counter() - began))
                sizes.append(len(answer.content) / 1000)
    late = statistics.quantiles(took, n=20)[-1]
    print(f"{len(took)} edits: median {statistics.median(took):.0f} ms, 95 % below {late:.0f} ms, "
          f"answers of {statistics.median(sizes):.0f} kB")  # fmt: skip


if __name__ == "__main__":
    main()
