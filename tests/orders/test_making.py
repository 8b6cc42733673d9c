"""From a stack to proved programs, for blanks and their fixtures and for frames."""

from __future__ import annotations

import re
from typing import Any

import pytest

from letterply.catalogue import load_catalogue, resolve_shop
from letterply.lettering import FontShelf
from letterply.orders.making import Made, make_plans
from letterply.proof.model import ProgramSource
from letterply.proof.verdict import prove_sheet
from letterply.sheets.model import HoldDown
from letterply.stacks.build import build_stack
from letterply.stacks.recipe import parse_recipe

MACHINES = ("bench-router", "plain-router-inch", "shop-router")


def key_discs(**layer: Any) -> dict[str, Any]:
    """Return five brass discs for the boathouse's keys, worked two at a time."""
    return {
        "title": "Key discs",
        "copies": 5,
        "lettering": {"text": "27", "font": "zilla-slab-bold", "size": {"fit_blank": True}},
        "layers": [
            {
                "name": "disc",
                "material": "brass",
                "thickness": 1,
                "outline": {
                    "kind": "blank", "shape": "circle", "diameter": 30,
                    "hole": {"diameter": 3, "inset": 2},
                    "fixture": {"columns": 2},
                },
                "features": [{"kind": "scribe_lettering"}],
            } | layer
        ],
    }  # fmt: skip


def made(raw: dict[str, Any], **shop: Any) -> Made:
    catalogue = load_catalogue()
    stack = build_stack(parse_recipe(raw), catalogue, FontShelf())
    return make_plans(stack, resolve_shop(shop, catalogue), catalogue)


@pytest.mark.parametrize("machine", MACHINES)
def test_blanks_are_worked_in_their_fixture_from_the_middle_of_the_first(machine: str) -> None:
    plans = made(key_discs(), machine=machine)
    assert plans.ready, [f.why for f in plans.findings]
    board, full, rest = plans.nesting.sheets
    assert [p.mark for p in board.parts] == ["1.disc-fixture"]
    assert [(len(s.parts), s.runs) for s in (full, rest)] == [(2, 2), (1, 1)]
    for plan in plans.plans[1:]:
        assert plan.tabs == dict.fromkeys((p.mark for p in plan.sheet.parts), 0)
        assert {str(op.kind) for op in plan.operations} == {"scribe"}
    (program,) = plans.plans[2].programs
    assert "(zero: x y at the middle of the first blank, z at its" in program.text
    scale = 25.4 if machine == "plain-router-inch" else 1.0
    xs = [float(x) * scale for x in re.findall(r"X(-?[\d.]+)", program.text)]
    assert min(xs) == pytest.approx(-max(xs), abs=0.01)
    assert "run 2 times" in plans.plans[1].programs[0].text


def test_a_carved_blank_is_proved() -> None:
    carved = {"material": "black-walnut", "thickness": 9, "features": [
        {"kind": "groove_lettering"}]}  # fmt: skip
    plans = made(key_discs(**carved))
    assert plans.ready, [f.why for f in plans.findings]
    assert {str(op.kind) for op in plans.plans[1].operations} == {"groove"}


def test_a_blank_on_a_beam_machine_is_no_plan() -> None:
    plans = made(key_discs(material="acrylic-cast", thickness=3), machine="bench-beam")
    assert not plans.ready
    assert any("beam machine" in f.why for f in plans.findings)


@pytest.mark.parametrize(
    ("edit", "code"),
    [
        (lambda text: re.sub(r"G1 Z-0.15", "G1 Z-0.6", text), "gouge"),
        (lambda text: text.replace("M30", "G0 X0 Y20\nG1 Z-0.1 F300\nG1 X3\nG0 Z5\nM30"),
         "outside-stock"),
        (lambda text: text.replace("M30", "G0 X0 Y0\nG1 Z-1.5 F300\nG0 Z5\nM30"), "below-bed"),
    ],
)  # fmt: skip
def test_damage_to_a_blank_or_its_fixture_is_found(edit: Any, code: str) -> None:
    catalogue = load_catalogue()
    shop = resolve_shop({}, catalogue)
    plan = made(key_discs()).plans[2]
    (program,) = plan.programs
    text = edit(program.text)
    assert text != program.text
    proof = prove_sheet(
        plan.sheet,
        [ProgramSource(program.name, program.cutters, text)],
        cutters={c.key: c for c in shop.cutters},
        machine=shop.machine,
        through_mm=plan.through_mm,
        tabs=plan.tabs,
        hold_down=HoldDown.TAPE,
    )
    assert not proof.passed
    assert code in {f.code for f in proof.faults}


def test_a_frame_is_cut_once_however_many_signs_there_are() -> None:
    raw = {
        "title": "Knot",
        "copies": 3,
        "lettering": {"text": "Knot", "font": "archivo-black", "size": {"cap_height": 24}},
        "layers": [
            {"name": "board", "material": "birch-plywood", "thickness": 9,
             "outline": {"kind": "plate", "margin": 12}},
            {"name": "face", "material": "acrylic-cast", "thickness": 3,
             "outline": {"kind": "lettering"}},
        ],
        "align": {"kind": "frame"},
    }  # fmt: skip
    plans = made(raw, machine="shop-router")
    assert plans.ready, [f.why for f in plans.findings]
    marks = [p.mark for s in plans.nesting.sheets for p in s.parts]
    assert marks.count("1.face-frame") == 1
    assert sum("frame" in m for m in marks) == 1
    assert sum("board" in m for m in marks) == 3
