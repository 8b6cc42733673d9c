"""Segments of moves, and what of them lies below a height."""

from __future__ import annotations

import math

import numpy as np
import pytest

from letterply.proof.reading.interpreter import read_program
from letterply.proof.reading.moves import Segments, clip_below, segments_of

HELIX = "G21 G90 F600\nG0 Z0\nG0 X10 Y0\nG3 X10 Y0 I-10 J0 Z-4\nG1 X0 Y0\nM30"


def test_segments_follow_each_other_and_end_where_the_moves_do() -> None:
    moves = read_program(HELIX).moves
    segments = segments_of(moves, sagitta_mm=0.002)
    known = np.isfinite(segments.starts).all(axis=1)
    assert np.array_equal(segments.starts[1:][known[1:]], segments.ends[:-1][known[1:]])
    for move in range(len(moves)):
        last = np.flatnonzero(segments.moves == move)[-1]
        assert np.array_equal(segments.ends[last], moves.ends[move], equal_nan=True)


def test_chords_of_a_helix_lie_on_it_and_add_up_to_its_length() -> None:
    moves = read_program(HELIX).moves
    segments = segments_of(moves, sagitta_mm=0.002)
    arc = segments.take(segments.moves == 2)
    assert np.hypot(arc.ends[:, 0], arc.ends[:, 1]) == pytest.approx(10)
    turn = np.unwrap(np.arctan2(arc.ends[:-1, 1], arc.ends[:-1, 0]))
    assert arc.ends[:-1, 2] == pytest.approx(-4 * (turn % (2 * math.pi)) / (2 * math.pi))
    middles = (arc.starts + arc.ends)[:, :2] / 2
    assert 10 - np.hypot(middles[:, 0], middles[:, 1]).min() <= 0.002
    length = np.linalg.norm(arc.ends - arc.starts, axis=1).sum()
    assert length == pytest.approx(moves.lengths_mm[2], rel=2e-4)


def segments(*pieces: tuple[tuple[float, ...], tuple[float, ...]]) -> Segments:
    starts = np.array([a for a, _ in pieces], dtype=float)
    ends = np.array([b for _, b in pieces], dtype=float)
    return Segments(starts, ends, np.arange(len(pieces)))


def test_only_what_lies_below_a_height_is_kept() -> None:
    found = clip_below(
        segments(
            ((0, 0, 1), (4, 0, -3)),  # comes down half way
            ((4, 0, -3), (8, 0, 1)),  # and goes up
            ((8, 0, 1), (9, 0, 2)),  # stays above
            ((9, 0, 0), (9, 0, -5)),  # straight down
            ((9, 0, -5), (9, 9, -5)),  # stays below
            ((math.nan, 0, -5), (1, 0, math.nan)),  # nobody knows
        ),
        -1,
    )
    assert found.moves.tolist() == [0, 1, 3, 4]
    assert found.starts.tolist() == [[2, 0, -1], [4, 0, -3], [9, 0, -1], [9, 0, -5]]
    assert found.ends.tolist() == [[4, 0, -3], [6, 0, -1], [9, 0, -5], [9, 9, -5]]


def test_nothing_gives_nothing() -> None:
    empty = read_program("").moves
    found = segments_of(empty, sagitta_mm=0.002)
    assert len(found) == 0
    assert len(clip_below(found, 0)) == 0
