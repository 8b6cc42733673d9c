"""Plans against what makers usually do. Common practice, no source: sense checks, not standards."""

from __future__ import annotations

from typing import Any

import pytest
import shapely
from shapely import LineString, box

from cutting.hand_made import part, region, sheet, shop
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Catalogue, Cutter
from letterply.cutting.model import CutPlan, OperationKind
from letterply.cutting.plan import plan_sheet
from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.requests.shop import HoldDown
from letterply.shapes.regions import Region
from letterply.shapes.tolerances import DEFAULT_TOLERANCES
from letterply.stacks.work import Groove, Pocket, Scribe


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue()


def planned(catalogue: Catalogue, *pieces: Any, hold_down: HoldDown = HoldDown.TABS,
            cutters: tuple[str, ...] = (), **stock: Any) -> CutPlan:  # fmt: skip
    rack = shop(catalogue, *cutters, hold_down=hold_down)
    return plan_sheet(sheet(*pieces, **stock), rack, catalogue, 9.4)


def cutters_of(plan: CutPlan, kind: OperationKind) -> set[str]:
    return {op.cutter for op in plan.operations if op.kind is kind}


def words(text: str, font: str, cap_mm: float) -> Region:
    spec = LetteringSpec(text, font, Size("cap_height", cap_mm))
    return set_lettering(spec, FontLibrary().load(font), DEFAULT_TOLERANCES).moved(10, 10).region


def line(width_mm: float) -> Region:
    return region(LineString([(15, 15), (75, 15)]).buffer(width_mm / 2))


def test_acrylic_is_cut_through_with_a_single_flute_of_an_eighth_of_an_inch(
    catalogue: Catalogue,
) -> None:
    plan = planned(catalogue, part(box(0, 0, 60, 40)), material="acrylic-cast", thickness=3.0)
    (key,) = cutters_of(plan, OperationKind.PROFILE)
    cutter = catalogue.cutters[key]
    assert (cutter.diameter_mm, cutter.flutes) == (pytest.approx(3.175), 1)


def test_small_letters_are_better_held_by_tape_than_by_tabs(catalogue: Catalogue) -> None:
    dot = part(shapely.Point(0, 0).buffer(1.7, quad_segs=32))
    add_finding = next(
        f for f in planned(catalogue, dot, material="mdf").findings if f.code == "crumb"
    )
    assert add_finding.remedies[0].value == "tape"
    taped = planned(catalogue, dot, material="mdf", hold_down=HoldDown.TAPE)
    assert not [f for f in taped.findings if f.code == "crumb"]
    assert set(taped.tabs.values()) == {0}


@pytest.mark.parametrize(("width", "angle"), [(0.6, 30.0), (1.1, 30.0), (3.0, 60.0), (9.0, 90.0)])
def test_slender_bits_for_fine_lines_and_blunt_ones_for_wide(
    width: float, angle: float, catalogue: Catalogue
) -> None:
    board = part(box(0, 0, 90, 30), grooves=(Groove(line(width)),))
    plan = planned(catalogue, board, material="black-walnut", thickness=19.0, cutters=(
        "flat-6", "vbit-30", "vbit-60", "vbit-90"))  # fmt: skip
    (key,) = cutters_of(plan, OperationKind.GROOVE)
    assert catalogue.cutters[key].included_angle_deg == angle


def test_an_eighth_leaves_spots_in_fine_lettering_where_a_sixteenth_does_not(
    catalogue: Catalogue,
) -> None:
    """A recess for letters with strokes of about 2.5 mm."""
    ink = words("HIT", "archivo-black", 12.0)
    left, low, right, high = ink.bounds
    board = part(box(left - 8, low - 8, right + 8, high + 8), pockets=(Pocket(ink, 1.0),))
    cleared = {}
    for key in ("flat-3175", "flat-1588"):
        plan = planned(catalogue, board, material="mdf", cutters=(key, "flat-6"))
        cut = [op for op in plan.operations if op.kind is OperationKind.POCKET]
        radius = catalogue.cutters[key].radius_mm
        swept = shapely.union_all([
            LineString(p.ends[p.ends[:, 2] < -0.99, :2]).buffer(radius)
            for op in cut if op.cutter == key for p in op.paths
            if (p.ends[:, 2] < -0.99).sum() > 1
        ])  # fmt: skip
        (placed,) = plan.sheet.parts
        cleared[key] = shapely.intersection(swept, placed.part.pockets[0].region).area / ink.area
    assert cleared["flat-3175"] < 0.9
    assert cleared["flat-1588"] > 0.95


def test_drag_engraving_is_light_and_lifts_between_strokes(catalogue: Catalogue) -> None:
    lines = (LineString([(5, 5), (25, 5)]), LineString([(5, 8), (25, 8)]))
    plate = part(box(0, 0, 30, 15), scribes=(Scribe(lines, 0.15),))
    plan = planned(catalogue, plate, material="brass", thickness=1.0)
    (op,) = [op for op in plan.operations if op.kind is OperationKind.SCRIBE]
    assert op.feeds.spindle_rpm == 0
    assert op.depth_mm <= 0.3
    assert len(op.paths) == len(lines)
    assert isinstance(catalogue.cutters[op.cutter], Cutter)
    program = next(p for p in plan.programs if op.cutter in p.cutters)
    assert not [text for text in program.text.splitlines() if text.split()[-1] == "M3"]
