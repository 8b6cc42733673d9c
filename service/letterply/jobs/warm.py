"""Compiles what is compiled, so that nobody's first answer waits for it.

Run once after installation: `python -m letterply.jobs.warm`. The kernels are kept beside their
modules, or where `NUMBA_CACHE_DIR` says; plans, proofs and layouts load them from there.
"""

from __future__ import annotations

import time
from typing import Any

from letterply.jobs.resources import Resources
from letterply.jobs.run import run_job

__all__ = ["warm"]

_WORDS = {"font": "varela-round", "size": {"cap_height": 12}}
_SIGN: dict[str, Any] = {
    "title": "Warming up",
    "lettering": {**_WORDS, "text": "ODB"},
    "layers": [
        {
            "name": "board",
            "material": "mdf",
            "thickness": 6,
            "outline": {"kind": "plate", "shape": "rounded", "margin": 10, "corner": 4},
            "features": [
                {"kind": "holes", "diameter": 3, "at": "top-corners", "inset": 4},
                {"kind": "recess", "of": "face", "depth": 1},
                {"kind": "groove_lettering", "lettering": {**_WORDS, "text": "O"}},
                {"kind": "scribe_lettering", "lettering": {**_WORDS, "text": "D"}},
            ],
        },
        {
            "name": "face",
            "material": "acrylic-cast",
            "thickness": 3,
            "outline": {"kind": "lettering", "grow": 0.5},
        },
    ],
    "copies": 3,
}


def warm() -> None:
    """Make a small plan that uses every kernel."""
    run_job("plan", {"recipe": _SIGN}, Resources())


if __name__ == "__main__":
    began = time.monotonic()
    warm()
    print(f"letterply is ready ({time.monotonic() - began:.0f} s)")
