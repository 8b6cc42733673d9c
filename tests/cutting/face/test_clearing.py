"""Sets of cutters that clear a pocket: what they take and leave, held against their paths."""

from __future__ import annotations

import pytest
import shapely
from shapely import LineString, box

from cutting.hand_made import SHAPES, corner_piece, region, wedge
from cutting.measuring import swept
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.cutting.choice.reach import LIFT_S
from letterply.cutting.context import SheetContext
from letterply.cutting.face.clearing import FloorJob, choose_floor_cutters, clearings
from letterply.shapes.tolerances import DEFAULT_TOLERANCES

DEPTH = 3.0
COMB = region(
    shapely.union_all(
        [box(0, 0, 60, 9), *(LineString([(x, 8), (x, 25)]).buffer(0.9) for x in range(5, 60, 6))]
    )
)
POCKETS = {
    "square": region(SHAPES["square"]),
    "wedge": region(wedge()),
    "corner": region(corner_piece()),
    "comb": COMB,
}


@pytest.fixture(scope="module")
def context():
    catalogue = load_catalogue()
    shop = resolve_shop(None, catalogue)
    material = catalogue.material("sugar-maple")
    return SheetContext(shop, material, 12.0, 0.2, 10.0, DEFAULT_TOLERANCES)


def cleared(context, pocket, *, count=1, detail=0.25):
    """Return what clears a pocket of which there are so many, and what was compared."""
    floor = FloorJob("board", count, pocket, DEPTH, detail)
    (chain,), choice = choose_floor_cutters(context, [floor])
    return ([] if chain is None else clearings(context, pocket, DEPTH, chain)), choice


def time_of(done):
    """Return how long paths take, without slowing down in corners, with a lift after each."""
    return sum(
        60 * path.length_mm / one.feeds.feed_mm_per_min + LIFT_S
        for one in done
        for path in one.paths
    )


@pytest.mark.parametrize("count", [1, 50])
@pytest.mark.parametrize("name", POCKETS)
def test_what_is_told_is_about_what_paths_take(context, name, count):
    """Loops by the trapezoidal rule, against paths: within a quarter and ten seconds a pocket."""
    done, choice = cleared(context, POCKETS[name], count=count)
    (chosen,) = [s for s in choice.sets if s.chosen]
    assert chosen.cutters == tuple(one.cutter.key for one in done)
    changes = len(done) * (context.shop.machine.tool_change_s + context.shop.machine.spin_up_s)
    told = (chosen.time_s - changes) / count
    assert told == pytest.approx(time_of(done), rel=0.25, abs=10)


@pytest.mark.parametrize("name", POCKETS)
def test_largest_first_and_nothing_deeper_than_the_detail(context, name):
    pocket = POCKETS[name]
    done, choice = cleared(context, pocket)
    diameters = [one.cutter.diameter_mm for one in done]
    assert diameters == sorted(diameters, reverse=True)
    swept_by = [
        swept(p, one.cutter.radius_mm + 0.03, at_mm=-DEPTH) for one in done for p in one.paths
    ]
    left = shapely.difference(pocket, shapely.union_all(swept_by))
    finest = min(c.diameter_mm for c in context.flat(DEPTH))
    reached = shapely.buffer(shapely.buffer(pocket, -finest / 2 - 0.02), finest / 2 + 0.02)
    # What the smallest of the rack reaches is cleared but for what lies within the detail.
    deep = shapely.difference(
        shapely.intersection(left, reached), shapely.union_all(swept_by).buffer(0.26)
    )
    assert deep.area < 0.02
    (chosen,) = [s for s in choice.sets if s.chosen]
    assert left.area == pytest.approx(chosen.left_area_mm2, rel=0.2, abs=0.4)


def test_no_set_that_leaves_as_little_is_quicker(context):
    """The comparison holds each cutter alone and the quickest with each for its smallest."""
    _, choice = cleared(context, COMB)
    (chosen,) = [s for s in choice.sets if s.chosen]
    for one in choice.sets:
        if one.left_round_mm <= max(chosen.left_round_mm, 0.25):
            assert one.time_s >= chosen.time_s


def test_a_change_that_many_pockets_share_is_made_sooner(context):
    alone, _ = cleared(context, COMB)
    shared, _ = cleared(context, COMB, count=100)
    assert len(shared) >= len(alone)
    assert shared[-1].cutter == alone[-1].cutter
    assert time_of(shared) <= time_of(alone) + 1e-9


def test_a_larger_detail_saves_the_smaller_cutters(context):
    fine, _ = cleared(context, POCKETS["corner"], detail=0.25)
    rough, _ = cleared(context, POCKETS["corner"], detail=3.0)
    assert len(rough) < len(fine)
    assert rough[-1].cutter.diameter_mm > fine[-1].cutter.diameter_mm


def test_no_cutter_fits_a_slit(context):
    slit = region(LineString([(0, 0), (20, 0)]).buffer(0.2))
    assert cleared(context, slit) == ([], None)
