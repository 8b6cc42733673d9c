"""A proof and its plan in, a film of the cutting out: to be played, not to be cut from.

A film is four bytes, the length of its head (unsigned, least byte first), the head as JSON in
UTF-8, padded with spaces to a multiple of four, and four columns of as many numbers as the head's
`count` says (float32, least byte first): x, y and z of where the cutter comes to, mm in the sheet's
frame, and when, in s from the start. The moves are those that the proof read from the programs;
their times are the plan's, which knows how fast a machine gathers speed.
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np
from numpy.typing import NDArray

from letterply.cutting import CutPlan
from letterply.exports.primitives.numbers import rounded
from letterply.names import ascii_mark
from letterply.proof import Motion, SheetProof

__all__ = ["film"]

_HIGHEST_MM = 40.0
"""Where a cutter is shown that has gone up as far as the machine goes."""

_SHAPES = ("flat", "ball", "cone")


def film(proof: SheetProof, plan: CutPlan) -> bytes:
    """Return the film of a sheet; without moves when its proof tells none."""
    motion = proof.motion or Motion.none()
    stock = plan.sheet.stock
    times, changes = _times(motion, plan)
    points = motion.points.copy()
    points[:, 2] = np.minimum(points[:, 2], _HIGHEST_MM)
    head = {
        "sheet": proof.sheet_number,
        "material": stock.material,
        "thickness_mm": stock.thickness_mm,
        "stock_mm": [stock.width_mm, stock.height_mm],
        "box_mm": [rounded(v) for v in proof.carved.bounds],
        "total_s": float(times[-1]) if len(times) else 0.0,
        "count": len(points),
        "cutters": _cutters(motion, plan),
        "chapters": _chapters(motion, plan, changes),
    }
    told = json.dumps(head, ensure_ascii=False, separators=(",", ":")).encode()
    told += b" " * (-len(told) % 4)
    columns = np.concatenate([points.T.ravel(), times]).astype("<f4")
    return len(told).to_bytes(4, "little") + told + columns.tobytes()


def _times(motion: Motion, plan: CutPlan) -> tuple[NDArray[np.float64], list[float]]:
    """Return when the cutter comes to each place, s, and when the cutter of each program is put in.

    Within a program the plan's time is shared out as the reading's least times are.
    """
    found = np.zeros(len(motion.points))
    changes: list[float] = []
    at = 0.0
    for number, program in enumerate(plan.programs):
        mine = motion.programs == number
        changes.append(at)
        at += program.time.changes_s
        least = np.cumsum(motion.seconds[mine], dtype=np.float64)
        if len(least):
            moving = program.time.total_s - program.time.changes_s
            found[mine] = at + least * (moving / least[-1] if least[-1] else 0.0)
            at = float(found[mine][-1])
    return found, changes


def _cutters(motion: Motion, plan: CutPlan) -> list[dict[str, Any]]:
    return [
        {
            "key": key,
            "name": plan.names.get(key, key),
            "shape": _SHAPES[shape],
            "radius_mm": radius,
            "tip_mm": tip,
            "rise": rise,
        }
        for key, shape, radius, tip, rise in motion.profiles
    ]


def _chapters(motion: Motion, plan: CutPlan, changes: list[float]) -> list[dict[str, Any]]:
    """Return where each operation begins among the places, as the remarks of the programs say."""
    marks = {f"{o.kind}: {ascii_mark(o.mark)}": o.mark for o in plan.operations}
    kinds = {str(o.kind) for o in plan.operations}
    found: list[dict[str, Any]] = []
    for number, line, text in motion.remarks:
        kind, _, mark = text.partition(": ")
        after = np.flatnonzero((motion.programs == number) & (motion.lines > line))
        if kind not in kinds or not len(after):
            continue
        first = int(after[0])
        chapter = {
            "from": first,
            "program": plan.programs[number].name if number < len(plan.programs) else "",
            "change_s": changes[number] if number < len(changes) else 0.0,
            "cutter": int(motion.cutters[first]),
            "kind": kind,
            "mark": marks.get(text, mark),
        }
        if found and found[-1]["from"] == first:
            found.pop()
        same = found and all(found[-1][k] == chapter[k] for k in ("program", "kind", "mark"))
        if not same:
            found.append(chapter)
    return found
