"""Parts cut out of another's counter: good orders pass, each wrong one is found by its name."""

from __future__ import annotations

import pytest
import shapely

from letterply.proof.judging.holding import find_nested_parts
from letterply.proof.model import ProgramSource
from letterply.requests.shop import HoldDown
from letterply.stacks.model import Part
from proof.rack_sign import THICKNESS, THROUGH, codes, prove, sheet_of
from proof.simple_program import Writer

RADIUS = 1.505
"""Half of the 3 mm end mill, and the 0.005 mm by which a path errs outward."""
DEPTHS = [2.0, 4.0, THICKNESS + THROUGH]
CONTAINER_BOX = (20.0, 20.0, 140.0, 100.0)
COUNTER = (80.0, 60.0, 28.0)
NESTED_BOX = (70.0, 54.0, 90.0, 66.0)


def ring(x: float, y: float, radius: float) -> shapely.Polygon:
    return shapely.Point(x, y).buffer(radius, quad_segs=128)


CONTAINER = Part("knot", "board", shapely.box(*CONTAINER_BOX).difference(ring(*COUNTER)))
NESTED = Part("dot", "board", shapely.box(*NESTED_BOX))


def text(order: str, *, tabs: tuple[str, ...] = ("left", "right")) -> str:
    """Cut nested part (g), counter (c), the container's outline (h), in an order; k: a late (g)."""
    w = Writer().start()
    for step in order:
        if step == "c":
            x, y, r = COUNTER
            w.circle(x, y, r - RADIUS, DEPTHS)
        elif step == "k":
            w.line([(72.0, 54.0 - RADIUS), (76.0, 54.0 - RADIUS)], 3.0)
        else:
            w.profile(
                NESTED_BOX if step == "g" else CONTAINER_BOX,
                RADIUS,
                DEPTHS,
                tab_height=1.2,
                tab_at=tabs if step == "g" else ("left", "right", "top"),
                tab_path=2.0 + 2 * RADIUS,
                thickness=THICKNESS,
            )
    return w.end()


def judged(order: str, *, hold_down: HoldDown = HoldDown.TABS, **more: tuple[str, ...]) -> set[str]:
    programs = [ProgramSource("mill.nc", ("flat3",), text(order, **more))]
    counts = {"1.knot": 3, "1.dot": len(more.get("tabs", ("left", "right")))}
    return codes(prove((CONTAINER, NESTED), programs, tabs=counts, hold_down=hold_down))


def test_a_nested_part_cut_before_its_counter_and_that_before_the_outline_passes() -> None:
    assert judged("gch") == set()


@pytest.mark.parametrize("order", ["cgh", "chg", "hgc", "hcg", "ghc", "gckh"])
def test_any_other_order_is_found(order: str) -> None:
    assert "order" in judged(order) <= {"order", "loose"}


def test_a_nested_part_without_tabs_is_loose_in_its_slug_but_not_touched_again() -> None:
    assert judged("gch", tabs=()) == set()
    assert "loose" in judged("gkch", tabs=())


def test_the_counter_of_a_nested_part_must_be_cut_through() -> None:
    assert judged("gh") == {"not-through"}


def test_two_programs_are_judged_in_the_order_in_which_they_are_run() -> None:
    """A smaller cutter that is put in first must not cut the counter before the nested part."""
    first, second = text("c"), text("gh")
    programs = [ProgramSource("1.nc", ("flat3",), first), ProgramSource("2.nc", ("flat3",), second)]
    tabs = {"1.knot": 3, "1.dot": 2}
    assert codes(prove((CONTAINER, NESTED), programs, tabs=tabs)) == {"order", "loose"}


def test_the_cutter_of_a_nested_part_is_not_taken_for_that_of_its_counter() -> None:
    """The counter is cut by 6 mm, what lies in it by 2 mm: each ring is judged by its own."""
    w = Writer().start()
    for k in range(3):
        left, low, right, high = (72.0 + 7 * k, 50.0, 75.0 + 7 * k, 70.0)
        w.profile((left, low, right, high), 1.005, DEPTHS)
    big = Writer().start()
    x, y, r = COUNTER
    big.circle(x, y, r - 3.005, DEPTHS)
    big.profile(CONTAINER_BOX, 3.005, DEPTHS)
    nested_parts = tuple(
        Part(f"bar{k}", "board", shapely.box(72 + 7 * k, 50, 75 + 7 * k, 70)) for k in range(3)
    )
    programs = [
        ProgramSource("1.nc", ("flat2",), w.end()),
        ProgramSource("2.nc", ("flat6",), big.end()),
    ]
    found = prove((CONTAINER, *nested_parts), programs, tabs=0, hold_down=HoldDown.TAPE)
    assert codes(found) == set()
    swapped = prove((CONTAINER, *nested_parts), programs[::-1], tabs=0, hold_down=HoldDown.TAPE)
    assert codes(swapped) == {"order"}


def test_nested_parts_of_nested_parts_belong_to_all_around_them() -> None:
    outer = Part("a", "board", ring(50, 50, 40).difference(ring(50, 50, 30)))
    middle = Part("b", "board", ring(50, 50, 20).difference(ring(50, 50, 10)))
    inner = Part("c", "board", ring(50, 50, 4))
    beside = Part("d", "board", ring(150, 50, 4))
    found = find_nested_parts(sheet_of(outer, middle, inner, beside).parts)
    assert [len(nested_parts) for nested_parts in found] == [2, 1, 0, 0]


@pytest.mark.parametrize("depth", [1.0, 3.0, THICKNESS + THROUGH])
@pytest.mark.parametrize("late", [True, False])
def test_what_comes_loose_is_found_at_the_step_that_meets_it(late: bool, depth: float) -> None:
    """The slug of a counter, held until its ring is through: a cut into it is loose only then."""
    w = Writer().start()
    x, y, r = COUNTER
    slot = [(x - 10, y), (x + 10, y)]
    if not late:
        w.line(slot, depth)
    w.circle(x, y, r - RADIUS, DEPTHS)
    if late:
        w.line(slot, depth)
    w.profile(
        CONTAINER_BOX, RADIUS, DEPTHS, tab_height=1.2, tab_at=("left", "right", "top"),
        tab_path=2.0 + 2 * RADIUS, thickness=THICKNESS,
    )  # fmt: skip
    program = w.end()
    proof = prove(CONTAINER, [ProgramSource("mill.nc", ("flat3",), program)], tabs=3)
    found = [f for f in proof.faults if f.code == "loose"]
    assert bool(found) is late
    if late:
        lines = program.split("\n")
        cut = next(i for i, one in enumerate(lines, 1) if one.startswith(f"G1 X{x + 10:.4f}"))
        assert abs((found[0].line or 0) - cut) <= 2
