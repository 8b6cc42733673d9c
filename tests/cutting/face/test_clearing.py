"""Ways through the rack that clear a pocket, against all subsets of cutters tried one by one."""

from __future__ import annotations

import itertools
import math

import pytest
import shapely
from shapely import LineString, box

from cutting.hand_made import SHAPES, corner_piece, region, wedge
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.cutting.context import SheetContext
from letterply.cutting.face.clearing import Clearing, clearings, left_by
from letterply.cutting.face.pocket import PocketCut, clear_pocket
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


def tried(context, pocket, chosen, sharing):
    """Return how long some cutters take one after the other, or infinity when one has no way in."""
    left, total = None, 0.0
    for cutter in chosen:
        feeds = context.feeds(cutter, DEPTH, corners=left is not None)
        paths = clear_pocket(
            pocket if left is None else left,
            PocketCut(
                cutter.radius_mm,
                DEPTH,
                feeds.depth_per_pass_mm,
                context.tolerances,
                conventional=True,
            ),
            within=None if left is None else pocket,
        )
        if not paths:
            return math.inf
        total += Clearing(cutter, feeds, tuple(paths)).time_s
        total += context.shop.machine.tool_change_s / sharing
        left = left_by(context, pocket, cutter.radius_mm)
    return total


@pytest.mark.parametrize("sharing", [1, 50])
@pytest.mark.parametrize("name", POCKETS)
def test_no_other_way_with_the_same_last_cutter_is_quicker(context, name, sharing):
    pocket = POCKETS[name]
    done = clearings(context, pocket, DEPTH, sharing=sharing)
    diameters = [c.cutter.diameter_mm for c in done]
    assert diameters == sorted(diameters, reverse=True)
    ours = sum(c.time_s for c in done) + len(done) * context.shop.machine.tool_change_s / sharing
    assert ours == pytest.approx(tried(context, pocket, [c.cutter for c in done], sharing))
    usable = [c for c in context.flat(0.0) if c.cutting_length_mm >= DEPTH]
    before = [c for c in usable if done[0].cutter.diameter_mm >= c.diameter_mm > diameters[-1]]
    before.sort(key=lambda c: -c.diameter_mm)
    for count in range(len(before) + 1):
        for some in itertools.combinations(before, count):
            way = [*some, done[-1].cutter]
            # A cutter that hardly gets at anything new is never asked; nor is it worth its change.
            assert tried(context, pocket, way, sharing) >= 0.97 * ours, [c.key for c in way]


def test_a_change_that_many_pockets_share_is_made_sooner(context):
    alone = clearings(context, COMB, DEPTH)
    shared = clearings(context, COMB, DEPTH, sharing=100)
    assert len(shared) >= len(alone)
    assert shared[-1].cutter == alone[-1].cutter
    assert sum(c.time_s for c in shared) <= sum(c.time_s for c in alone)


def test_no_cutter_fits_a_slit(context):
    slit = region(LineString([(0, 0), (20, 0)]).buffer(0.2))
    assert clearings(context, slit, DEPTH) == []
