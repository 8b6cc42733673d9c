"""A rack sign of the rowing club, built by hand: a board, a ring and four block letters on it.

Everything is made of boxes and discs, so that areas and places are known without the service.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import LineString, Polygon, box
from shapely.affinity import translate

from letterply.catalogue.model import Beam, Catalogue, Material, MaterialClass, Stock
from letterply.cutting.model import (
    CutPlan,
    Feeds,
    Operation,
    OperationKind,
    Program,
    Reason,
    TimeSum,
)
from letterply.cutting.toolpath import Toolpath
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.proof.model import Fault, HeightField, PartVerdict, ProgramReading, SheetProof
from letterply.requests.shop import HoldDown
from letterply.shapes.regions import as_region
from letterply.sheets.model import PlacedPart, Placement, Sheet
from letterply.stacks.model import Layer, Part, Stack
from letterply.stacks.work import Groove, Hole, Pocket, Scribe

HOSTILE = "<script>alert('&')</script> ]]> \x00\x1b\ud800 Ж \u202e \"quoted\" -->\n"
"""A title as an ill-meaning or clumsy person might write it."""


def disc(x: float, y: float, radius: float) -> Polygon:
    return shapely.Point(x, y).buffer(radius, quad_segs=64)


def letter(kind: str, x: float, y: float, height: float = 40.0) -> Polygon:
    stem = box(0, 0, 8, height)
    shapes = {
        "K": stem
        | Polygon([(6, 17), (22, height), (32, height), (13, 12)])
        | Polygon([(10, 22), (24, 0), (34, 0), (17, 26)]),
        "N": stem | translate(stem, 24) | Polygon([(0, height), (9, height), (32, 0), (23, 0)]),
        "O": disc(18, height / 2, height / 2) - disc(18, height / 2, height / 2 - 8),
        "T": translate(stem, 12) | box(0, height - 8, 32, height),
    }
    return translate(shapes[kind], x, y)


def rack_sign(*, title: str = "Knot rack sign", back: bool = False) -> Stack:
    """Return three layers: board 200 × 90 × 9, ring 6 high on it, letters 3 high on the board."""
    drilled = [(12.0, 78.0), (188.0, 78.0)]
    outline = box(4, 4, 196, 86).buffer(4, quad_segs=32)
    outline = outline - shapely.union_all([disc(x, y, 2.5) for x, y in drilled])
    letters = {k: letter(k, 20 + 42 * n, 25) for n, k in enumerate("KNOT")}
    board = Part(
        "board",
        "board",
        outline,
        holes=(*(Hole(x, y, 5.0) for x, y in drilled), Hole(100, 12, 6.0, depth_mm=4.0)),
        pockets=(Pocket(as_region(box(150, 8, 180, 18)), 3.0),),
        grooves=(Groove(as_region(box(20, 10, 60, 13)), max_depth_mm=1.0),),
        scribes=(
            Scribe((LineString([*letters["T"].exterior.coords]),), 0.2, "placement"),
            Scribe((LineString([(70, 10), (80, 14), (90, 10)]),), 0.2),
        ),
    )
    ring = Part("ring", "ring", disc(100, 75, 8) - disc(100, 75, 4))
    faces = tuple(
        Part(f"face.{k}", "face", shape, letters=k) for k, shape in sorted(letters.items())
    )
    return Stack(
        title,
        (
            Layer("board", "birch-plywood", 9.0, 0.0, (board,), from_back=back),
            Layer("ring", "mdf", 6.0, 9.0, (ring,)),
            Layer("face", "acrylic-cast", 3.0, 9.0, faces),
        ),
        text="KNOT",
        id="0123abcd",
    )


def catalogue() -> Catalogue:
    """Return the three materials of the sign; figures here serve pictures and masses only."""

    def material(key: str, kind: MaterialClass, density: float, colour: str) -> Material:
        return Material(
            key=key,
            name=key.replace("-", " "),
            kind=kind,
            density_kg_per_m3=density,
            bending_strength_mpa=50,
            bending_strength_across_mpa=50,
            elastic_modulus_mpa=5000,
            thermal_expansion_per_k=None,
            moisture_change_percent=1,
            grain=kind is MaterialClass.PLYWOOD,
            min_web_factor=1,
            min_web_mm=2,
            chip_load_mm=(0.05, 0.1),
            pass_depth_factor=0.5,
            max_surface_speed_m_per_min=600,
            beam=Beam.ALLOWED,
            beam_reason="",
            colour=colour,
            thicknesses_mm=(3, 6, 9),
            cautions=("The dust is bad for the lungs: extract it and wear a mask.",),
        )

    materials = (
        material("birch-plywood", MaterialClass.PLYWOOD, 680, "#E2C391"),
        material("mdf", MaterialClass.FIBREBOARD, 750, "#B08D62"),
        material("acrylic-cast", MaterialClass.ACRYLIC, 1190, "#2F6F8F"),
    )
    return Catalogue({m.key: m for m in materials}, {}, {}, {})


def letter_sheet(number: int = 1) -> Sheet:
    """Return a sheet of 260 × 120 with the four letters in a row, the last one turned."""
    stock = Stock("acrylic-half", "acrylic-cast", 3.0, 260, 120, count=2, price=11.5)
    placed = []
    for n, part in enumerate(rack_sign().layer("face").parts):
        left, low, right, _ = part.outline.bounds
        move = Placement(0.0, 10 + 50 * n - left, 20 - low)
        if part.letters == "T":
            move = Placement(180.0, 10 + 50 * n + right, 60 + low)
        placed.append(PlacedPart.at(f"1.{part.name}", 1, part, move))
    return Sheet(number, stock, tuple(placed))


def square_path(x: float, y: float, side: float, z: float) -> Toolpath:
    """Return a path down, round a square, the last side a half circle outward."""
    ends = [(x, y, z), (x + side, y, z), (x + side, y + side, z), (x, y + side, z), (x, y, z)]
    centres = np.full((5, 2), np.nan)
    centres[4] = (x, y + side / 2)
    return Toolpath(
        start=np.array([x, y, 0.0]),
        ends=np.array(ends),
        centres=centres,
        senses=np.array([0, 0, 0, 0, 1], dtype=np.int8),
        rates=np.array([1, 0, 0, 0, 0], dtype=np.int8),
    )


SQUARE_PATH_MM = 3.2 + 3 * 10 + math.pi * 5
"""Length of `square_path(0, 0, 10, -3.2)`: down, three sides, half a circle of radius 5."""


def plan() -> CutPlan:
    sheet = letter_sheet()
    feeds = Feeds(
        18000, 1500, 400, 1.5, 0.04, (Reason("feed_mm_per_min", 1500, "chip load", "a table"),)
    )
    operations = tuple(
        Operation(
            OperationKind.PROFILE,
            "flat-3",
            p.mark,
            (square_path(0, 0, 10, -3.2),),
            3.2,
            feeds,
            tabs=3,
        )
        for p in sheet.parts
    )
    time = TimeSum(100.0, 20.0, 10.0, 30.0)
    program = Program("sheet-1-flat-3.nc", ("flat-3",), "G21\nG90\nM2\n", time)
    marks = {p.mark: 3 for p in sheet.parts}
    return CutPlan(sheet, HoldDown.TABS, 0.2, operations, (program,), marks, time)


def proof(*, passed: bool = True) -> SheetProof:
    """Return a proof whose height field has a through ring round each part, and maybe a gouge."""
    sheet = letter_sheet()
    cell = 0.5
    x, y = np.meshgrid((np.arange(520) + 0.5) * cell, (np.arange(240) + 0.5) * cell)
    parts = shapely.union_all([p.part.outline for p in sheet.parts])
    inside = shapely.contains_xy(parts, x, y)
    cut = shapely.contains_xy(parts.buffer(3), x, y) & ~inside
    carved = np.where(cut, -3.2, 0.0).astype(np.float32)
    wanted = np.where(inside, 0.0, np.nan).astype(np.float32)
    faults: tuple[Fault, ...] = ()
    if not passed:
        # A cut 6 mm square and 2 mm deep into the stem of the K, whose lower left is (10, 20).
        carved[(x > 11) & (x < 17) & (y > 30) & (y < 36)] = -2.0
        text = "The program cuts 2 mm deep into 1.face.K, over 36 mm²."
        faults = (
            Fault("gouge", Severity.BLOCKER, text, "a.nc", 7, (14.0, 33.0), 2.0, 0.05, "mm", "K"),
        )
    return SheetProof(
        1,
        3.0,
        passed,
        faults,
        (PartVerdict("1.face.K", 0.0, 0.0, 0.0, 0.0, True, 3, 3, True),),
        (ProgramReading("a.nc", ("flat-3",), 20, 400.0, 90.0, (0, 0, -3.2), (9, 9, 5), 61.5),),
        HeightField(cell, (0.0, 0.0), carved),
        HeightField(cell, (0.0, 0.0), wanted),
        "The programs leave the parts as wanted." if passed else "One blocker: a part is gouged.",
    )


def findings() -> tuple[Finding, ...]:
    return (
        Finding(
            "corner",
            Severity.CAUTION,
            "The 3 mm cutter leaves this corner round by 0.62 mm.",
            "face",
            "face.K",
            Place("point", ((36.0, 42.0),)),
            0.621,
            0.5,
            remedies=(Remedy(RemedyAction.SWAP_CUTTER, "Take a smaller cutter.", "flat-2"),),
            data=(("interior_angle_deg", 60.0),),
        ),
        Finding(
            "neck",
            Severity.BLOCKER,
            "The ring is 4 mm wide; MDF of 6 mm needs 6 mm.",
            "ring",
            "ring",
            Place("segment", ((104.0, 75.0), (108.0, 75.0))),
            4.0,
            6.0,
        ),
        Finding(
            "web",
            Severity.NOTE,
            "A hole lies near the edge.",
            "board",
            "board",
            Place("polygon", ((8.0, 76.0), (16.0, 76.0), (16.0, 88.0))),
        ),
        Finding("movement", Severity.NOTE, "The layers move apart by 0.2 mm.", measured=0.2),
    )
