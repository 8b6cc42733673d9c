"""Choice of cutters for outlines: the quickest set that leaves no corner deeper than the detail."""

from __future__ import annotations

import dataclasses
import math

import pytest
import shapely
from shapely import box

from cutting.hand_made import corner_piece, disc, flat
from letterply.cutting.choice.reach import Space, Tool
from letterply.cutting.face.floors import Floor
from letterply.cutting.feeds import choose_feeds
from letterply.cutting.profile.cutter_choice import Outline, choose_profile_cutters, opened_by
from letterply.cutting.profile.rings import rings_of
from letterply.shapes import as_region
from letterply.shapes.tolerances import DEFAULT_TOLERANCES as TOLERANCES

DEPTH = 3.2
ONE, THREE, SIX = flat(1.0), flat(3.0), flat(6.0)


@pytest.fixture
def choose(catalogue):
    def choose(outlines, cutters, *, counts=None, detail=0.25, nested=(), **changes):
        machine = dataclasses.replace(catalogue.machines["bench-router"], **changes)
        material = catalogue.materials["mdf"]
        tools = [
            Tool(
                c,
                choose_feeds(c, material, machine, depth_mm=DEPTH),
                choose_feeds(c, material, machine, depth_mm=DEPTH, corners=True),
            )
            for c in cutters
        ]
        counts = counts or [1] * len(outlines)
        named = [
            Outline(f"board.P{k}", o, n, detail)
            for k, (o, n) in enumerate(zip(outlines, counts, strict=True))
        ]
        return choose_profile_cutters(named, tools, machine, DEPTH, TOLERANCES, nested)

    return choose


def chosen(choice):
    (one,) = [s for s in choice.sets if s.chosen]
    return one


def outside(choice, number=0):
    """Return the cutters of an outline by the quickest way, the one that goes round first."""
    chain = choice.outlines[number][0].outside
    return [chain.main, *(c for c, _ in chain.rests)]


@pytest.mark.parametrize("detail", [0.1, 0.25, 0.6])
def test_what_is_missed_is_bounded_by_where_cutters_go_as_overlays_tell(
    choose, monkeypatch, detail
):
    """Overlays alone, with nothing bounded before, choose the same chains for corners and combs."""
    comb = shapely.union_all([box(0, 0, 60, 8), *(box(x, 8, x + 4, 25) for x in (0, 7, 15, 24))])
    rack = (ONE, flat(1.5), THREE, SIX)
    bounded = choose([corner_piece(), comb], rack, detail=detail)
    asked = []
    monkeypatch.setattr(Space, "_most_behind", lambda *args: asked.append(args) or math.inf)
    overlaid = choose([corner_piece(), comb], rack, detail=detail)
    assert asked
    for number in range(2):
        assert outside(bounded, number) == outside(overlaid, number)
    assert chosen(bounded).cutters == chosen(overlaid).cutters
    assert chosen(bounded).left_area_mm2 == chosen(overlaid).left_area_mm2


def test_without_inside_corners_the_largest_cutter_cuts_everything(choose):
    choice = choose([box(0, 0, 60, 40), disc(100, 20, 20)], (ONE, THREE, SIX))
    assert outside(choice) == outside(choice, 1) == [SIX]
    assert chosen(choice).cutters == ("f6",)
    assert chosen(choice).left_area_mm2 == 0


def test_an_inside_corner_is_cut_first_by_a_cutter_that_makes_it_sharp_enough(choose):
    """Left in a square corner: r (sqrt 2 - 1): 1.243 for 6 mm, 0.621 for 3 mm, 0.228 for 1.1 mm."""
    choice = choose([corner_piece()], (ONE, flat(1.1), THREE, SIX), counts=[6])
    main, *smaller = outside(choice)
    assert main is SIX
    # 1.1 mm leaves 0.228 mm, 1.3 mm would leave 0.269 mm: more than is overlooked.
    assert smaller[-1].diameter_mm == 1.1
    assert 0.55 * (math.sqrt(2) - 1) < 0.25 < 0.65 * (math.sqrt(2) - 1)
    (_, rest), *_ = choice.outlines[0][0].outside.rests
    assert rest.distance(shapely.Point(12, 12)) < 0.5
    # All that 6 mm leaves of a square corner is (1 - pi/4) r²: 1.931 mm² at r = 3.
    assert 0.02 < rest.area < (1 - math.pi / 4) * 9
    assert chosen(choice).left_round_mm <= 0.25


@pytest.mark.parametrize(("detail", "finest"), [(0.25, 1.0), (0.7, 3.0), (1.3, 6.0)])
def test_the_detail_says_how_small_a_cutter_is_wanted(choose, detail, finest):
    """What stays of a square corner: 0.207 mm with 1 mm, 0.621 mm with 3 mm, 1.243 mm with 6 mm."""
    choice = choose([corner_piece()], (ONE, THREE, SIX), counts=[20], detail=detail)
    assert outside(choice)[-1].diameter_mm == finest
    assert chosen(choice).left_round_mm <= detail


def test_a_set_is_taken_only_when_it_saves_time(choose):
    """With a cutter change of 20 minutes the small cutter alone is quicker."""
    rack = (ONE, SIX)
    quick = choose([corner_piece()], rack, counts=[3], tool_change_s=10.0)
    slow = choose([corner_piece()], rack, counts=[3], tool_change_s=1200.0)
    assert outside(quick) == [SIX, ONE]
    assert outside(slow) == [ONE]
    for choice, pays in ((quick, True), (slow, False)):
        times = {s.cutters: s.time_s for s in choice.sets}
        alone = times["f1",]
        assert (min(times.get(("f6", "f1"), math.inf), alone) < alone) is pays


def test_more_copies_make_a_set_worth_its_changes(choose):
    few = choose([corner_piece()], (ONE, SIX), counts=[1], tool_change_s=400.0)
    many = choose([corner_piece()], (ONE, SIX), counts=[40], tool_change_s=400.0)
    assert outside(few) == [ONE]
    assert outside(many) == [SIX, ONE]


def test_three_cutters_share_an_outline_where_that_pays(choose):
    """Gaps for 3 mm in a large plate, with corners for 1 mm: the largest goes round it."""
    gaps = [box(x, 270, x + 3.4, 300) for x in (100, 200, 300)]
    plate = box(0, 0, 400, 300).difference(shapely.union_all(gaps))
    choice = choose([plate], (ONE, THREE, SIX), counts=[30], detail=0.22)
    assert chosen(choice).cutters == ("f6", "f3", "f1")
    times = {s.cutters: s.time_s for s in choice.sets}
    assert chosen(choice).time_s < times["f1",]


def test_an_outline_that_is_mostly_corners_is_not_freed_before_its_last_cut(choose):
    """Narrow gaps all along: by the cutter that goes into them, since little else would hold it."""
    gaps = [box(x, 4, x + 2, 40) for x in range(3, 55, 5)]
    comb = box(0, 0, 60, 40).difference(shapely.union_all(gaps))
    choice = choose([comb], (ONE, SIX), counts=[30], tool_change_s=1.0)
    assert outside(choice) == [ONE]


def test_a_counter_that_a_cutter_does_not_enter_has_one_of_its_own(choose):
    """A 2 mm hole is closed to 3 mm: its middle lies 1 mm and more from what is reached."""
    pierced = box(0, 0, 40, 40).difference(disc(20, 20, 1.0))
    choice = choose([pierced], (ONE, THREE, SIX), counts=[20])
    (way, *_) = choice.outlines[0]
    assert way.outside.main is SIX
    assert way.holes[0].main is ONE
    alone = choose([pierced], (THREE,))
    assert alone.outlines[0][0].holes == (None,)
    assert chosen(alone).left_area_mm2 == pytest.approx(math.pi, rel=0.01)
    assert chosen(alone).where[0] == "board.P0"


def test_no_hole_is_cut_by_a_larger_cutter_than_the_outline(choose):
    """The small cutter that goes round comes first: a hole after it would be in a loose part."""
    gaps = [box(x, 4, x + 2, 20) for x in range(3, 55, 5)]
    comb = box(0, 0, 60, 60).difference(shapely.union_all([*gaps, box(10, 30, 50, 55)]))
    choice = choose([comb], (ONE, SIX), counts=[30], tool_change_s=1.0)
    for way in choice.outlines[0]:
        assert way.holes[-1].main.diameter_mm <= way.outside.main.diameter_mm


def test_what_lies_in_a_counter_is_cut_by_no_larger_cutter_than_the_counter(choose):
    gaps = [box(x, 10, x + 2, 18) for x in range(12, 46, 3)]
    counter = box(10, 10, 50, 50).difference(shapely.union_all(gaps))
    frame = box(0, 0, 60, 60).difference(counter)
    nested = box(20, 25, 40, 45)
    free = choose([frame, nested], (ONE, SIX), counts=[30, 30], tool_change_s=1.0)
    bound = choose(
        [frame, nested], (ONE, SIX), counts=[30, 30], tool_change_s=1.0,
        nested=[("board.P1", "board.P0")],
    )  # fmt: skip
    assert outside(free, 1) == [SIX]
    for way in bound.outlines[0]:
        mains = [h.main.diameter_mm for h in way.holes if h is not None]
        assert outside(bound, 1)[0].diameter_mm <= min(mains)


def test_no_tab_stands_where_smaller_cutters_go_through(choose):
    choice = choose([corner_piece()], (ONE, SIX), counts=[9])
    opened = opened_by(choice.outlines[0][0].outside)
    assert opened.covers(shapely.Point(12.6, 12.6))
    assert not opened.intersects(shapely.Point(30, 12))


def test_a_single_cutter_is_taken_whatever_it_leaves(choose):
    choice = choose([corner_piece()], (SIX,))
    assert outside(choice) == [SIX]
    assert [s.cutters for s in choice.sets] == [("f6",)]
    assert chosen(choice).left_round_mm == pytest.approx(3 * (math.sqrt(2) - 1), abs=0.03)
    assert chosen(choice).left_area_mm2 == pytest.approx((1 - math.pi / 4) * 9, rel=0.03)
    assert "1.3 mm" in choice.reason  # with the tolerance that paths keep away


def test_sets_are_told_with_what_they_leave(choose):
    choice = choose([corner_piece()], (ONE, THREE, SIX), counts=[20])
    told = {s.cutters: s for s in choice.sets}
    for cutter in (ONE, THREE, SIX):
        alone = told[(cutter.key,)]
        round_mm = cutter.radius_mm * (math.sqrt(2) - 1)
        assert alone.left_round_mm == pytest.approx(round_mm, abs=0.03)
        part, x, y = alone.where
        assert part == "board.P0"
        assert math.dist((x, y), (12, 12)) < cutter.radius_mm
    times = [s.time_s for s in choice.sets]
    assert times == sorted(times)


def test_a_large_rack_is_compared_by_a_few_of_its_sizes(choose):
    rack = tuple(flat(1 + k / 10) for k in range(60))
    choice = choose([corner_piece()], rack, counts=[9])
    assert chosen(choice).left_round_mm <= 0.25


def test_no_cutter_or_nothing_to_cut_is_no_choice(choose):
    assert choose([corner_piece()], ()) is None
    assert choose([], (ONE,)) is None


def test_the_same_outlines_give_the_same_choice(choose):
    one, two = (choose([corner_piece(), disc(60, 0, 9)], (ONE, THREE, SIX)) for _ in range(2))
    assert one.reason == two.reason
    assert [(s.cutters, s.time_s, s.where) for s in one.sets] == [
        (s.cutters, s.time_s, s.where) for s in two.sets
    ]


def test_where_a_cutter_only_just_fits_a_smaller_one_goes(catalogue):
    """A slot 2.9 mm wide ends in a round place in which a 3 mm cutter would hardly move."""
    spot = shapely.Point(0, 0).buffer(1.5 + TOLERANCES.path_clearance_mm + 0.01, quad_segs=64)
    slot = shapely.union(spot, box(-1.45, 0, 1.45, 40))
    board = box(-20, -20, 20, 30).difference(slot)
    material, machine = catalogue.material("birch-plywood"), catalogue.machine("bench-router")
    feeds = choose_feeds(THREE, material, machine, depth_mm=DEPTH)
    tools = [Tool(c, feeds, feeds) for c in (ONE, THREE)]
    ring, *_ = rings_of(board, 0.25, tools, DEPTH, TOLERANCES)
    assert ring.reach(1).left.contains(shapely.Point(0, 0))
    assert ring.rest(0, 1).contains(shapely.Point(0, 0))
    assert ring.missed_mm((1,), 0) > 1
    assert ring.keeps_detail((1, 0), 0)


@pytest.fixture
def tools(catalogue):
    material, machine = catalogue.material("birch-plywood"), catalogue.machine("bench-router")
    feeds = choose_feeds(THREE, material, machine, depth_mm=DEPTH)
    return [Tool(c, feeds, feeds) for c in (ONE, THREE, SIX)]


@pytest.mark.parametrize("detail", [0.05, 0.25, 1.0])
def test_whether_detail_is_kept_does_not_depend_on_what_was_asked_before(tools, detail):
    def ring():
        return rings_of(corner_piece(), detail, tools, DEPTH, TOLERANCES)[0]

    asked = ring()
    for chain in ((2,), (1,), (2, 1), (2, 1, 0)):
        for finest in (0, 1):
            kept = asked.keeps_detail(chain, finest)
            assert kept == ring().keeps_detail(chain, finest), (chain, finest)


def test_a_piece_of_a_floor_smaller_than_the_detail_is_missed_where_nothing_cuts_it(tools):
    region = as_region(shapely.union(box(0, 0, 40, 40), box(50, 0, 51.4, 1.4)))
    floor = Floor(region, 2.0, tools, DEPTH, TOLERANCES, deep=(True, True, True))
    assert floor.missed_mm((1,), 0) > 9
    assert not floor.keeps_detail((1,), 0)
    assert floor.keeps_detail((0,), 0)
