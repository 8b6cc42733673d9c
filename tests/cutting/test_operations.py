"""Order of work on a sheet: what is cut while the part is still held, largest cutter first."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, box

from cutting.hand_made import disc, part, region, sheet, shop
from letterply.catalogue.rack import THROUGH_MM
from letterply.cutting.context import SheetContext
from letterply.cutting.model import OperationKind
from letterply.cutting.operations import plan_operations
from letterply.shapes.tolerances import DEFAULT_TOLERANCES as TOLERANCES
from letterply.stacks.work import Groove, Hole, Pocket, Scribe

STAGES = ["scribe", "groove", "pocket", "drill", "profile"]


@pytest.fixture(scope="module")
def signs():
    """Return two copies of a board with every kind of work, turned against each other."""
    board = box(0, 0, 90, 50)
    board = board.difference(disc(12, 40, 1.5)).difference(box(60, 10, 80, 30))
    one = part(
        board,
        "board.Dunlin",
        holes=(Hole(12, 40, 3.0), Hole(50, 40, 5.0, 3.0, "dowel")),
        pockets=(Pocket(region(box(10, 8, 40, 20)), 2.0),),
        grooves=(Groove(region(box(30, 28, 55, 34)), 1.5),),
        scribes=(Scribe((LineString([(8, 26), (25, 26)]),), 0.15),),
    )
    return sheet(one, one, part(disc(0, 0, 12), "face.O"), thickness=6.0)


@pytest.fixture(scope="module")
def work(signs, catalogue):
    rack = shop(catalogue)
    context = SheetContext(rack, catalogue.materials["mdf"], 6.0, THROUGH_MM, 15.0, TOLERANCES)
    done = plan_operations(context, signs)
    assert context.findings == []
    return done


def stage_of(op):
    if op.kind is OperationKind.POCKET and op.note:
        return "groove"
    return str(op.kind)


def test_work_on_the_face_comes_before_cutting_out(work):
    stages = [STAGES.index(stage_of(op)) for op in work.operations]
    assert stages == sorted(stages)
    assert {op.kind for op in work.operations} == set(OperationKind)


def test_the_floor_of_a_groove_is_cleared_before_its_walls(work):
    kinds = [op.kind for op in work.operations if stage_of(op) == "groove"]
    floors = kinds.count(OperationKind.POCKET)
    assert floors >= 2
    assert kinds == [OperationKind.POCKET] * floors + [OperationKind.GROOVE] * 2


def test_larger_cutters_clear_pockets_first(work, catalogue):
    sizes = [
        catalogue.cutters[op.cutter].diameter_mm
        for op in work.operations
        if op.kind is OperationKind.POCKET and not op.note
    ]
    assert sizes == sorted(sizes, reverse=True)
    assert len(set(sizes)) > 1


def test_work_with_one_cutter_is_done_in_one_go(work):
    """Within a stage a cutter is taken up once."""
    for stage in STAGES:
        cutters = [
            op.cutter
            for op in work.operations
            if stage_of(op) == stage and op.kind is not OperationKind.PROFILE
        ]
        changes = [c for k, c in enumerate(cutters) if k == 0 or c != cutters[k - 1]]
        if stage == "groove":
            continue
        assert len(changes) == len(set(changes)), stage


def test_every_copy_gets_the_same_work_where_it_lies(work, signs):
    first, second, _ = signs.parts
    shift = np.array(
        [
            second.placement.x_mm - first.placement.x_mm,
            second.placement.y_mm - first.placement.y_mm,
            0.0,
        ]
    )
    one = [op for op in work.operations if op.mark == first.mark]
    two = [op for op in work.operations if op.mark == second.mark]
    assert len(one) == len(two) > 5
    for a, b in zip(one, two, strict=True):
        assert (a.kind, a.cutter, a.depth_mm, a.tabs, a.note) == (
            b.kind, b.cutter, b.depth_mm, b.tabs, b.note,
        )  # fmt: skip
        for p, q in zip(a.paths, b.paths, strict=True):
            assert q.ends == pytest.approx(p.ends + shift, abs=1e-9)
            assert q.centres == pytest.approx(p.centres + shift[:2], abs=1e-9, nan_ok=True)
            assert (q.senses == p.senses).all()


@pytest.mark.parametrize("angle", [90.0, 180.0, 33.0])
def test_an_operation_moves_with_its_part(work, angle):
    """A turn about the origin, then a shift: lengths and the way round stay."""
    op = next(o for o in work.operations if o.kind is OperationKind.PROFILE)
    moved = op.moved("9.x", angle, 100.0, -20.0)
    turn = np.radians(angle)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    assert moved.mark == "9.x"
    for before, after in zip(op.paths, moved.paths, strict=True):
        wanted = before.ends[:, :2] @ matrix.T + [100.0, -20.0]
        assert after.ends[:, :2] == pytest.approx(wanted, abs=1e-9)
        assert after.ends[:, 2] == pytest.approx(before.ends[:, 2], abs=0)
        assert after.start[2] == before.start[2]
        assert (after.senses == before.senses).all()


def test_the_sheet_keeps_its_parts_and_places(work, signs):
    assert [p.mark for p in work.sheet.parts] == [p.mark for p in signs.parts]
    for mine, theirs in zip(work.sheet.parts, signs.parts, strict=True):
        assert mine.placement == theirs.placement
        assert mine.part.outline.equals_exact(theirs.part.outline, 1e-9)
