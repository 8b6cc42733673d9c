"""Work of two parts compared when one lies in the place of the other."""

import pytest
import shapely
from shapely import LineString, box

from letterply.checks.gluing.face_work import Lie, compare_work, hides_work
from letterply.shapes.regions import as_region
from letterply.stacks.model import Part
from letterply.stacks.work import Groove, Hole, Pocket, Scribe

STAY = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
HALF_TURN = (-1.0, 0.0, 0.0, -1.0, 40.0, 20.0)


def part(**work):
    return Part("face.X", "face", box(0, 0, 40, 20), "X", **work)


def compare(piece, place=None, matrix=HALF_TURN, *, flipped=False):
    return compare_work(piece, place or piece, matrix, 0.5, 0.2, flipped=flipped)


def pocket(x, y):
    return Pocket(as_region(box(x - 1, y - 1, x + 1, y + 1)), 1.0)


def test_no_work_lies_alike_in_every_way():
    assert compare(part()).lie is Lie.ALIKE
    assert compare(part(), flipped=True).lie is Lie.ALIKE


@pytest.mark.parametrize(("off", "lie"), [(0.2, Lie.ALIKE), (0.3, Lie.ASTRAY)])
def test_a_pocket_is_held_against_the_tolerance(off, lie):
    """Off the middle by a length, it lies twice that away after a half turn."""
    found = compare(part(pockets=(pocket(20 + off, 10),)))
    assert found.lie is lie
    if lie is Lie.ASTRAY:
        assert found.off_mm == pytest.approx(2 * off, abs=1e-3)


def test_a_pocket_where_there_should_be_none():
    found = compare(part(pockets=(pocket(20, 10),)), part())
    assert found.lie is Lie.ASTRAY
    assert found.off_mm is None


@pytest.mark.parametrize(("off", "lie"), [(0.09, Lie.ALIKE), (0.11, Lie.KEYED)])
def test_dowels_go_in_within_their_slack(off, lie):
    pins = (Hole(5, 10, 3, 2.0, "dowel"), Hole(35 + 2 * off, 10, 3, 2.0, "dowel"))
    assert compare(part(holes=pins)).lie is lie


def test_a_missing_dowel_keys_as_well():
    one, two = Hole(5, 10, 3, 2.0, "dowel"), Hole(35, 10, 3, 2.0, "dowel")
    assert compare(part(holes=(one,)), part(holes=(one, two)), STAY).lie is Lie.KEYED


def test_through_dowels_do_not_stop_a_flip_and_blind_ones_do():
    mirrored = (-1.0, 0.0, 0.0, 1.0, 40.0, 0.0)
    for depth, lie in ((None, Lie.ALIKE), (2.0, Lie.KEYED)):
        pins = tuple(Hole(x, 10, 3, depth, "dowel") for x in (5, 35))
        assert compare(part(holes=pins), matrix=mirrored, flipped=True).lie is lie


def test_lines_and_carving_that_lie_wrong_are_seen():
    line = LineString([(4, 4), (12, 4), (12, 9)])
    triangle = as_region(shapely.Polygon(line.coords))
    for work in (
        {"scribes": (Scribe((line,), 0.2),)},
        {"scribes": (Scribe((line,), 0.1, "placement"),)},
        {"grooves": (Groove(triangle),)},
    ):
        assert compare(part(**work)).lie is Lie.KEYED
        assert compare(part(**work), matrix=STAY).lie is Lie.ALIKE
    both = (line, shapely.affinity.rotate(line, 180, origin=(20, 10)))
    assert compare(part(scribes=(Scribe(both, 0.2),))).lie is Lie.ALIKE


def test_face_down_hides_what_is_worked():
    for work, hidden in (
        ({"pockets": (pocket(20, 10),)}, True),
        ({"grooves": (Groove(as_region(box(10, 8, 30, 12))),)}, True),
        ({"holes": (Hole(20, 10, 3, 1.0),)}, True),
        ({"holes": (Hole(20, 10, 3, 1.0, "dowel"),)}, False),
        ({"holes": (Hole(20, 10, 3),)}, False),
        ({"scribes": (Scribe((LineString([(1, 1), (9, 1)]),), 0.2),)}, True),
        ({"scribes": (Scribe((LineString([(1, 1), (9, 1)]),), 0.1, "placement"),)}, False),
    ):
        assert hides_work(part(**work)) is hidden
        if hidden:
            found = compare(part(**work), flipped=True)
            assert (found.lie, found.what) == (Lie.ASTRAY, "its worked side")
