"""Our order of work against a general routing library, on one sheet."""

from __future__ import annotations

import math

from bench.sequence import compare, contours, greedy, length, ours


def test_the_library_with_thirty_times_the_time_is_no_shorter() -> None:
    """`python tests/bench/sequence.py` compares twenty sheets; free entries save a tenth more."""
    one = compare(1)
    assert math.isfinite(one.theirs_mm)
    assert one.ours_mm <= one.theirs_mm
    assert one.free_mm < 0.9 * one.ours_mm


def test_the_order_keeps_holes_before_outlines_and_beats_the_nearest_next() -> None:
    sheet = contours(3)
    order = ours(sheet)
    assert sorted(order) == list(range(200))
    place = {k: n for n, k in enumerate(order)}
    for k in range(200):
        (last,) = [j for j in range(200) if sheet.outline[j] and sheet.part[j] == sheet.part[k]]
        assert place[k] <= place[last]
    assert length(sheet.points, order) < 0.9 * length(sheet.points, greedy(sheet))
