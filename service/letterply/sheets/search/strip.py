"""A tighter layout of one sheet, searched for with a limit on the clock.

The one exception in the engine from "same input, same output": the search stops when its time is
up, so what it finds depends on the load of the machine. Whoever needs a repeatable answer stores
the placements.

The search runs in a process of its own (`strip_process`), started as a plain program and not as a
`multiprocessing` child, for the caller may be a daemonic worker, which must not have any. It may
panic, overrun or be killed: the answer is then None, and the caller keeps what it has.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely import Polygon
from shapely.affinity import affine_transform

from letterply.sheets.layouts.bottom_left import Filled, Piece
from letterply.stacks import rigid

__all__ = ["search_strip"]

_SIMPLIFY_MM = 0.2
"""Half the corners of 0.05, so that 100 letters are ready in 2 s, for 0.3 mm more between parts."""
_SLACK_MM = 0.01
"""A piece exactly as high as the strip makes the search panic, and its numbers are float32."""

_PATIENCE_S = 45
"""Past its budget and this, a search is killed: it should have given its best long before."""
_PROGRAM = Path(__file__).with_name("strip_process.py")


def search_strip(
    pieces: Sequence[Piece],
    usable_mm: tuple[float, float],
    spacing_mm: float,
    *,
    seconds: int,
    seed: int,
) -> list[Filled] | None:
    """Return the pieces that a searched strip leaves on the sheet, or None if it found nothing.

    The strip may come out longer than the sheet; pieces that reach beyond it are left out.
    Nothing here is certain: the caller measures the spacing on the true outlines.

    Args:
        pieces: what to lay; their holes count as solid.
        usable_mm: width and height of the usable area, whose lower left corner is the origin.
        spacing_mm: least distance between pieces.
        seconds: budget of the search, at least 1; a large sheet may take some seconds more.
        seed: seed of the search.

    """
    width, height = usable_mm
    # The search sees simplified outlines; the true ones may reach a little over the edge.
    inner = height - 2 * _SIMPLIFY_MM
    # Simplifying may move an outline outward by its tolerance, on both sides of a gap.
    separation = spacing_mm + 2 * _SIMPLIFY_MM + _SLACK_MM
    items = []
    for piece in pieces:
        turns = _turns_within(piece, inner - 2 * _SLACK_MM)
        shape = _plain(piece.outline)
        if not turns or shape is None:
            return None
        items.append({"id": str(piece.index), "shape": shape, "turns": turns})
    if not items:
        return None
    job = {
        "height": inner + 2 * separation,  # the search keeps its separation from the edges too
        "separation": separation,
        "seconds": max(1, seconds),
        "seed": seed,
        "items": items,
    }
    answer = _run(job)
    if answer is None:
        return None
    return _read(answer, pieces, width, height)


def _turns_within(piece: Piece, height_mm: float) -> list[float]:
    """Return the turns at which a piece is lower than the strip."""
    found = []
    for turn in piece.turns_deg:
        _, low, _, high = affine_transform(piece.outline, rigid(turn, 0.0, 0.0)).bounds
        if high - low < height_mm:
            found.append(float(turn))
    return found


def _plain(outline: Polygon) -> list[list[float]] | None:
    """Return a simple ring near the outline, or None: a ring that crosses itself panics."""
    coarse = Polygon(outline.exterior).simplify(_SIMPLIFY_MM)
    if not isinstance(coarse, Polygon) or coarse.is_empty or not coarse.is_valid:
        return None
    points: list[list[float]] = shapely.get_coordinates(coarse.exterior)[:-1].tolist()
    return points if len(points) >= 3 else None


def _run(job: dict[str, Any], program: Path = _PROGRAM) -> dict[str, Any] | None:
    """Return the child's answer, or None if it crashed, hung or said nothing sensible."""
    limit = job["seconds"] + _PATIENCE_S
    try:
        # -P: modules beside the program must not hide those that it imports.
        done = subprocess.run(
            [sys.executable, "-P", str(program)],
            input=json.dumps(job).encode(),
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=limit,
            check=True,
        )
        answer = json.loads(done.stdout)
    except (OSError, subprocess.SubprocessError, ValueError):
        return None
    return answer if isinstance(answer, dict) else None


def _read(
    answer: dict[str, Any], pieces: Sequence[Piece], width_mm: float, height_mm: float
) -> list[Filled] | None:
    """Return the places that lie on the sheet, moved into its lower left corner."""
    by_id = {str(piece.index): piece for piece in pieces}
    found: list[tuple[Filled, tuple[float, float, float, float]]] = []
    try:
        for name, turn, x, y in answer["placed"]:
            piece = by_id.pop(name)
            # The answer's turn is a float32, perhaps a whole turn off: take the allowed one.
            exact = min(piece.turns_deg, key=lambda t: abs((t - turn + 180) % 360 - 180))
            moved = affine_transform(piece.outline, rigid(exact, x, y))
            found.append((Filled(piece.index, exact, x, y), moved.bounds))
    except (KeyError, TypeError, ValueError):
        return None
    if not found:
        return None
    boxes = np.array([box for _, box in found])
    left, low = boxes[:, 0].min(), boxes[:, 1].min()
    kept = []
    for laid, box in found:
        if box[2] - left <= width_mm and box[3] - low <= height_mm:
            kept.append(Filled(laid.index, laid.turn_deg, laid.x_mm - left, laid.y_mm - low))
    return kept
