"""A toolpath in, what can be played of it out: pieces, their times, and remarks beside them.

Remarks of a program are told as they stand; nothing is judged by them.
"""

from __future__ import annotations

import re

import numpy as np

from letterply.catalogue import Machine
from letterply.proof.model import Motion
from letterply.proof.reading.moves import segments_of
from letterply.proof.reading.programs import move_seconds
from letterply.proof.reading.toolpath import Toolpath, known_moves

__all__ = ["motion_of"]

_SAGITTA_MM = 0.1
"""Of the chords: less than a pixel of the picture that they are played on."""

_REMARK = re.compile(r"^[ \t]*(?:\(([^()\n]*)\)|; ?([^\n]*?))[ \t]*\r?$", re.MULTILINE)


def motion_of(toolpath: Toolpath, machine: Machine) -> Motion:
    """Return the motion of all programs of a sheet, in its frame."""
    kept, moves = known_moves(toolpath)
    pieces = segments_of(moves, sagitta_mm=_SAGITTA_MM)
    apart = np.ones(len(pieces), dtype=np.bool_)
    apart[1:] = (pieces.starts[1:] != pieces.ends[:-1]).any(axis=1)
    piece = np.repeat(np.arange(len(pieces)), 1 + apart)
    begins = np.zeros(len(piece), dtype=np.bool_)
    begins[np.flatnonzero(apart) + np.arange(np.count_nonzero(apart))] = True
    move = kept[pieces.moves]
    seconds = move_seconds(toolpath, machine)[move]
    seconds /= np.bincount(move, minlength=len(toolpath.moves))[move]
    places = np.where(begins[:, None], pieces.starts[piece], pieces.ends[piece])
    return Motion(
        points=places.astype(np.float32),
        seconds=np.where(begins, 0.0, seconds[piece]).astype(np.float32),
        programs=toolpath.program[move][piece].astype(np.int16),
        cutters=toolpath.cutter[move][piece].astype(np.int16),
        lines=toolpath.moves.lines[move][piece].astype(np.int32),
        profiles=tuple(
            (c.key, p.shape, p.radius_mm, p.tip_mm, p.rise)
            for c, p in zip(toolpath.cutters, toolpath.profiles, strict=True)
        ),
        remarks=tuple(
            (number, source.text.count("\n", 0, found.start()) + 1, found[1] or found[2] or "")
            for number, source in enumerate(toolpath.sources)
            for found in _REMARK.finditer(source.text)
        ),
    )
