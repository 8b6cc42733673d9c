"""Choice of cutters for outlines: the largest that loses no detail, or a pair that is quicker."""

from __future__ import annotations

import dataclasses
import math

import pytest
import shapely
from shapely import box

from cutting.hand_made import corner_piece, disc, flat
from letterply.cutting.profile.cutter_choice import DETAIL_MM, choose_profile_cutters
from letterply.shapes.tolerances import DEFAULT_TOLERANCES as TOLERANCES

DEPTH = 3.2
ONE, THREE, SIX = flat(1.0), flat(3.0), flat(6.0)


@pytest.fixture
def choose(catalogue):
    def choose(outlines, cutters, *, counts=None, **changes):
        machine = dataclasses.replace(catalogue.machines["bench-router"], **changes)
        return choose_profile_cutters(
            outlines,
            counts or [1] * len(outlines),
            cutters,
            catalogue.materials["mdf"],
            machine,
            DEPTH,
            TOLERANCES,
        )

    return choose


def test_without_inside_corners_the_largest_cutter_cuts_everything(choose):
    choice = choose([box(0, 0, 60, 40), disc(100, 20, 20)], (ONE, THREE, SIX))
    assert choice.main is SIX
    assert choice.detail is None
    assert choice.lefts == {}


def test_an_inside_corner_is_cut_again_by_the_largest_cutter_that_loses_nothing_seen(choose):
    """Left in a square corner: r (sqrt 2 - 1): 1.243 for 6 mm, 0.621 for 3 mm, 0.207 for 1 mm."""
    choice = choose([corner_piece()], (ONE, flat(1.1), THREE, SIX), counts=[6])
    assert choice.main is SIX
    # 1.1 mm leaves 0.228 mm, 1.3 mm would leave 0.269 mm: more than is overlooked.
    assert choice.detail.diameter_mm == 1.1
    assert 0.55 * (math.sqrt(2) - 1) < DETAIL_MM < 0.65 * (math.sqrt(2) - 1)
    assert list(choice.lefts) == [0]
    left = choice.lefts[0]
    assert left.distance(shapely.Point(12, 12)) < 0.02
    # (1 - pi/4) r² is left of a square corner: 1.931 mm² at r = 3.
    assert left.area == pytest.approx((1 - math.pi / 4) * 9, rel=0.03)
    for _, _, depth in choice.compared:
        assert depth == pytest.approx(0.55 * (math.sqrt(2) - 1), abs=0.012)


def test_a_pair_is_taken_only_when_it_saves_time(choose):
    """With a cutter change of 20 minutes the small cutter alone is quicker."""
    rack = (ONE, SIX)
    quick = choose([corner_piece()], rack, counts=[3], tool_change_s=10.0)
    slow = choose([corner_piece()], rack, counts=[3], tool_change_s=1200.0)
    assert (quick.main, quick.detail) == (SIX, ONE)
    assert (slow.main, slow.detail) == (ONE, None)
    times = {name: time for name, time, _ in quick.compared}
    assert times["f6 + f1"] < times["f1"]
    times = {name: time for name, time, _ in slow.compared}
    assert times["f6 + f1"] > times["f1"]
    # What even the small cutter leaves is told, where it is near what is seen.
    assert all(area.area < 0.1 for area in slow.lefts.values())


def test_more_copies_make_the_pair_worth_its_change(choose):
    few = choose([corner_piece()], (ONE, SIX), counts=[1], tool_change_s=400.0)
    many = choose([corner_piece()], (ONE, SIX), counts=[40], tool_change_s=400.0)
    assert few.detail is None
    assert (many.main, many.detail) == (SIX, ONE)


def test_a_counter_that_a_cutter_does_not_enter_counts_as_lost(choose):
    """A 2 mm hole is closed to 3 mm: its middle lies 1 mm and more from what is reached."""
    pierced = box(0, 0, 40, 40).difference(disc(20, 20, 1.0))
    choice = choose([pierced], (ONE, THREE, SIX), counts=[20])
    assert choice.detail is ONE
    assert choice.main is SIX
    assert choice.lefts[0].contains(shapely.Point(20, 20))
    assert choice.lefts[0].area == pytest.approx(math.pi, rel=0.01)
    alone = choose([pierced], (THREE,))
    assert (alone.main, alone.detail) == (THREE, None)
    assert alone.lefts[0].contains(shapely.Point(20, 20))


def test_a_single_cutter_is_taken_whatever_it_leaves(choose):
    choice = choose([corner_piece()], (SIX,))
    assert (choice.main, choice.detail) == (SIX, None)
    assert [name for name, _, _ in choice.compared] == ["f6"]
    assert "1.2" in choice.reason


def test_with_none_that_loses_nothing_the_smallest_is_the_finest(choose):
    choice = choose([corner_piece()], (THREE, SIX), tool_change_s=1e6)
    assert (choice.main, choice.detail) == (THREE, None)


def test_no_cutter_or_nothing_to_cut_is_no_choice(choose):
    assert choose([corner_piece()], ()) is None
    assert choose([], (ONE,)) is None


def test_the_same_outlines_give_the_same_choice(choose):
    one, two = (choose([corner_piece(), disc(60, 0, 9)], (ONE, THREE, SIX)) for _ in range(2))
    assert one.compared == two.compared
    assert one.reason == two.reason
    assert {k: v.wkb for k, v in one.lefts.items()} == {k: v.wkb for k, v in two.lefts.items()}
