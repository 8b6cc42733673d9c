"""Grooves with a flat floor: V-bit and end mill share the work."""

from __future__ import annotations

import math

import pytest
import shapely

from letterply.proof.model import ProgramSource
from letterply.stacks.model import Part
from letterply.stacks.work import Groove
from proof.rack_sign import THICKNESS, box, codes, prove
from proof.simple_program import Writer

LIMIT = 2.0
IN = LIMIT * math.tan(math.radians(30))
GROOVE = (30.0, 28.0, 50.0, 38.0)
PART = Part(
    name="turnstone",
    layer="board",
    outline=shapely.box(20, 20, 60, 45),
    grooves=(Groove(box(*GROOVE), LIMIT),),
)


def carve(*, depth: float = LIMIT, corners: bool = True) -> str:
    """Carve the walls: from each corner down to the floor's corner, and round the floor's edge."""
    left, low, right, high = GROOVE
    floor = [
        (left + IN, low + IN), (right - IN, low + IN), (right - IN, high - IN),
        (left + IN, high - IN),
    ]  # fmt: skip
    tips = [(left, low), (right, low), (right, high), (left, high)]
    w = Writer().start()
    w.rapid(*floor[3])
    w.down(-depth)
    for inner, outer in zip(floor, tips, strict=True):
        w.cut(*inner)
        if corners:
            w.cut(*outer, 0)
            w.cut(*inner, -depth)
    w.cut(*floor[3])
    w.lift()
    return w.end()


def clear() -> str:
    left, low, right, high = GROOVE
    w = Writer().start()
    w.pocket((left + IN, low + IN, right - IN, high - IN), 1.005, LIMIT, 1.6)
    return w.end()


def outline() -> str:
    w = Writer().start()
    w.profile((20, 20, 60, 45), 1.505, [2.0, 4.0, 6.2], thickness=THICKNESS)
    return w.end()


def programs(groove: str, floor: str | None) -> list[ProgramSource]:
    found = [ProgramSource("1.nc", ("v60",), groove), ProgramSource("3.nc", ("flat3",), outline())]
    if floor is not None:
        found.insert(0, ProgramSource("0.nc", ("flat2",), floor))
    return found


def test_a_flat_floor_is_as_wanted_but_for_its_corners() -> None:
    """The 2 mm end mill leaves (4 - pi) r^2 in the four corners of the floor: plane geometry."""
    proof = prove(PART, programs(carve(), clear()), tabs=0)
    assert codes(proof) == set()
    (fault,) = [f for f in proof.faults if f.code == "shallow"]
    assert fault.measured == pytest.approx(math.sqrt(2) - 1, abs=0.02)


def test_a_floor_that_no_end_mill_clears_is_left() -> None:
    assert codes(prove(PART, programs(carve(), None), tabs=0)) == {"uncut"}


def test_corners_that_the_bit_does_not_enter_are_left() -> None:
    assert codes(prove(PART, programs(carve(corners=False), clear()), tabs=0)) == {"uncut"}


def test_walls_carved_below_the_limit_are_too_deep() -> None:
    assert codes(prove(PART, programs(carve(depth=2.2), clear()), tabs=0)) == {"gouge"}
