"""Cutting parts out: depth, direction, order, tabs, and what does not go."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import LineString, box

from cutting.hand_made import bay, corner_piece, disc, flat, part, sheet, shop, window_frame
from cutting.measuring import dense, runs, signed_area, starts_of, swept
from letterply.catalogue.rack import SKIN_MM, THROUGH_MM
from letterply.cutting.context import TAB_WEB_MM
from letterply.cutting.model import OperationKind
from letterply.cutting.plan import plan_sheet
from letterply.errors import InputError
from letterply.findings import Severity
from letterply.requests.shop import EntryKind, HoldDown

SIX, THREE, ONE = flat(6.0), flat(3.0), flat(1.0)
FRAME = window_frame()
PLASTICS = ("acrylic-cast", "brass", "aluminium-6061")
WOODS = ("mdf", "birch-plywood", "black-walnut", "ponderosa-pine")


@pytest.fixture
def plan(catalogue):
    def plan(*outlines, cutters=(THREE,), spacing=15.0, finish=0.0, **more):
        parts = [part(o, f"board.P{k}") for k, o in enumerate(outlines)]
        rack = shop(catalogue, *cutters, hold_down=more.pop("hold_down", HoldDown.TABS))
        rack = replace(rack, finish_mm=finish, entry=more.pop("entry", rack.entry))
        return plan_sheet(sheet(*parts, **more), rack, catalogue, spacing)

    return plan


def profiles(plan, mark=None):
    return [
        op for op in plan.operations if op.kind is OperationKind.PROFILE and mark in (None, op.mark)
    ]


def lowest_turn(path):
    """Return the points of a path at its full depth."""
    points, _ = dense(path, 0.2)
    return points[points[:, 2] <= points[:, 2].min() + 1e-9]


@pytest.mark.parametrize("material", [*PLASTICS, *WOODS])
def test_plastics_and_metals_are_climb_cut_wood_is_cut_conventionally(plan, material):
    """M3 turns clockwise: climb is clockwise round a part and the other way in a hole."""
    made = plan(FRAME, material=material, thickness=2.0, hold_down=HoldDown.TAPE)
    entry_options = {
        op.inside: {signed_area(lowest_turn(p)) > 0 for p in op.paths} for op in profiles(made)
    }
    climb = material in PLASTICS
    assert entry_options[False] == {not climb}
    assert entry_options[True] == {climb}


@pytest.mark.parametrize("material", ["acrylic-cast", "mdf"])
def test_a_closed_bay_turns_as_a_hole_does(plan, material):
    made = plan(bay(1.5), material=material, hold_down=HoldDown.TAPE)
    inner = [op for op in profiles(made) if op.inside]
    outer = [op for op in profiles(made) if not op.inside]
    (inside,), (outside,) = inner[-1].paths, outer[-1].paths
    assert signed_area(lowest_turn(inside)) * signed_area(lowest_turn(outside)) < 0
    middle = made.sheet.parts[0].part.outline.convex_hull.centroid
    assert shapely.distance(shapely.points(lowest_turn(inside)[:, :2]), middle).max() < 12


def test_holes_are_cut_before_the_outline_that_holds_them(plan):
    made = plan(FRAME, corner_piece(), FRAME, cutters=(SIX, ONE))
    for placed in made.sheet.parts:
        mine = profiles(made, placed.mark)
        assert [op.inside for op in mine] == sorted((op.inside for op in mine), reverse=True)
        assert sum(not op.inside for op in mine) == 1
    last_inside = max(k for k, op in enumerate(made.operations) if op.note or op.cutter != SIX.key)
    first_outline = min(
        k for k, op in enumerate(made.operations) if not op.inside and op.cutter == SIX.key
    )
    # The small cutter goes first: what it cuts is still held.
    assert last_inside < first_outline


@pytest.mark.parametrize(
    ("hold_down", "deepest"),
    [
        (HoldDown.TABS, 6.0 + THROUGH_MM),
        (HoldDown.TAPE, 6.0 + THROUGH_MM),
        (HoldDown.SKIN, 6.0 - SKIN_MM),
    ],
)
def test_outlines_go_into_the_spoil_board_or_leave_a_skin(plan, hold_down, deepest):
    made = plan(FRAME, cutters=(SIX,), hold_down=hold_down)
    for op in profiles(made):
        assert op.depth_mm == pytest.approx(deepest)
        for path in op.paths:
            assert path.ends[:, 2].min() == pytest.approx(-deepest)
            level = np.abs(path.ends[:, 2] - starts_of(path)[:, 2]) < 1e-9
            levels = np.unique(np.round(np.append(path.ends[level, 2], 0.0), 6))
            assert np.diff(levels).max() <= op.feeds.depth_per_pass_mm + 1e-6
    assert made.through_mm == pytest.approx(deepest - 6.0)
    assert (sum(made.tabs.values()) > 0) is (hold_down is HoldDown.TABS)


@pytest.mark.parametrize(
    ("size", "count", "on_part"),
    [((8, 5), 1, 2.0), ((40, 20), 2, 3.0), ((150, 90), 4, 5.0), ((420, 260), 8, 5.0)],
)
def test_tabs_grow_in_number_and_length_with_the_way_round(plan, size, count, on_part):
    """3 to 8 mm long, 0.5 to 1.5 mm high: common practice, no source; less on small parts."""
    made = plan(box(0, 0, *size), thickness=6.0)
    (op,) = profiles(made)
    assert op.tabs == made.tabs["1.board.P0"] == count
    (path,) = op.paths
    height = 1.5
    top = -(6.0 - height)
    flat_top = (np.abs(path.ends[:, 2] - top) < 1e-9) & (np.abs(starts_of(path)[:, 2] - top) < 1e-9)
    chord = np.hypot(*(path.ends - starts_of(path))[:, :2].T)
    longest = max(chord[s].sum() for s in runs(flat_top))
    # On the part a tab is shorter than the raised way by the cutter's diameter.
    assert longest - THREE.diameter_mm == pytest.approx(on_part, abs=0.05)


@pytest.mark.parametrize(("thickness", "height"), [(1.0, 0.5), (3.0, 0.9), (12.0, 1.5)])
def test_tabs_are_as_high_as_the_sheet_bears(plan, thickness, height):
    made = plan(box(0, 0, 80, 60), thickness=thickness)
    (op,) = profiles(made)
    tops = op.paths[0].ends[:, 2]
    assert np.isclose(tops, height - thickness, atol=1e-9).any()


def test_a_part_too_small_for_tabs_is_a_caution_with_a_way_out(plan):
    made = plan(disc(0, 0, 1.7), box(0, 0, 60, 40), cutters=(THREE,))
    assert made.tabs["1.board.P0"] == 0
    assert made.tabs["2.board.P1"] > 0
    (finding,) = made.findings
    assert (finding.code, finding.severity, finding.part) == (
        "crumb", Severity.CAUTION, "board.P0",
    )  # fmt: skip
    assert finding.remedies[0].value == "tape"


def test_a_kerf_never_takes_the_web_between_parts(plan):
    """Parts 9 mm apart with tabs: two kerfs and a web of 3 mm leave room for 3 mm at most."""
    wide = plan(box(0, 0, 40, 40), cutters=(SIX, THREE), spacing=2 * 6 + TAB_WEB_MM)
    narrow = plan(box(0, 0, 40, 40), cutters=(SIX, THREE), spacing=2 * 6 + TAB_WEB_MM - 0.1)
    taped = plan(box(0, 0, 40, 40), cutters=(SIX, THREE), spacing=7.0, hold_down=HoldDown.TAPE)
    assert {op.cutter for op in profiles(wide)} == {"f6"}
    assert {op.cutter for op in profiles(narrow)} == {"f3"}
    assert {op.cutter for op in profiles(taped)} == {"f6"}


def test_details_are_cut_where_the_large_cutter_leaves_something(plan):
    pieces = [corner_piece()] * 6
    made = plan(*pieces, cutters=(SIX, ONE))
    details = [op for op in profiles(made) if op.note]
    assert {op.cutter for op in details} == {"f1"}
    assert len(details) == 6
    for op in details:
        (placed,) = [p for p in made.sheet.parts if p.mark == op.mark]
        left, low, *_ = placed.part.outline.bounds
        inner = shapely.Point(left + 12, low + 12)
        for path in op.paths:
            points, _ = dense(path, 0.1)
            assert shapely.distance(shapely.points(points[:, :2]), inner).max() < 5
            assert shapely.distance(shapely.points(points[:, :2]), placed.part.outline).min() >= 0.5


def test_tabs_do_not_stand_where_the_small_cutter_goes_through(plan):
    made = plan(*[corner_piece()] * 6, cutters=(SIX, ONE))
    for placed in made.sheet.parts:
        (outline,) = [op for op in profiles(made, placed.mark) if not op.inside]
        points, _ = dense(outline.paths[0], 0.2)
        tops = points[np.abs(points[:, 2] + 4.5) < 1e-6]
        left, low, *_ = placed.part.outline.bounds
        assert len(tops)
        assert np.hypot(*(tops[:, :2] - [left + 12, low + 12]).T).min() > 6


def test_every_part_is_cut_out_once(plan):
    made = plan(box(0, 0, 30, 20), FRAME, disc(0, 0, 9), corner_piece(), cutters=(THREE, ONE))
    outer = [op.mark for op in profiles(made) if not op.inside]
    assert sorted(outer) == [p.mark for p in made.sheet.parts]


def test_a_part_smaller_than_every_cutter_is_refused(plan):
    with pytest.raises(InputError) as caught:
        plan(box(0, 0, 40, 2.5), cutters=(THREE,))
    assert caught.value.code == "cutter-too-large"
    assert "2.5 mm" in str(caught.value)


def test_a_sheet_thicker_than_every_cutter_reaches_is_a_blocker_for_each_part(plan):
    made = plan(box(0, 0, 40, 40), disc(0, 0, 9), thickness=25.0)
    assert profiles(made) == []
    assert made.programs == ()
    assert [f.code for f in made.findings] == ["depth", "depth"]
    assert {f.severity for f in made.findings} == {Severity.BLOCKER}


def test_copies_of_a_part_are_cut_alike(catalogue):
    """A copy's loops are those of the first, with the same tabs; where they begin may differ."""
    outline = corner_piece()
    made = sheet(part(outline), part(outline), thickness=6.0)
    plan = plan_sheet(made, shop(catalogue, SIX, ONE, entry="ramp"), catalogue, 15.0)
    one, two = plan.sheet.parts
    shift = np.array([two.placement.x_mm - one.placement.x_mm, 0.0, 0.0])
    compared = 0
    for a, b in itertools.pairwise(
        sorted(profiles(plan), key=lambda op: (op.note, op.inside, op.mark))
    ):
        if (a.note, a.inside) != (b.note, b.inside):
            continue
        assert a.tabs == b.tabs
        assert len(a.paths) == len(b.paths)
        for mine, theirs in zip(a.paths, b.paths, strict=True):
            assert theirs.ends[:, 2].min() == mine.ends[:, 2].min()
            lines = [
                LineString(dense(p, 0.1)[0][:, :2] - s) for p, s in ((mine, 0), (theirs, shift[:2]))
            ]
            assert lines[0].hausdorff_distance(lines[1]) < 0.01
            here, there = (np.array(tab_middles(p)).reshape(-1, 2) for p in (mine, theirs))
            assert len(here) == len(there)
            for tab in here + shift[:2]:
                assert np.hypot(*(there - tab).T).min() < 1e-6
            compared += 1
    assert compared == 2


def test_the_outline_is_cut_at_its_radius_and_the_tolerances(plan):
    outlines = FRAME, corner_piece(), bay(8)
    made = plan(*outlines, cutters=(THREE,), hold_down=HoldDown.TAPE, entry=EntryKind.RAMP)
    for placed in made.sheet.parts:
        for op in profiles(made, placed.mark):
            for path in op.paths:
                points, _ = dense(path, 0.1)
                away = shapely.distance(shapely.points(points[:, :2]), placed.part.outline)
                assert away.min() >= 1.5
                assert away.max() <= 1.5 + 0.045


def test_what_is_cut_out_is_the_part_but_for_rounded_inside_corners(plan):
    """The swept kerf leaves the part whole and cuts it free all round."""
    made = plan(FRAME, cutters=(THREE,), hold_down=HoldDown.TAPE)
    (placed,) = made.sheet.parts
    deep = -(6.0 + THROUGH_MM)
    kerf = shapely.union_all([swept(p, 1.5, at_mm=deep) for op in profiles(made) for p in op.paths])
    assert shapely.intersection(kerf, placed.part.outline).area < 1e-6
    rest = shapely.difference(box(0, 0, 90, 70), kerf)
    pieces = [g for g in rest.geoms if g.intersects(placed.part.outline.buffer(-1))]
    (piece,) = pieces
    extra = shapely.difference(piece, placed.part.outline)
    # 0.0225 mm along 256 mm of wall at most, and (1 - pi/4) r² in four inside corners.
    around = placed.part.outline.length
    assert extra.area <= 0.0225 * around + 4 * (1 - math.pi / 4) * 1.5**2


def test_a_part_too_small_for_tabs_is_cut_out_in_one_go(plan):
    """A finishing pass would touch it when it is loose already."""
    made = plan(disc(0, 0, 1.7), cutters=(THREE,), finish=0.2)
    (outline,) = [op for op in profiles(made) if not op.inside]
    assert outline.tabs == 0
    assert len(outline.paths) == 1
    assert [f.code for f in made.findings] == ["crumb"]


@pytest.mark.parametrize("entry", list(EntryKind))
def test_a_finishing_pass_keeps_out_of_waste_that_may_be_loose(plan, entry):
    """It takes nothing that the rough loop left beside its kerf: of a slug, or outside the part.

    In the hole rough and finishing loop have their best places to go in far apart.
    """
    arch = shapely.union(box(10, 6, 60, 18), disc(35, 18, 14))
    made = plan(box(0, 0, 80, 40).difference(arch), finish=0.2, entry=entry)
    (placed,) = made.sheet.parts
    (hole,) = placed.part.outline.interiors
    slug = shapely.Polygon(hole).buffer(-1.7)
    around = shapely.Polygon(placed.part.outline.exterior)
    around = around.buffer(9).difference(around.buffer(1.7))
    for op, waste in zip(profiles(made), (slug, around), strict=True):
        rough, fine = (LineString(dense(p, 0.1)[0][:, :2]) for p in op.paths)
        left = waste.difference(rough.buffer(1.5))
        assert left.area > 150
        assert left.intersection(fine.buffer(1.5)).area < 0.02


def test_a_finishing_pass_takes_a_last_thin_layer_in_one_go(plan):
    """Rough loops 0.2 mm farther away in passes, then once round at full depth, same tabs."""
    made = plan(FRAME, cutters=(THREE,), finish=0.2)
    (placed,) = made.sheet.parts
    inner, outer = profiles(made)
    assert (inner.inside, outer.inside) == (True, False)
    assert len(outer.paths) == 2
    assert len(inner.paths) == 4
    last_rough = 0
    for op in (inner, outer):
        rough_done = []
        for path in op.paths:
            points, _ = dense(path, 0.1)
            away = shapely.distance(shapely.points(points[:, :2]), placed.part.outline)
            # A finishing loop is the second one round its hole or round the part.
            middle = shapely.Point(shapely.box(*shapely.LineString(points).bounds).centroid)
            finishing = any(middle.distance(done) < 0.1 for done in rough_done)
            if not finishing:
                rough_done.append(middle)
            least = 1.5 if finishing else 1.7
            assert least <= away.min() <= least + 0.02
            level = np.abs(path.ends[:, 2] - starts_of(path)[:, 2]) < 1e-9
            depths = np.unique(np.round(path.ends[level, 2], 6))
            through = depths[np.isclose(depths, -6.0 - THROUGH_MM)]
            tops = depths[np.isclose(depths, -4.5)]
            assert len(through) == 1
            if finishing:
                assert set(depths) == {*through, *tops}
            else:
                last_rough = max(last_rough, len(depths))
        assert len(rough_done) == len(op.paths) / 2
    assert last_rough > 2
    rough, fine = ({tuple(np.round(p, 1)) for p in tab_middles(q)} for q in outer.paths)
    assert len(rough) == len(fine) == outer.tabs
    for x, y in fine:
        assert min(math.hypot(x - a, y - b) for a, b in rough) < 0.6


def tab_middles(path):
    """Return the middle of each tab met in full on a path."""
    top = np.abs(path.ends[:, 2] + 4.5) < 1e-9
    level = top & (np.abs(starts_of(path)[:, 2] + 4.5) < 1e-9)
    starts = starts_of(path)
    found = {}
    for run in runs(level):
        a, b = starts[run.start, :2], path.ends[run.stop - 1, :2]
        if math.dist(a, b) > 7.9:
            found.setdefault(tuple(np.round((a + b) / 2, 0)), (a + b) / 2)
    return list(found.values())
