"""Compiles what is compiled, so that nobody's first answer waits for it.

Run once after installation: `python -m letterply.jobs.warm`. The kernels are kept beside their
modules, or where `NUMBA_CACHE_DIR` says; plans, proofs and layouts load them from there. A worker
plans a smaller sign before it takes work: its first plan is then as quick as others.
"""

from __future__ import annotations

import time
from typing import Any

from letterply.jobs.previews import make_preview
from letterply.jobs.resources import Resources
from letterply.jobs.run import run_job

__all__ = ["warm", "warm_previews", "warm_worker"]

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
_SMALL: dict[str, Any] = {
    "title": "Warming up",
    "lettering": {"font": "oswald", "size": {"cap_height": 8}, "text": "Il"},
    "layers": [
        {
            "name": "board",
            "material": "mdf",
            "thickness": 6,
            "outline": {"kind": "plate", "margin": 6},
            "features": [{"kind": "groove_lettering"}],
        },
        {
            "name": "face",
            "material": "mdf",
            "thickness": 3,
            "outline": {"kind": "lettering", "grow": 2, "join": True},
        },
    ],
    "align": {"kind": "placement_lines"},
}


def warm() -> None:
    """Make a small plan that uses every kernel."""
    run_job("plan", {"recipe": _SIGN}, Resources())


def warm_worker() -> None:
    """Make a plan that loads most of what plans need."""
    run_job("plan", {"recipe": _SMALL}, Resources())


def warm_previews() -> None:
    """Make a small preview."""
    make_preview(_SMALL, Resources())


if __name__ == "__main__":
    began = time.monotonic()
    warm()
    print(f"letterply is ready ({time.monotonic() - began:.0f} s)")
