"""Parts in the counters of others: cut first, then the counter, then the outline; and proved so."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from shapely import Polygon, box
from shapely.affinity import rotate

from cutting.hand_made import corner_piece, disc, flat, part, region, ring, shop
from letterply.catalogue.model import Stock
from letterply.catalogue.shop import resolve_shop
from letterply.cutting.model import OperationKind
from letterply.cutting.plan import part_spacing, plan_sheet
from letterply.cutting.program import Tooling, write_program
from letterply.findings import Severity
from letterply.proof.model import ProgramSource, Setup
from letterply.proof.verdict import prove_sheet
from letterply.requests.shop import HoldDown
from letterply.sheets import WorkZero
from letterply.sheets.model import PlacedPart, Placement, Sheet
from letterply.sheets.nested.counters import containers_by_mark
from letterply.stacks.work import Pocket

HOLDS = [HoldDown.TABS, HoldDown.TAPE, HoldDown.SKIN]


def star(outer: float, inner: float) -> Polygon:
    """Return a disc with a counter of many corners, into which a large cutter does not get."""
    spikes = [rotate(box(-inner, -1.0, inner, 1.0), 22.5 * k, origin=(0, 0)) for k in range(8)]
    return disc(0, 0, outer).difference(shapely.union_all([disc(0, 0, 0.7 * inner), *spikes]))


def there(*parts_at: tuple[Polygon, float, float], thickness: float = 6.0) -> Sheet:
    """Put outlines where they are wanted on one sheet."""
    placed = []
    for number, (outline, x, y) in enumerate(parts_at, start=1):
        source = part(outline, f"board.P{number}")
        placed.append(PlacedPart.at(f"1.{source.name}", 1, source, Placement(0.0, x, y)))
    return Sheet(1, Stock("s", "mdf", thickness, 300.0, 200.0, 1), tuple(placed))


def proved(plan, rack, operations=None):
    """Prove a plan, or the same operations in another order."""
    programs = [ProgramSource(p.name, p.cutters, p.text) for p in plan.programs]
    if operations is not None:
        cutters = {c.key: c for c in rack.cutters}
        (key,) = {op.cutter for op in operations}
        tooling = [Tooling(cutters[key], tuple(operations))]
        thick = plan.sheet.stock.thickness_mm
        program = write_program(
            "other.nc",
            ["letterply"],
            tooling,
            rack.machine,
            WorkZero.of_corner(rack.machine, thick),
        )
        programs = [ProgramSource(program.name, program.cutters, program.text)]
    return prove_sheet(
        plan.sheet,
        programs,
        Setup(
            cutters={c.key: c for c in rack.cutters},
            machine=rack.machine,
            through_mm=plan.through_mm,
            hold_down=plan.hold_down,
            tabs=plan.tabs,
            power=rack.power[0] if rack.power else None,
        ),
    )


def blockers(proof):
    return {f.code for f in proof.faults if f.severity is Severity.BLOCKER}


def places(plan):
    """Return mark -> first and last number of its operations along outlines."""
    found: dict[str, tuple[int, int]] = {}
    for number, op in enumerate(plan.operations):
        if op.kind is OperationKind.PROFILE:
            first, _ = found.get(op.mark, (number, number))
            found[op.mark] = first, number
    return found


NESTED = there((ring(80, 66), 100, 100), (ring(40, 28), 100, 100), (disc(0, 0, 10), 100, 100),
               (box(0, 0, 30, 30), 220, 80))  # fmt: skip


@pytest.mark.parametrize("hold_down", HOLDS)
def test_what_lies_innermost_is_cut_first_and_the_proof_agrees(catalogue, hold_down):
    rack = shop(catalogue, "flat-3175", hold_down=hold_down)
    made = plan_sheet(NESTED, rack, catalogue, part_spacing(rack, catalogue.material("mdf"), 6.0))
    at = places(made)
    assert at["1.board.P3"][1] < at["1.board.P2"][0] <= at["1.board.P2"][1] < at["1.board.P1"][0]
    assert blockers(proved(made, rack)) == set()
    lines = made.programs[0].text.splitlines()
    assert "(2 parts lie in counters, cut before the part around: keep what drops out)" in lines


@pytest.mark.parametrize("hold_down", HOLDS)
@pytest.mark.parametrize("late", ["1.board.P2", "1.board.P3"])
def test_a_counter_cut_before_what_lies_in_it_does_not_pass(catalogue, hold_down, late):
    rack = shop(catalogue, "flat-3175", hold_down=hold_down)
    made = plan_sheet(NESTED, rack, catalogue, 10.0)
    last = [op for op in made.operations if op.mark == late]
    containers = containers_by_mark(NESTED.parts)
    counter = [op for op in made.operations if op.mark == containers[late] and op.inside]
    rest = [op for op in made.operations if op not in last and op not in counter]
    # Counter, nested part, and all else after them: only the nested part is too late.
    wrong = proved(made, rack, [*counter, *last, *rest])
    told = [f for f in wrong.faults if f.code == "order" and f.mark == containers[late]]
    assert told
    assert "hole" in told[0].text
    assert told[0].line
    assert blockers(proved(made, rack, made.operations)) == set()


def test_two_containers_keep_their_nested_parts_apart_and_the_way_short(catalogue):
    rack = shop(catalogue, "flat-3175")
    sheet = there(
        (ring(45, 35), 60, 60), (ring(45, 35), 180, 60),
        (box(0, 0, 16, 12), 45, 50), (box(0, 0, 16, 12), 70, 50), (box(0, 0, 16, 12), 172, 54),
    )  # fmt: skip
    made = plan_sheet(sheet, rack, catalogue, 9.35)
    marks = list(dict.fromkeys(op.mark for op in made.operations))
    assert set(marks[:2]) in ({"1.board.P3", "1.board.P4"}, {"1.board.P5", "1.board.P2"})
    assert (
        marks.index("1.board.P1") - min(marks.index("1.board.P3"), marks.index("1.board.P4")) == 2
    )
    assert marks.index("1.board.P2") - marks.index("1.board.P5") == 1
    assert blockers(proved(made, rack)) == set()


def test_a_counter_that_the_detail_cutter_cuts_has_its_nested_part_cut_by_it_too(catalogue):
    """The detail cutter is put in first: a nested part left to the large one comes too late."""
    rack = shop(catalogue, flat(6.0), flat(1.0))
    cutters = []
    for x in (200, 80):
        made = plan_sheet(
            there((star(60, 40), 80, 80), (disc(0, 0, 9), x, 80)), rack, catalogue, 15
        )
        assert blockers(proved(made, rack)) == set()
        cutters.append([op.cutter for op in made.operations if op.mark == "1.board.P2"])
    assert cutters == [["f6"], ["f1"]]


POWER = [{"material": "mdf", "thickness": 3, "cut": 70}]


def test_a_beam_cuts_what_lies_in_a_counter_first(catalogue):
    rack = resolve_shop({"machine": "bench-beam", "power": POWER}, catalogue)
    sheet = replace(NESTED, stock=replace(NESTED.stock, thickness_mm=3.0))
    made = plan_sheet(sheet, rack, catalogue, 4.0)
    at = places(made)
    assert at["1.board.P3"][1] < at["1.board.P2"][0] <= at["1.board.P2"][1] < at["1.board.P1"][0]
    assert blockers(proved(made, rack)) == set()


def test_face_work_of_a_nested_part_comes_before_the_counter_too(catalogue):
    rack = shop(catalogue)
    sheet = there((ring(80, 66), 100, 100), (corner_piece(), 85, 85))
    container, nested_part = sheet.parts
    inner = box(2, 2, 10, 36)
    worked = part(corner_piece(), "board.P2", pockets=(Pocket(region(inner), 2.0),))
    sheet = replace(
        sheet, parts=(container, PlacedPart.at("1.board.P2", 1, worked, nested_part.placement))
    )
    made = plan_sheet(sheet, rack, catalogue, 9.35)
    numbers = [n for n, op in enumerate(made.operations) if op.mark == "1.board.P2"]
    assert max(numbers) < min(
        n for n, op in enumerate(made.operations) if op.mark == "1.board.P1" and not op.note
    )
    assert blockers(proved(made, rack)) == set()
