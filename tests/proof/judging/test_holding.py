"""Beams, free parts and neighbours: what the rack sign of the other tests does not have."""

from __future__ import annotations

import dataclasses

import pytest
import shapely
from shapely import LineString

from letterply.proof.model import ProgramSource
from letterply.requests.shop import BeamPower, HoldDown
from letterply.stacks.model import Part
from letterply.stacks.work import Hole, Scribe
from proof.rack_sign import CUTTERS, THICKNESS, Sign, codes, prove, with_machine
from proof.simple_program import Writer

BEAM_MACHINE = with_machine(
    kind="beam", spindle_min_rpm=0.0, spindle_max_rpm=0.0, power_full=1000.0
)
POWER = BeamPower(material="birch-plywood", thickness_mm=THICKNESS, cut_percent=80.0)
TAG = Part(
    name="sanderling",
    layer="face",
    outline=shapely.box(20, 20, 60, 40).difference(shapely.Point(28, 30).buffer(3, quad_segs=128)),
)


def beam_text(
    *, kerf: float = 0.2, hole_first: bool = True, off: bool = True, mode: str = "M3"
) -> str:
    """Cut a tag with one round hole; a beam has no height, so the program has no z."""
    h = kerf / 2
    hole = [f"G0 X{31 - h:.4f} Y30", mode, f"G3 I{-3 + h:.4f} J0 F900", "M5"]
    left, low, right, high = 20 - h, 20 - h, 60 + h, 40 + h
    corners = [(right, low), (right, high), (left, high), (left, low)]
    outline = [f"G0 X{left} Y{low}", mode]
    outline += [f"G1 X{x} Y{y} F900" for x, y in corners]
    outline.append("M5")
    order = hole + outline if hole_first else outline + hole
    if not off:
        order = [line for i, line in enumerate(order) if line != "M5" or i == len(order) - 1]
    return "\n".join(["G21 G17 G90 G94", "M5", "S800", *order, "M30"])


def beam_proof(text: str, power: BeamPower | None = POWER) -> set[str]:
    proof = prove(
        TAG,
        [ProgramSource("beam.nc", ("beam",), text)],
        tabs=0,
        hold_down=HoldDown.TAPE,
        machine=BEAM_MACHINE,
        through=0.0,
        power=power,
    )
    return codes(proof)


@pytest.mark.parametrize("mode", ["M3", "M4"])
def test_a_beam_cuts_where_it_is_on_and_needs_no_height(mode: str) -> None:
    assert beam_proof(beam_text(mode=mode)) == set()


@pytest.mark.parametrize(("kerf", "code"), [(0.0001, "gouge"), (0.4, "uncut")])
def test_a_beam_compensated_for_another_kerf_is_found(kerf: float, code: str) -> None:
    assert code in beam_proof(beam_text(kerf=kerf))


def test_a_beam_left_on_while_travelling_is_found() -> None:
    assert "rapid-in-stock" in beam_proof(beam_text(off=False))


def test_a_beam_without_power_cuts_nothing() -> None:
    assert beam_proof(beam_text().replace("S800", "S0")) == {"not-through"}


def test_another_power_than_the_makers_own_is_refused() -> None:
    assert beam_proof(beam_text().replace("S800", "S1000")) == {"power"}
    assert beam_proof(beam_text(), power=None) == {"power"}
    less = POWER.model_copy(update={"cut_percent": 79.0})
    assert beam_proof(beam_text(), power=less) == {"power"}


def test_a_beam_that_nothing_has_put_out_before_the_first_move_is_refused() -> None:
    assert beam_proof(beam_text().replace("M5\n", "", 1)) == {"beam-on"}


def test_a_beam_that_is_lit_on_the_way_to_the_first_cut_is_refused() -> None:
    early = beam_text().replace("S800", "M3 S800", 1)
    assert "beam-on" in beam_proof(early)


def test_a_beam_that_burns_in_one_place_is_refused() -> None:
    assert beam_proof(beam_text().replace("M3\n", "M3\nG4 P2\n", 1)) == {"beam-on"}


def test_a_beam_that_frees_the_part_before_its_hole_is_found() -> None:
    assert beam_proof(beam_text(hole_first=False)) == {"order"}


def test_a_neighbours_cut_does_not_loosen_a_part_that_is_free() -> None:
    left = Sign(width=60, x=15, tabs=())
    right = Sign(width=60, x=90, tabs=())
    parts = (left.part(), dataclasses.replace(right.part(), name="dunlin"))
    proof = prove(parts, [*left.programs(), *right.programs()], tabs=0)
    assert proof.passed
    assert all(p.held for p in proof.parts)


def test_a_second_round_on_a_free_part_is_found_and_on_tape_it_is_none() -> None:
    free = Sign(tabs=())
    w = free.mill(Writer().start())
    free.outline(w, [THICKNESS + 0.2])
    programs = [
        dataclasses.replace(p, text=w.end()) if p.name == "4-mill.nc" else p
        for p in free.programs()
    ]
    proof = prove(free.part(), programs, tabs=0)
    assert codes(proof) == {"loose"}
    assert not proof.parts[0].held
    assert codes(prove(free.part(), programs, tabs=0, hold_down=HoldDown.TAPE)) == set()


def test_an_outline_cut_in_several_stays_frees_the_part_with_the_last_of_them() -> None:
    """The round is closed by a second stay; a third one along the part comes too late."""
    part = Part(name="curlew", layer="board", outline=shapely.box(20, 20, 60, 40))
    r = 1.505
    half = [(20 - r, 20), (20 - r, 40 + r), (60 + r, 40 + r), (60 + r, 30)]
    rest = [(60 + r, 30), (60 + r, 20 - r), (20 - r, 20 - r), (20 - r, 20)]
    good = Writer().start()
    for points in (half, rest):
        for depth in (2.0, 4.0, 6.2):
            good.line(points, depth)
    text = good.end()
    proof = prove(part, [ProgramSource("a.nc", ("flat3",), text)], tabs=0)
    assert codes(proof) == set()
    late = Writer().start()
    for points in (half, rest, [(30, 20 - r), (40, 20 - r)]):
        for depth in (2.0, 4.0, 6.2):
            late.line(points, depth)
    proof = prove(part, [ProgramSource("a.nc", ("flat3",), late.end())], tabs=0)
    assert codes(proof) == {"loose"}


def test_lines_are_judged_on_cells_far_wider_than_they_are() -> None:
    line = LineString([(30, 30), (50, 30), (50, 36)])
    part = Part(
        name="knot",
        layer="board",
        outline=shapely.box(20, 20, 60, 40),
        scribes=(Scribe((line,), 0.15),),
    )

    def faults(points: list[tuple[float, float]]) -> set[str]:
        w = Writer().start(spindle=False)
        w.line(points, 0.15)
        program = ProgramSource("scribe.nc", ("drag",), w.end())
        return codes(prove(part, [program], tabs=0, cell=0.8)) - {"not-through"}

    assert faults(list(line.coords)) == set()
    assert faults([(30, 30), (50, 30)]) == {"uncut"}
    assert faults([*line.coords, (55, 36)]) == {"gouge"}
    assert faults([(x, y + 0.1) for x, y in line.coords]) == {"gouge", "uncut"}


def plate_with(*holes: shapely.Polygon, name: str = "dunlin") -> Part:
    outline = shapely.box(20, 20, 60, 45)
    return Part(name=name, layer="board", outline=outline.difference(shapely.union_all(holes)))


def round_plate(writer: Writer) -> str:
    """Cut round the plate after what the writer has already done."""
    writer.profile((20, 20, 60, 45), 1.505, [2.0, 4.0, 6.2], thickness=THICKNESS)
    return writer.end()


def test_a_counter_too_narrow_for_the_rack_stays_closed_and_is_a_caution() -> None:
    programs = [ProgramSource("a.nc", ("flat3",), round_plate(Writer().start()))]
    slit = plate_with(shapely.box(30, 30, 45, 31))
    proof = prove(slit, programs, tabs=0)
    assert proof.passed
    (fault,) = [f for f in proof.faults if f.code == "closed"]
    assert fault.measured == pytest.approx(15)
    wide = plate_with(shapely.box(30, 30, 45, 32.5))  # the rack holds an end mill of 2 mm
    assert codes(prove(wide, programs, tabs=0)) == {"not-through"}


def test_a_counter_that_no_long_enough_cutter_fits_into_is_closed_too() -> None:
    """The 2 mm end mill of the rack is 8 mm long; one that just reaches the underside is not."""
    programs = [ProgramSource("a.nc", ("flat3",), round_plate(Writer().start()))]
    snug = plate_with(shapely.box(30, 30, 45, 32.02))
    assert codes(prove(snug, programs, tabs=0), blockers=False) == {"closed"}
    rack = {k: c for k, c in CUTTERS.items() if k != "flat2"}
    rack["flat2"] = dataclasses.replace(CUTTERS["flat2"], cutting_length_mm=THICKNESS + 0.1)
    wide = plate_with(shapely.box(30, 30, 45, 32.5))
    assert codes(prove(wide, programs, tabs=0, cutters=rack), blockers=False) == {"closed"}


def test_a_round_hole_is_never_given_up() -> None:
    hole = shapely.Point(40, 30).buffer(0.5, quad_segs=32)
    part = dataclasses.replace(plate_with(hole), holes=(Hole(40, 30, 1.0),))
    programs = [ProgramSource("a.nc", ("flat3",), round_plate(Writer().start()))]
    assert codes(prove(part, programs, tabs=0)) == {"not-through"}


def test_a_detail_of_the_outline_may_be_cut_before_the_holes() -> None:
    """A bay of 2.4 mm is cut with 2 mm first, then a hole, then all round with 3 mm."""
    bay = shapely.box(39, 40, 41.4, 46)
    hole = shapely.Point(30, 30).buffer(4, quad_segs=128)
    part = plate_with(bay, hole)
    detail = Writer().start()
    r = 1.005
    around = [(39 + r, 46), (39 + r, 40 + r), (41.4 - r, 40 + r), (41.4 - r, 46)]
    for depth in (2.0, 4.0, 6.2):
        detail.line(around, depth)
    rest = Writer().start()
    rest.circle(30, 30, 4 - 1.505, [2.0, 4.0, 6.2])
    programs = [
        ProgramSource("1.nc", ("flat2",), detail.end()),
        ProgramSource("2.nc", ("flat3",), round_plate(rest)),
    ]
    assert codes(prove(part, programs, tabs=0)) == set()
    turned = [programs[1], programs[0]]
    assert "loose" in codes(prove(part, turned, tabs=0))
