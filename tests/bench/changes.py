"""What a change costs: processor time of an answer after the one before, over that of the first.

    .venv/bin/python tests/bench/changes.py

The demo's sign is planned, checked and stacked; then once more with one thing changed: another
size, thickness, machine, growth or title. Each pair begins with nothing remembered but fonts, which
a worker keeps. Answers after a change are compared, byte for byte, with those of nothing
remembered.
"""

from __future__ import annotations

import json
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from letterply.jobs import Resources
from letterply.jobs.run import run_job
from letterply.lettering.setting import glyphs
from letterply.stacks.outlines import lettering
from letterply.storage import Finished

Request = dict[str, Any]

SIGN = json.loads(
    (Path(__file__).parents[2] / "deploy/recipes/avocet-rack-sign.json").read_text("utf-8")
)


def _size(request: Request) -> None:
    request["recipe"]["lettering"]["size"] = {"cap_height": 63.0}


def _thickness(request: Request) -> None:
    request["recipe"]["layers"][0]["thickness"] = 12.0


def _machine(request: Request) -> None:
    request["shop"] = {"machine": "shop-router"}


def _growth(request: Request) -> None:
    (grown,) = [la for la in request["recipe"]["layers"] if la["outline"].get("grow")][:1]
    grown["outline"]["grow"] = 5.0


def _title(request: Request) -> None:
    request["recipe"]["title"] = "Another sign"


CHANGES: dict[str, Callable[[Request], None]] = {
    "size": _size,
    "thickness": _thickness,
    "machine": _machine,
    "growth": _growth,
    "title": _title,
}


def changed(name: str) -> Request:
    """Return the request of the sign with one thing changed."""
    request: Request = {"recipe": json.loads(json.dumps(SIGN))}
    CHANGES[name](request)
    return request


def timed(kind: str, request: Request, folder: str | None) -> tuple[float, Finished]:
    """Return the processor time of an answer, and the answer."""
    began = time.process_time()
    found = run_job(kind, request, Resources(shared_folder=folder))
    return time.process_time() - began, found


def _forget() -> None:
    """Forget what a worker keeps but fonts: lettering and glyphs at their sizes."""
    lettering._kept.clear()
    glyphs._kept.clear()


def main() -> None:
    """Print the ratios."""
    for kind in ("stack", "check", "plan"):
        timed(kind, changed("title"), None)  # kernels and fonts are loaded
        for name in CHANGES:
            _forget()
            with tempfile.TemporaryDirectory() as folder:
                first, _ = timed(kind, {"recipe": SIGN}, folder)
                then, warm = timed(kind, changed(name), folder)
            _forget()
            _, cold = timed(kind, changed(name), None)
            same = "same bytes" if warm.artifacts == cold.artifacts else "OTHER BYTES"
            print(f"{kind:5} another {name:9} {then / first:.2f} of {first:.2f} s, {same}")


if __name__ == "__main__":
    main()
