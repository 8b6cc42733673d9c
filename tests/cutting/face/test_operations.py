"""Work on the face: which cutters, how deep, what is done and what cannot be done."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, box

from cutting.hand_made import disc, flat, part, region, sheet, shop
from cutting.measuring import chords, dense, swept
from letterply.catalogue.model import Cutter, CutterKind
from letterply.catalogue.rack import SKIN_MM, THROUGH_MM
from letterply.cutting.model import OperationKind
from letterply.cutting.plan import plan_sheet
from letterply.cutting.profile.profiles import clearance
from letterply.findings import Severity
from letterply.proof.removal.strokes import profile_of
from letterply.proof.removal.swept import blank_field, carve
from letterply.requests.shop import HoldDown
from letterply.shapes.tolerances import DEFAULT_TOLERANCES as TOLERANCES
from letterply.stacks.work import Groove, Hole, Pocket, Scribe

BOARD = box(0, 0, 80, 50)
THICKNESS = 6.0
V60 = Cutter("v60", "60 degree", CutterKind.VBIT, 12.0, 2, 10.0, 60.0)
V90 = Cutter("v90", "90 degree", CutterKind.VBIT, 12.0, 2, 10.0, 90.0)
V30 = Cutter("v30", "30 degree", CutterKind.VBIT, 6.0, 2, 10.0, 30.0)
DRILL = Cutter("drill", "5 mm drill", CutterKind.DRILL, 5.0, 2, 30.0, 118.0)
SIX, TWO, ONE = flat(6.0), flat(2.0), flat(1.0)


@pytest.fixture
def plan(catalogue):
    def plan(*cutters, hold_down=HoldDown.TABS, outline=BOARD, entry="helix", **worked):
        made = sheet(part(outline, **worked), thickness=THICKNESS)
        rack = shop(catalogue, *cutters, hold_down=hold_down, entry=entry)
        return plan_sheet(made, rack, catalogue, 15.0)

    return plan


def of_kind(plan, kind):
    return [op for op in plan.operations if op.kind is kind]


def simulated(plan, operations, cutters, cell=0.05, bounds=None):
    """Return the field that operations leave of the sheet within bounds."""
    field = blank_field(bounds or plan.sheet.parts[0].part.outline.bounds, cell)
    rack = {c.key: c for c in cutters}
    for op in operations:
        for path in op.paths:
            carve(field, chords(path, 1e9), profile_of(rack[op.cutter]))
    return field


# Scribing


def test_lines_are_drawn_by_the_finest_drag_point_with_the_spindle_stopped(plan):
    lines = (LineString([(10, 10), (30, 10), (30, 25)]), LineString(disc(50, 25, 8).exterior))
    points = [
        Cutter("fine", "fine", CutterKind.DRAG, 0.2, 0, 0.5, 90.0),
        Cutter("broad", "broad", CutterKind.DRAG, 0.4, 0, 0.5, 90.0),
    ]
    made = plan(SIX, *points, scribes=(Scribe(lines, 0.15),))
    (op,) = of_kind(made, OperationKind.SCRIBE)
    assert op.cutter == "fine"
    assert op.feeds.spindle_rpm == 0
    assert op.depth_mm == 0.15
    wanted = shapely.union_all(list(made.sheet.parts[0].part.scribes[0].lines))
    drawn = []
    for path in op.paths:
        points_on, move = dense(path, 0.1)
        assert points_on[move > 0, 2] == pytest.approx(-0.15)
        drawn.append(LineString(points_on[move > 0, :2]))
    assert len(op.paths) == 2
    assert shapely.hausdorff_distance(shapely.union_all(drawn), wanted) < 0.08
    assert max(shapely.distance(d, wanted) for d in drawn) <= TOLERANCES.arc_fit_mm


def test_without_a_drag_point_lines_stay_undrawn_and_that_is_a_blocker(plan):
    made = plan(SIX, scribes=(Scribe((LineString([(10, 10), (30, 10)]),), 0.15),))
    assert of_kind(made, OperationKind.SCRIBE) == []
    (finding,) = made.findings
    assert (finding.code, finding.severity) == ("uncut", Severity.BLOCKER)
    assert finding.part == "board.Knot"
    assert "drag point" in finding.remedies[0].text


# Grooves


@pytest.mark.parametrize(
    ("width", "angle", "used", "depth"),
    [
        # Half of the stock at most: 60 degrees would go 3.5 mm deep.
        (4.0, None, "v90", 2.0),
        (3.4, None, "v60", 1.7 / math.tan(math.radians(30))),
        (4.0, 60.0, "v60", 2 / math.tan(math.radians(30))),
        (4.0, 90.0, "v90", 2.0),
        (2.0, 30.0, "v30", 1 / math.tan(math.radians(15))),
        # No bit stays within half: 60 degrees would go 7.8 mm deep into 6 mm, 90 degrees go least.
        (9.0, None, "v90", 4.5),
    ],
)
def test_a_groove_gets_the_bit_that_suits_its_width_and_the_stock(plan, width, angle, used, depth):
    groove = Groove(region(box(10, 10, 60, 10 + width)), None, angle)
    made = plan(SIX, V30, V60, V90, grooves=(groove,))
    (op,) = of_kind(made, OperationKind.GROOVE)
    assert op.cutter == used
    assert op.depth_mm == pytest.approx(depth, abs=1e-3)
    assert of_kind(made, OperationKind.POCKET) == []
    assert made.findings == ()


@pytest.mark.parametrize(("angle", "flat"), [(90.0, 5.2), (None, 3.0)])
def test_a_groove_too_wide_for_the_stock_goes_flat_and_says_so(plan, angle, flat):
    """11.6 mm at 90 degrees would be 5.8 mm deep; 0.8 mm of the 6 are to stay: flat at 5.2.

    Where neither bit nor depth is named half of the stock is the most: flat at 3.
    """
    groove = Groove(region(box(10, 10, 60, 21.6)), None, angle)
    rack = (SIX, ONE, V60, V90)
    made = plan(*rack, grooves=(groove,))
    (op,) = of_kind(made, OperationKind.GROOVE)
    assert op.cutter == "v90"
    assert op.depth_mm == pytest.approx(flat)
    assert made.sheet.parts[0].part.grooves[0].max_depth_mm == pytest.approx(flat)
    (finding,) = [f for f in made.findings if f.code == "depth"]
    assert finding.measured == pytest.approx(5.8, abs=0.01)
    assert finding.limit == pytest.approx(flat)
    assert ("as deep as is usual" in finding.why) is (angle is None)
    assert finding.severity is Severity.CAUTION


@pytest.mark.parametrize("angle", [None, 30.0])
def test_without_its_bit_a_groove_is_a_blocker(plan, angle):
    rack = (SIX,) if angle is None else (SIX, V60)
    made = plan(*rack, grooves=(Groove(region(box(10, 10, 60, 14)), None, angle),))
    assert of_kind(made, OperationKind.GROOVE) == []
    (finding,) = made.findings
    assert (finding.code, finding.severity) == ("uncut", Severity.BLOCKER)
    assert ("30 degree" in finding.remedies[0].text) is (angle is not None)


@pytest.mark.parametrize(("limit", "detail"), [(1.0, 0.02), (2.0, 0.02), (2.0, 0.25)])
def test_a_limited_groove_is_cleared_by_mills_and_carved_true(plan, limit, detail):
    """The surface: distance to the outline over tan(a/2), cut off at the limit.

    Corners of the floor are as sharp as the detail asks: where end mills leave more, the bit goes.
    """
    groove = Groove(region(box(10, 10, 74, 40)), limit, 90.0, detail_mm=detail)
    rack = (SIX, TWO, ONE, V90)
    made = plan(*rack, grooves=(groove,))
    floors = of_kind(made, OperationKind.POCKET)
    (carving,) = of_kind(made, OperationKind.GROOVE)
    assert floors
    assert all(op.note == "floor of a groove" for op in floors)
    kinds = [op.kind for op in made.operations]
    assert kinds.index(OperationKind.GROOVE) > max(
        k for k, kind in enumerate(kinds) if kind is OperationKind.POCKET
    )
    placed = made.sheet.parts[0]
    at = placed.part.grooves[0].region
    field = simulated(made, [*floors, carving], rack, bounds=at.buffer(1).bounds)
    x, y = np.meshgrid(*field.centres)
    inside = shapely.contains_xy(at, x, y)
    distance = shapely.distance(shapely.points(x, y), at.boundary)
    wanted = np.where(inside, -np.minimum(distance, limit), 0.0)
    error = field.z - wanted
    assert error.min() >= -0.006
    if detail < 0.03:
        assert error.max() <= 0.03
    else:
        left = np.column_stack((x[error > 0.03], y[error > 0.03]))
        assert error.max() <= detail
        assert len(left) * field.cell_mm**2 < 4 * detail**2


def test_a_small_flat_floor_is_left_to_the_bit_that_is_in_anyway(plan):
    """End mills would take two changes; the floor is flat to the ridges between its lines."""
    groove = Groove(region(box(10, 10, 40, 15.6)), 2.0, 90.0)
    made = plan(SIX, TWO, ONE, V90, grooves=(groove,))
    assert of_kind(made, OperationKind.POCKET) == []
    (carving,) = of_kind(made, OperationKind.GROOVE)
    at = made.sheet.parts[0].part.grooves[0].region
    field = simulated(made, [carving], (V90,), bounds=at.buffer(1).bounds)
    x, y = np.meshgrid(*field.centres)
    distance = shapely.distance(shapely.points(x, y), at.boundary)
    wanted = np.where(shapely.contains_xy(at, x, y), -np.minimum(distance, 2.0), 0.0)
    error = field.z - wanted
    assert error.min() >= -0.006
    assert error.max() <= 0.03
    (floors,) = [c for c in made.choices if c.work == "floors"]
    assert floors.sets[0].cutters == ("v90",)
    assert floors.sets[0].chosen
    assert all(s.time_s > floors.sets[0].time_s for s in floors.sets[1:])


def slope_depth(width, angle, tip=0.0):
    """Return where walls meet: (w - t) / (2 tan(a/2)), plane geometry."""
    return (width - tip) / (2 * math.tan(math.radians(angle / 2)))


@pytest.mark.parametrize("width", [1.0, 2.0, 3.0, 5.0, 7.0, 10.0])
def test_a_groove_gets_the_deepest_bit_within_half_of_the_stock(plan, width):
    """What each bit carves is told beside it: by the law of depth, or flat where it ends.

    Where none stays within half, the least deep of those whose walls meet.
    """
    groove = Groove(region(box(10, 10, 70, 10 + width)))
    made = plan(SIX, ONE, V30, V60, V90, grooves=(groove,))
    most = THICKNESS - 0.8
    meeting = {c.key: slope_depth(width, c.included_angle_deg) for c in (V30, V60, V90)}
    bears = {c.key: min(most, slope_depth(c.diameter_mm, c.included_angle_deg))
             for c in (V30, V60, V90)}  # fmt: skip
    able = {k: d for k, d in meeting.items() if d <= bears[k] + 1e-6}
    usual = {k: d for k, d in able.items() if d <= THICKNESS / 2}
    (op,) = of_kind(made, OperationKind.GROOVE)
    assert op.cutter == (max(usual, key=usual.get) if usual else min(able, key=able.get))
    (choice,) = [c for c in made.choices if c.work == "grooves"]
    assert ("within half of the stock" in choice.reason) is (usual != able)
    told = {s.cutters: s for s in choice.sets}
    assert {k for k, s in told.items() if s.chosen} == {(op.cutter,)}
    for key, depth in meeting.items():
        carved = depth if key in able else min(bears[key], THICKNESS / 2)
        assert told[key,].depth_mm == pytest.approx(carved, abs=0.01)
        assert (told[key,].flat_area_mm2 > 0) is (depth > bears[key] + 1e-6)


def test_of_bits_that_reach_the_limit_the_quickest_carves(plan):
    groove = Groove(region(box(10, 10, 70, 40)), 2.0)
    made = plan(SIX, ONE, V30, V60, V90, grooves=(groove,))
    (choice,) = [c for c in made.choices if c.work == "grooves"]
    (chosen,) = [s for s in choice.sets if s.chosen]
    assert {s.depth_mm for s in choice.sets} == {2.0}
    assert chosen.time_s == min(s.time_s for s in choice.sets)
    alone = {}
    for bit in (V30, V60, V90):
        one = plan(SIX, ONE, bit, grooves=(groove,))
        alone[bit.key] = one.time.total_s
    assert chosen.cutters == (min(alone, key=alone.get),)


def test_a_groove_that_names_its_bit_keeps_it_and_others_share_it_or_not(plan):
    """Beside one that must be 30 degrees, one that two bits carve as deep saves a change."""
    named = Groove(region(box(10, 10, 70, 12)), None, 30.0)
    free = Groove(region(box(10, 20, 70, 30)), 1.0)
    made = plan(SIX, ONE, V30, V60, V90, grooves=(named, free))
    ops = of_kind(made, OperationKind.GROOVE)
    angles = [g.angle_deg for g in made.sheet.parts[0].part.grooves]
    assert angles[0] == 30.0
    assert "v30" in {op.cutter for op in ops}
    (choice,) = [c for c in made.choices if c.work == "grooves"]
    assert all("v30" in s.cutters for s in choice.sets)
    assert made.findings == ()


def test_a_blunt_tip_is_told_by_what_it_does_not_get_into(plan):
    """A tip 1 mm wide leaves corners round, a sharp one does not, and it goes less deep."""
    blunt = Cutter("blunt", "60 degree, blunt", CutterKind.VBIT, 12.0, 2, 10.0, 60.0, 1.0)
    groove = Groove(region(box(10, 10, 70, 14)), None, 60.0)
    made = plan(SIX, blunt, V60, grooves=(groove,))
    (choice,) = [c for c in made.choices if c.work == "grooves"]
    told = {s.cutters: s for s in choice.sets}
    assert told["v60",].chosen
    assert told["blunt",].depth_mm == pytest.approx(slope_depth(4, 60, 1), abs=0.01)
    # Corners of 90 degrees stay round by (sqrt(2) - 1) t / 2; four of them leave (4 - pi) t² / 4.
    assert told["blunt",].left_round_mm == pytest.approx(0.5 * (math.sqrt(2) - 1), abs=0.02)
    assert told["blunt",].left_area_mm2 == pytest.approx((4 - math.pi) / 4, rel=0.1)
    assert told["v60",].left_area_mm2 == 0


# Pockets


def test_a_pocket_is_cleared_by_the_largest_cutter_then_smaller_ones(plan):
    recess = region(box(10, 10, 50, 40))
    made = plan(SIX, TWO, ONE, pockets=(Pocket(recess, 3.0),))
    ops = of_kind(made, OperationKind.POCKET)
    # What 2 mm would save in the corners is less than its change takes.
    assert [op.cutter for op in ops] == ["f6", "f1"]
    assert all(op.depth_mm == 3.0 for op in ops)
    (placed,) = made.sheet.parts
    (pocket,) = placed.part.pockets
    done = shapely.union_all(
        [swept(p, float(op.cutter[1:]) / 2, at_mm=-3.0) for op in ops for p in op.paths]
    )
    # 1 mm leaves (1 - pi/4) r² = 0.0537 mm² in each square corner, and walls stand 0.005 off.
    left = shapely.difference(pocket.region.buffer(-0.02, join_style="mitre"), done)
    assert 0.75 * 4 * (1 - math.pi / 4) * 0.25 < left.area < 0.5
    # Nothing stays deeper than the detail.
    assert left.difference(done.buffer(0.25)).is_empty
    assert shapely.difference(done, pocket.region.buffer(0.011)).is_empty


def test_a_cutter_that_gains_little_is_left_out(plan):
    """A round pocket: nothing is left by 6 mm, and 2 mm has nothing to do."""
    made = plan(SIX, TWO, pockets=(Pocket(region(disc(40, 25, 12)), 2.0),))
    assert [op.cutter for op in of_kind(made, OperationKind.POCKET)] == ["f6"]


def test_a_cutter_too_short_for_a_pocket_is_not_taken(plan, catalogue):
    short = Cutter("short", "short", CutterKind.FLAT, 4.0, 2, 2.5)
    made = plan(short, SIX, pockets=(Pocket(region(box(10, 10, 50, 40)), 3.0),))
    assert {op.cutter for op in of_kind(made, OperationKind.POCKET)} == {"f6"}


def test_a_pocket_that_no_cutter_gets_into_is_a_blocker(plan):
    made = plan(SIX, pockets=(Pocket(region(box(10, 10, 50, 14)), 3.0),))
    assert of_kind(made, OperationKind.POCKET) == []
    (finding,) = made.findings
    assert (finding.code, finding.severity) == ("uncut", Severity.BLOCKER)
    assert "3 mm" in finding.why


# Holes


def through_hole(x, y, diameter):
    return BOARD.difference(disc(x, y, diameter / 2)), Hole(x, y, diameter)


def test_a_through_hole_is_drilled_where_there_is_a_drill_of_its_size(plan):
    """As deep as sheet, spoil board and the drill's point d / (2 tan(q/2)): 1.502152 mm."""
    outline, hole = through_hole(20, 30, 5.0)
    made = plan(SIX, DRILL, outline=outline, holes=(hole,))
    (op,) = of_kind(made, OperationKind.DRILL)
    (path,) = op.paths
    placed = made.sheet.parts[0].part.holes[0]
    assert path.start[:2] == pytest.approx([placed.x_mm, placed.y_mm])
    assert path.ends[:, 2].min() == pytest.approx(-(THICKNESS + THROUGH_MM + 1.502152), abs=1e-6)
    # What is drilled is not cut again.
    assert not any(op.inside for op in of_kind(made, OperationKind.PROFILE))


@pytest.mark.parametrize("diameter", [4.8, 5.2, 8.0])
def test_a_through_hole_without_a_drill_is_a_profile_inside(plan, diameter):
    outline, hole = through_hole(20, 30, diameter)
    made = plan(TWO, DRILL, outline=outline, holes=(hole,), entry="ramp")
    assert of_kind(made, OperationKind.DRILL) == []
    (inside,) = [op for op in of_kind(made, OperationKind.PROFILE) if op.inside]
    placed = made.sheet.parts[0].part.holes[0]
    (path,) = inside.paths
    points, _ = dense(path, 0.2)
    out = np.hypot(*(points[:, :2] - [placed.x_mm, placed.y_mm]).T)
    off = clearance(TOLERANCES)
    assert out == pytest.approx(diameter / 2 - 1.0 - off, abs=TOLERANCES.arc_fit_mm + 0.001)


def test_over_a_skin_the_full_width_of_a_drill_stops_at_the_skin(plan):
    outline, hole = through_hole(20, 30, 5.0)
    made = plan(TWO, DRILL, outline=outline, holes=(hole,), hold_down=HoldDown.SKIN)
    (op,) = of_kind(made, OperationKind.DRILL)
    low = op.paths[0].ends[:, 2].min()
    assert low == pytest.approx(-(THICKNESS - SKIN_MM + 1.502152), abs=1e-6)


def test_a_drill_too_short_is_not_taken(plan):
    outline, hole = through_hole(20, 30, 5.0)
    short = Cutter("drill", "short drill", CutterKind.DRILL, 5.0, 2, 7.0, 118.0)
    made = plan(TWO, short, outline=outline, holes=(hole,))
    assert of_kind(made, OperationKind.DRILL) == []
    assert any(op.inside for op in of_kind(made, OperationKind.PROFILE))


def test_a_blind_hole_is_a_pocket_with_a_flat_floor(plan):
    made = plan(SIX, TWO, DRILL, holes=(Hole(20, 30, 5.0, 3.0, "dowel"),))
    assert of_kind(made, OperationKind.DRILL) == []
    (op,) = of_kind(made, OperationKind.POCKET)
    assert (op.cutter, op.depth_mm) == ("f2", 3.0)
    placed = made.sheet.parts[0].part.holes[0]
    floor = shapely.union_all([swept(p, 1.0, at_mm=-3.0) for p in op.paths])
    wanted = disc(placed.x_mm, placed.y_mm, 2.5)
    assert shapely.difference(floor, wanted.buffer(0.01)).is_empty
    assert shapely.difference(wanted.buffer(-0.025), floor).area < 1e-3


def test_a_blind_hole_that_no_end_mill_gets_into_is_a_blocker(plan):
    made = plan(SIX, holes=(Hole(20, 30, 5.0, 3.0, "dowel"),))
    assert [f.code for f in made.findings] == ["uncut"]


def test_a_through_hole_that_nothing_makes_is_a_blocker(plan):
    outline, hole = through_hole(20, 30, 3.0)
    made = plan(SIX, outline=outline, holes=(hole,))
    blockers = [f for f in made.findings if f.severity is Severity.BLOCKER]
    assert [f.code for f in blockers] == ["uncut"]
    assert "drill" in blockers[0].remedies[0].text
