"""The wanted surface, against depths worked out by hand, and its comparison with a carved one."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import LineString

from letterply.proof.judging.surface import compare
from letterply.proof.judging.target import Target, build_target
from letterply.proof.model import HeightField, ProgramSource, Setup
from letterply.proof.reading.toolpath import Toolpath, lay_out, read_all
from letterply.proof.removal.swept import blank_field
from letterply.requests import HoldDown
from letterply.stacks.model import Part
from letterply.stacks.work import Groove, Hole, Pocket, Scribe
from proof.rack_sign import CUTTERS, MACHINE, THICKNESS, box, sheet_of

CELL = 0.1


def toolpath(*programs: tuple[str, str]) -> Toolpath:
    """Lay out programs given as cutter and body."""
    sources = [
        ProgramSource(f"{i}.nc", (cutter,), f"G21 G90 F600\nG0 Z5\nG0 X0 Y0\n{body}\nM30")
        for i, (cutter, body) in enumerate(programs)
    ]
    return lay_out(
        sources,
        read_all(sources, MACHINE),
        Setup(cutters=CUTTERS, machine=MACHINE, through_mm=0.2, hold_down=HoldDown.TABS, tabs={}),
        thickness_mm=THICKNESS,
        sagitta_mm=0.002,
    )


def target(part: Part, *programs: tuple[str, str]) -> Target:
    left, low, right, high = part.outline.bounds
    field = blank_field((left - 2, low - 2, right + 2, high + 2), CELL)
    return build_target(sheet_of(part).parts, toolpath(*programs), field)


def at(field: HeightField, x: float, y: float) -> float:
    xs, ys = field.centres
    return float(field.z[int(np.argmin(np.abs(ys - y))), int(np.argmin(np.abs(xs - x)))])


PLATE = shapely.box(10, 10, 50, 40)


def plate(**features: object) -> Part:
    return Part(name="whimbrel", layer="board", outline=PLATE, **features)  # type: ignore[arg-type]


def test_outside_all_is_free_and_the_face_is_nought() -> None:
    found = target(plate())
    assert math.isnan(at(found.wanted, 9, 20))
    assert at(found.wanted, 20, 20) == 0
    inside = ~np.isnan(found.wanted.z)
    assert inside.sum() * CELL**2 == pytest.approx(PLATE.area, rel=1e-6)


@pytest.mark.parametrize(
    ("bit", "angle", "limit"),
    [("v60", None, None), ("v90", None, None), ("v60", 90.0, None), ("v60", None, 2.0)],
)
def test_a_groove_slopes_at_the_half_angle_down_to_its_limit(
    bit: str, angle: float | None, limit: float | None
) -> None:
    groove = Groove(box(15, 20, 45, 28), limit, angle)
    found = target(plate(grooves=(groove,)), (bit, "G0 X20 Y24\nG1 Z-1"))
    half = math.radians((angle or CUTTERS[bit].included_angle_deg) / 2)
    for x, y in [(30.05, 20.55), (30.05, 23.95), (16.05, 24.05), (30.05, 27.95)]:
        wall = min(x - 15, 45 - x, y - 20, 28 - y) / math.tan(half)
        assert at(found.wanted, x, y) == pytest.approx(-min(wall, limit or 99), abs=1e-4)


def test_pockets_holes_and_lines_have_their_depth_and_the_deeper_one_wins() -> None:
    part = plate(
        pockets=(Pocket(box(12, 12, 30, 30), 2.0), Pocket(box(25, 12, 40, 20), 3.0)),
        holes=(Hole(20, 20, 4, 1.0), Hole(45, 35, 4, 2.5)),
        scribes=(Scribe((LineString([(32, 35.05), (42, 35.05)]),), 0.2),),
    )
    found = target(part, ("drag", "G0 X32 Y35.05\nG1 Z-0.2\nG1 X42"))
    assert at(found.wanted, 20, 20) == -2
    assert at(found.wanted, 28, 15) == -3
    assert at(found.wanted, 45, 35) == -2.5
    assert at(found.wanted, 37, 35.05) == pytest.approx(-0.2, abs=1e-6)
    # a drag point of 90 degrees: 0.1 beside the line it is 0.1 less deep
    assert at(found.wanted, 37, 35.15) == pytest.approx(-0.1, abs=1e-4)
    assert at(found.wanted, 37, 35.35) == 0


def test_corners_of_a_pocket_are_what_the_cutter_used_cannot_reach() -> None:
    """The farthest place in a corner is r (sqrt 2 - 1) away: plane geometry."""
    part = plate(pockets=(Pocket(box(15, 15, 35, 30), 2.0),))
    (left,) = target(part, ("flat3", "G0 X20 Y20\nG1 Z-2")).rounded
    assert left.code == "rounded"
    assert left.depth_mm == pytest.approx(1.5 * (math.sqrt(2) - 1), abs=0.01)
    both = target(part, ("flat3", "G0 X20 Y20\nG1 Z-2"), ("flat2", "G0 X20 Y20\nG1 Z-2"))
    assert both.rounded[0].depth_mm == pytest.approx(math.sqrt(2) - 1, abs=0.01)
    assert target(part, ("flat3", "G0 X20 Y20\nG1 Z-1")).rounded == ()


def test_a_passage_hardly_wider_than_the_cutter_is_not_asked_of_it() -> None:
    """Two rooms of a pocket, the passage between them 0.03 mm wider than a cutter of 3 mm."""
    rooms = shapely.union_all(
        [shapely.box(12, 15, 22, 30), shapely.box(32, 15, 42, 30), shapely.box(20, 20, 34, 23.03)]
    )
    part = plate(pockets=(Pocket(shapely.MultiPolygon([rooms]), 2.0),))
    found = target(part, ("flat3", "G0 X15 Y20\nG1 Z-2"))
    middle = found.owner[at_cell(found, 27, 21.5)]
    assert found.features[middle].name == "corner"
    assert found.features[found.owner[at_cell(found, 17, 22)]].name == "pocket"


def at_cell(found: Target, x: float, y: float) -> tuple[int, int]:
    xs, ys = found.wanted.centres
    return int(np.argmin(np.abs(ys - y))), int(np.argmin(np.abs(xs - x)))


def test_a_line_beside_a_groove_is_as_wide_as_the_drag_point_draws_it() -> None:
    """The V-bit next to it is steeper and would make the line narrower."""
    part = plate(
        grooves=(Groove(box(15, 20, 45, 28)),),
        scribes=(Scribe((LineString([(15, 28.05), (45, 28.05)]),), 0.2),),
    )
    drag = ("drag", "G0 X15 Y28.05\nG1 Z-0.2\nG1 X45")
    found = target(part, drag, ("v60", "G0 X18 Y24\nG1 Z-1"))
    assert at(found.wanted, 30, 28.15) == pytest.approx(-0.1, abs=1e-4)


def misfits(found: Target, change: object) -> tuple[tuple[str, bool, float, float], ...]:
    carved = HeightField(found.wanted.cell_mm, found.wanted.origin, found.wanted.z.copy())
    carved.z[np.isnan(carved.z)] = -9
    change(carved)  # type: ignore[operator]
    return tuple(
        (found.features[m.feature].name, m.too_deep, m.most_mm, m.area_mm2)
        for m in compare(carved, found)
    )


def lower(x0: float, y0: float, x1: float, y1: float, by: float) -> object:
    def change(field: HeightField) -> None:
        xs, ys = field.centres
        mask = ((xs > x0) & (xs < x1))[None, :] & ((ys > y0) & (ys < y1))[:, None]
        field.z[mask] -= np.float32(by)

    return change


def nothing(field: HeightField) -> None:
    """Leave the field as it is wanted."""


CAST = plate(
    pockets=(Pocket(box(12, 12, 30, 20), 2.0),),
    grooves=(Groove(box(12, 25, 40, 31)),),
    holes=(Hole(45, 35, 4, 2.5),),
)


def test_what_is_wanted_fits() -> None:
    assert misfits(target(CAST), nothing) == ()


@pytest.mark.parametrize(
    ("place", "by", "name", "deep"),
    [
        ((32, 12, 36, 16), 0.06, "face", True),
        ((15, 14, 20, 18), 0.06, "pocket", True),
        ((15, 14, 20, 18), -0.06, "pocket", False),
        ((15, 14, 20, 18), 0.012, "pocket", True),
        ((15, 14, 20, 18), -0.012, "pocket", False),
        ((44, 34, 46, 36), 0.1, "hole", True),
        ((44, 34, 46, 36), -0.1, "hole", False),
        ((20, 26, 30, 30), 0.1, "groove", True),
        ((20, 26, 30, 30), -0.1, "groove", False),
    ],
)
def test_a_difference_over_the_tolerance_is_measured(
    place: tuple[float, float, float, float], by: float, name: str, deep: bool
) -> None:
    found = misfits(target(CAST), lower(*place, by))
    assert [(n, d) for n, d, _, _ in found] == [(name, deep)]
    _, _, most, area = found[0]
    assert most == pytest.approx(abs(by), abs=1e-4)
    wide = (place[2] - place[0]) * (place[3] - place[1])
    assert area == pytest.approx(wide, rel=1e-3)


@pytest.mark.parametrize("by", [0.008, -0.008])
def test_a_difference_within_the_tolerance_is_none(by: float) -> None:
    assert misfits(target(CAST), lower(13, 13, 29, 19, by)) == ()


def test_walls_may_fall_on_either_side_of_a_cells_centre() -> None:
    """A pocket wall moved by less than a cell is no misfit, by two cells it is."""
    found = target(CAST)
    assert misfits(found, lower(11.95, 12, 12.0, 20, 2.0)) == ()
    assert misfits(found, lower(11.8, 13, 12.0, 19, 2.0)) != ()
    assert misfits(found, lower(12.0, 13, 12.25, 19, -2.0)) != ()


def test_a_groove_beside_its_place_shows_on_both_walls() -> None:
    shifted = plate(grooves=(Groove(box(12, 25.2, 40, 31.2)),))
    want = target(plate(grooves=(Groove(box(12, 25, 40, 31)),)))
    carved = target(shifted).wanted
    found = compare(carved, want)
    assert {m.too_deep for m in found} == {True, False}
    # 0.2 mm on a slope of tan 60 degrees (a bit of 60 degrees is taken when none is used)
    assert max(m.most_mm for m in found) == pytest.approx(0.2 * math.sqrt(3), abs=0.03)
