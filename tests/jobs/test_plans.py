"""From a stack to proved programs, for blanks and their fixtures and for frames."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import shapely

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.jobs.plans import Made, make_plans, make_sheet_plan
from letterply.lettering.fonts.library import FontLibrary
from letterply.proof.model import ProgramSource, Setup
from letterply.proof.verdict import prove_sheet
from letterply.requests.recipe import parse_recipe
from letterply.requests.shop import HoldDown
from letterply.sheets.model import PlacedPart
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
    assert "(zero: x and y at the middle of the lower left pocket, " in program.text
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
        Setup(
            cutters={c.key: c for c in shop.cutters},
            machine=shop.machine,
            through_mm=plan.through_mm,
            hold_down=HoldDown.TAPE,
            tabs=plan.tabs,
        ),
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
    assert "does not go into the corners of its recess" in add_finding.why
    assert add_finding.remedies[0].value == pytest.approx(1.5875)


@pytest.mark.parametrize("passes", [1, 2])
def test_grooves_in_the_floor_of_a_recess_are_proved(passes: int) -> None:
    own = {"text": "No 7", "font": "atkinson-hyperlegible", "size": {"cap_height": 9}}
    features = (
        {"kind": "recess", "depth": 2, "of": "lettering", "clearance": 4},
        {"kind": "groove_lettering", "from_depth": 2, "lettering": own},
    )
    raw = board(*features)
    raw["lettering"] |= {"text": "MMM", "font": "archivo-black", "size": {"cap_height": 36}}
    plans = made(raw, groove_passes=passes)
    assert plans.ready, [f.why for f in plans.findings]
    (groove,) = [op for op in plans.plans[0].operations if str(op.kind) == "groove"]
    assert groove.depth_mm > 2


def test_carved_twice_over_is_proved() -> None:
    plans = made(board({"kind": "groove_lettering", "floor_at": 2.5}), groove_passes=2)
    assert plans.ready, [f.why for f in plans.findings]


def test_middle_lines_are_proved() -> None:
    plans = made(board({"kind": "scribe_lettering", "style": "centre"}))
    assert plans.ready, [f.why for f in plans.findings]
    (scribe,) = [op for op in plans.plans[0].operations if str(op.kind) == "scribe"]
    assert 4 <= len(scribe.paths) <= 12


DEPLOY = Path(__file__).parents[2] / "deploy"


def edged(*features: dict[str, Any], **layer: Any) -> dict[str, Any]:
    """Return two boards of 60 by 40 mm, worked over their edges."""
    board = {
        "name": "board", "material": "ponderosa-pine", "thickness": 18,
        "outline": {"kind": "plate", "width": 60, "height": 40}, "features": list(features),
    }  # fmt: skip
    return {"title": "Lane board", "copies": 2, "layers": [board | layer]}


def bar(length: float, wide: float, **work: Any) -> dict[str, Any]:
    """Return a level bar as work on a layer."""
    svg = (
        f'<svg width="{length}mm" height="{wide}mm" viewBox="0 0 {length} {wide}">'
        f'<rect width="{length}" height="{wide}"/></svg>'
    )
    return {"kind": "artwork", "artwork": {"svg": svg}, **work}


OVER = {
    "groove": [bar(90, 5, work="groove", angle=90)],
    "groove with a floor": [bar(90, 14, work="groove", depth=2, angle=60)],
    "recess": [bar(90, 14, work="recess", depth=4)],
    "recess all over": [bar(90, 60, work="recess", depth=1)],
    "rebate": [bar(90, 20, work="recess", depth=4, place={"y": -20})],
    "deep recess": [bar(90, 14, work="recess", depth=16.8)],
    "scribed": [bar(90, 14, work="scribe")],
    "slanting": [bar(90, 5, work="groove", angle=60) | {"artwork": {
        "svg": bar(90, 5)["artwork"]["svg"], "turn": 30}}],
    "across a hole": [{"kind": "holes", "diameter": 12, "at": "centre"},
                      bar(90, 5, work="groove", angle=90)],
}  # fmt: skip


@pytest.mark.parametrize("kind", OVER)
def test_work_over_the_edge_is_cut_and_proved_and_leaves_its_neighbour_alone(kind: str) -> None:
    done = made(edged(*OVER[kind]), machine="bench-router", hold_down="tabs")
    faults = [f for p in done.proofs for f in p.faults]
    assert done.ready, faults
    assert not [f for f in faults if f.code in ("rounded", "shallow")]
    (sheet,) = done.nesting.sheets
    apart = sheet.parts[0].part.outline.distance(sheet.parts[1].part.outline)
    assert apart > max(p.part.overrun_mm for p in sheet.parts) > 0


@pytest.mark.parametrize("kind", [k for k in OVER if k != "scribed"])
def test_work_that_stops_short_of_the_edge_is_caught_as_uncut(kind: str) -> None:
    """The seeded fault: programs of parts whose work was clipped to them, held to the parts."""
    catalogue = load_catalogue()
    shop = resolve_shop({"machine": "bench-router", "hold_down": "tape"}, catalogue)
    done = made(edged(*OVER[kind]), machine="bench-router", hold_down="tape")
    (sheet,) = done.nesting.sheets

    def clipped(placed: PlacedPart) -> PlacedPart:
        part = placed.source
        short = replace(
            part,
            grooves=tuple(replace(g, over=None) for g in part.grooves),
            pockets=tuple(replace(p, over=None) for p in part.pockets),
        )
        return PlacedPart.at(placed.mark, placed.copy, short, placed.placement)

    short = replace(sheet, parts=tuple(clipped(p) for p in sheet.parts))
    plan, proof, _ = make_sheet_plan(short, shop, catalogue, done.nesting.spacing_mm)
    assert proof.passed, proof.faults  # what it wants was clipped too
    judged = prove_sheet(
        done.plans[0].sheet,
        [ProgramSource(p.name, p.cutters, p.text) for p in plan.programs],
        Setup(
            cutters={c.key: c for c in shop.cutters},
            machine=shop.machine,
            through_mm=plan.through_mm,
            hold_down=plan.hold_down,
            tabs=plan.tabs,
        ),
    )
    uncut = [f for f in judged.faults if f.code == "uncut"]
    assert uncut, judged.faults
    assert not judged.passed
    for fault in uncut:
        placed = next(p for p in sheet.parts if p.mark == fault.mark)
        at = shapely.Point(fault.where)
        rings = [placed.part.outline.exterior, *placed.part.outline.interiors]
        assert min(at.distance(ring) for ring in rings) < 4


def test_work_that_runs_over_the_edge_keeps_out_of_the_margin() -> None:
    """Parts keep what a cutter takes beside them from it: that is room for such work, too."""
    narrow = {
        "key": "offcut", "material": "ponderosa-pine", "thickness_mm": 18, "width_mm": 150,
        "height_mm": 60, "count": 1, "margin_mm": 1,
    }  # fmt: skip
    long = bar(130, 14, work="groove", depth=2, angle=60)
    done = made(edged(long), machine="bench-router", stock=[narrow])
    assert not [f for f in done.findings if f.code == "edge"]
    assert all(p.passed for p in done.proofs)


def test_the_race_board_is_cut_over_all_four_edges() -> None:
    raw = json.loads((DEPLOY / "recipes/race-board.json").read_text("utf-8"))
    done = made(raw, **json.loads((DEPLOY / "shops/race-board.json").read_text("utf-8")))
    assert done.ready, done.findings
    (proof,) = done.proofs
    (placed,) = done.plans[0].sheet.parts
    left, low, right, high = placed.part.outline.bounds
    assert (right - left, high - low) == pytest.approx((400, 400))
    # 90 degrees, 4 mm wide: 2 mm deep, half a millimetre inside each edge as in the middle.
    xs, ys = proof.carved.centres
    for x, y in [(50, 0.5), (50, 399.5), (0.5, 50), (399.5, 50), (350, 399.5), (399.5, 350)]:
        column = int(abs(xs - left - x).argmin())
        row = int(abs(ys - low - y).argmin())
        near = proof.carved.z[row - 2 : row + 3, column - 2 : column + 3]
        assert near.min() == pytest.approx(-2.0, abs=0.1)
    assert done.plans[0].tabs[placed.mark] >= 3
