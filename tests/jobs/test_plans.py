"""From a stack to proved programs, for blanks and their fixtures and for frames."""

from __future__ import annotations

import re
from typing import Any

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.jobs.plans import Made, make_plans
from letterply.lettering.fonts.library import FontLibrary
from letterply.proof.model import ProgramSource
from letterply.proof.verdict import prove_sheet
from letterply.requests.recipe import parse_recipe
from letterply.requests.shop import HoldDown
from letterply.stacks.build import build_stack

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
    stack = build_stack(parse_recipe(raw), catalogue, FontLibrary())
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


def board(*features: dict[str, Any], plug: bool = False) -> dict[str, Any]:
    """Return a walnut board with work on it, and a maple plug if asked for."""
    layers: list[dict[str, Any]] = [
        {"name": "board", "material": "black-walnut", "thickness": 9,
         "outline": {"kind": "plate", "margin": 14}, "features": list(features)},
    ]  # fmt: skip
    if plug:
        layers.append({"name": "plug", "material": "sugar-maple", "thickness": 12,
                       "outline": {"kind": "lettering"}})  # fmt: skip
    return {
        "title": "Knot",
        "lettering": {"text": "Knot", "font": "archivo-black", "size": {"cap_height": 30}},
        "layers": layers,
    }


@pytest.mark.parametrize("machine", MACHINES)
def test_an_inlay_pair_is_proved_and_its_corners_are_reached(machine: str) -> None:
    recess = {"kind": "recess", "depth": 3, "of": "plug", "corner": "1/16 in", "clearance": 0.12}
    plans = made(board(recess, plug=True), machine=machine, cutters=["flat-6", "flat-3175"])
    assert plans.ready, [f.why for f in plans.findings]
    assert not [f for f in plans.findings if f.code == "corner"]


def test_an_inlay_with_sharp_corners_is_doubted() -> None:
    recess = {"kind": "recess", "depth": 3, "of": "plug"}
    plans = made(board(recess, plug=True), cutters=["flat-6", "flat-3175"])
    (add_finding,) = [f for f in plans.findings if f.code == "corner"]
    assert "will not go into its recess" in add_finding.why
    assert add_finding.remedies[0].value == pytest.approx(1.5875)


@pytest.mark.parametrize("passes", [1, 2])
def test_grooves_in_the_floor_of_a_recess_are_proved(passes: int) -> None:
    own = {"text": "No 7", "font": "atkinson-hyperlegible", "size": {"cap_height": 9}}
    features = (
        {"kind": "recess", "depth": 2, "of": "lettering", "clearance": 4},
        {"kind": "groove_lettering", "start_depth": 2, "lettering": own},
    )
    raw = board(*features)
    raw["lettering"] |= {"text": "MMM", "font": "archivo-black", "size": {"cap_height": 36}}
    plans = made(raw, groove_passes=passes)
    assert plans.ready, [f.why for f in plans.findings]
    (groove,) = [op for op in plans.plans[0].operations if str(op.kind) == "groove"]
    assert groove.depth_mm > 2


def test_carved_twice_over_is_proved() -> None:
    plans = made(board({"kind": "groove_lettering", "max_depth": 2.5}), groove_passes=2)
    assert plans.ready, [f.why for f in plans.findings]


def test_middle_lines_are_proved() -> None:
    plans = made(board({"kind": "scribe_lettering", "style": "centre"}))
    assert plans.ready, [f.why for f in plans.findings]
    (scribe,) = [op for op in plans.plans[0].operations if str(op.kind) == "scribe"]
    assert 4 <= len(scribe.paths) <= 12
