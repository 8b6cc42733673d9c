"""Kinds of parts, and the risk of one lying in the place of another."""

from dataclasses import replace

from shapely import LineString, MultiLineString, Polygon, box
from shapely.affinity import translate

from letterply.checks.gluing.mistaken import Base, kinds_of, own_risks, swap_risk
from letterply.findings import Severity
from letterply.requests.limits import LookAlikeRules
from letterply.shapes.flatten import circle
from letterply.stacks.model import Layer, Part
from letterply.stacks.work import Hole, Scribe

RULES = LookAlikeRules()
BASE = Base(bottom=False, lines=None, edges=MultiLineString())
PLATE = Polygon(box(0, 0, 40, 16).exterior, [circle(20.3, 8, 3, 0.001)])


def part(name, outline=PLATE, x=0.0, holes=()):
    moved = tuple(Hole(h.x_mm + x, *h_rest(h)) for h in holes)
    return Part(f"face.{name}", "face", translate(outline, x, 0), name, holes=moved)


def h_rest(hole):
    return hole.y_mm, hole.diameter_mm, hole.depth_mm, hole.purpose


PINS = (Hole(6, 8, 3, 1.8, "dowel"), Hole(34, 8, 3, 1.8, "dowel"))
OTHER_PINS = (Hole(6, 8, 3, 1.8, "dowel"), Hole(32, 8, 3, 1.8, "dowel"))


def test_a_kind_has_one_outline_and_one_work_wherever_its_parts_lie():
    parts = [
        part("B"), part("B-2", x=60), part("B-3", x=120.000004, holes=PINS),
        part("B-4", x=180, holes=PINS), part("B-5", x=240, holes=OTHER_PINS),
        part("I", box(0, 0, 40, 16), 300),
    ]  # fmt: skip
    kinds = kinds_of(parts)
    assert [[p.name for p in k.parts] for k in kinds] == [
        ["face.B", "face.B-2"], ["face.B-3", "face.B-4"], ["face.B-5"], ["face.I"],
    ]  # fmt: skip
    assert kinds_of([]) == []


def test_dowels_hold_a_part_where_it_does_not_fit_best():
    """The counter is 0.3 off; by eye half of 0.6 is taken up, on dowels nothing is."""
    (loose,) = kinds_of([part("B")])
    (pinned,) = kinds_of([part("B", holes=PINS)])
    free, held = (
        next(r for r in own_risks(k, BASE, LookAlikeRules(tolerance_mm=0.7)) if "turned" in r.way)
        for k in (loose, pinned)
    )
    assert 0.3 <= free.misfit_mm < 0.35
    assert 0.6 - 1e-3 <= held.misfit_mm < 0.61
    # Held by its dowels it shows too much to be taken for right.
    assert not [r for r in own_risks(pinned, BASE, RULES) if "turned" in r.way]


def test_swaps_take_the_closest_way_that_dowels_allow():
    one, two, odd = kinds_of(
        [part("B"), part("R", x=60, outline=PLATE.buffer(0.2)), part("X", x=120, holes=PINS)]
    )
    risk = swap_risk(one, two, BASE, RULES)
    assert risk is not None
    assert risk.way == "upright"
    assert 0.19 < risk.misfit_mm < 0.3
    assert swap_risk(one, odd, BASE, RULES) is None
    assert swap_risk(one, one, BASE, RULES) is None


def test_the_bottom_layer_has_no_risk_in_its_outline_alone():
    (kind,) = kinds_of([part("B")])
    assert own_risks(kind, BASE, RULES)
    assert own_risks(kind, Base.of(None), RULES) == ()


def test_a_base_knows_the_placement_lines_on_it():
    line = LineString([(0, 0), (5, 0), (5, 5), (0, 0)])
    scribes = (Scribe((line,), 0.1, "placement"), Scribe((line, line), 0.2))
    board = Part("board", "board", box(-9, -9, 99, 99), scribes=scribes)
    base = Base.of(Layer("board", "mdf", 6.0, 0.0, (board,)))
    assert base.lines is not None
    assert len(base.lines) == 1
    assert not base.bottom
    assert Base.of(None).bottom


def test_a_step_that_shows_is_a_caution_and_a_smaller_one_a_note():
    flush = replace(BASE, edges=box(0, 0, 40, 16).boundary)

    def risk(off, base=flush):
        shape = Polygon(box(0, 0, 40, 16).exterior, [circle(20 + off, 8, 3, 0.001)])
        return {r.severity for r in own_risks(kinds_of([part("B", shape)])[0], base, RULES)}

    assert risk(0.05) == set()
    assert risk(0.15) == {Severity.NOTE}
    assert risk(0.32) == {Severity.CAUTION}
    # On a board there is no edge beside it that would make a step.
    assert risk(0.32, BASE) == {Severity.NOTE}
