"""Cutters, machine, and one sheet with a rack sign that has every kind of feature."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from shapely import LineString, MultiPolygon

from letterply.catalogue.kept_clear import KeptClear
from letterply.catalogue.machines import Machine
from letterply.catalogue.model import Cutter, CutterKind, Material, Stock
from letterply.catalogue.outlines import Rings
from letterply.proof.model import ProgramSource, Setup, SheetProof
from letterply.proof.verdict import prove_sheet
from letterply.requests.shop import BeamPower, HoldDown
from letterply.sheets.model import PlacedPart, Placement, Sheet
from letterply.stacks.model import Part
from letterply.stacks.work import Groove, Hole, Pocket, Scribe
from proof.simple_program import Writer

Box = tuple[float, float, float, float]

CUTTERS = {
    c.key: c
    for c in (
        Cutter("flat3", "3 mm end mill", CutterKind.FLAT, 3.0, 2, 12.0),
        Cutter("flat6", "6 mm end mill", CutterKind.FLAT, 6.0, 2, 20.0),
        Cutter("flat2", "2 mm end mill", CutterKind.FLAT, 2.0, 1, 8.0),
        Cutter("flat3-side", "3 mm end mill, no centre", CutterKind.FLAT, 3.0, 2, 12.0,
               can_plunge=False),
        Cutter("flat3-short", "3 mm end mill, short", CutterKind.FLAT, 3.0, 2, 4.0),
        Cutter("v60", "60 degree V-bit", CutterKind.VBIT, 12.0, 2, 10.0, 60.0),
        Cutter("v90", "90 degree V-bit", CutterKind.VBIT, 12.0, 2, 6.0, 90.0),
        Cutter("v60-tip", "60 degree V-bit, flat tip", CutterKind.VBIT, 12.0, 2, 10.0, 60.0, 0.3),
        Cutter("drill3", "3 mm drill", CutterKind.DRILL, 3.0, 2, 30.0, 118.0),
        Cutter("drill2", "2 mm drill", CutterKind.DRILL, 2.0, 2, 30.0, 118.0),
        Cutter("drag", "drag point", CutterKind.DRAG, 0.4, 0, 0.6, 90.0),
        Cutter("beam", "beam", CutterKind.BEAM, 0.2, 0, 10.0),
    )
}  # fmt: skip

MACHINE = Machine(
    key="bench", name="Bench router", kind="router", bed_mm=(400.0, 300.0), z_travel_mm=80.0,
    max_feed_mm_per_min=4000.0, max_plunge_mm_per_min=1500.0, rapid_mm_per_min=5000.0,
    rapid_z_mm_per_min=2000.0, acceleration_mm_per_s2=400.0, corner_slack_mm=0.02,
    spindle_min_rpm=8000.0, spindle_max_rpm=24000.0, spindle_off=True, safe_height_mm=5.0,
    zero="top", units="mm", decimals=4, arcs=True, line_end="lf", program_mark=False,
    tool_change="program", spin_up_s=2.0, start_words=(), end_words=(), end_word="M30",
    tool_change_s=60.0,
)  # fmt: skip

THICKNESS = 6.0
THROUGH = 0.2
DRILL_TIP = 1.5 / 1.6642794823505174
"""Tip length of a 3 mm drill of 118 degrees: d / (2 tan 59 degrees)."""


def sheet_of(
    *parts: Part,
    width: float = 200.0,
    height: float = 120.0,
    margin: float = 0.0,
    keep_clear: tuple[KeptClear, ...] = (),
    outline: Rings = (),
) -> Sheet:
    """Put parts on a stock sheet where they are."""
    stock = Stock(
        "ply", "birch-plywood", THICKNESS, width, height, 1, margin,
        keep_clear=keep_clear, outline_mm=outline,
    )  # fmt: skip
    placed = tuple(PlacedPart.at(f"1.{p.name}", 1, p, Placement(0, 0, 0)) for p in parts)
    return Sheet(1, stock, placed)


def box(left: float, low: float, right: float, high: float) -> MultiPolygon:
    """Return a rectangle as a region."""
    return MultiPolygon([shapely.box(left, low, right, high)])


@dataclass
class Sign:
    """A rack sign with every feature, and the knobs that tests turn.

    The part is `width` by `height` with its lower left at (x, y). It carries a scribed line, a
    grooved bar, a blind and a through hole that are drilled, a round window and a pocket that
    are milled.
    """

    x: float = 20.0
    y: float = 15.0
    width: float = 80.0
    height: float = 50.0
    pocket_depth: float = 2.5
    groove_width: float = 5.0
    tabs: tuple[str, ...] = ("left", "right", "top", "bottom")
    tab_height: float = 1.2
    tab_length: float = 5.0
    cutter: str = "flat3"
    bit: str = "v60"
    offset: float = 0.005
    milled_cutter: str | None = None

    @property
    def radius(self) -> float:
        """Radius of the end mill."""
        return CUTTERS[self.cutter].radius_mm

    @property
    def outline_box(self) -> Box:
        """Left, low, right and high of the part."""
        return self.x, self.y, self.x + self.width, self.y + self.height

    @property
    def pocket_box(self) -> Box:
        """Box of the pocket."""
        return self.x + 8, self.y + 8, self.x + self.width / 2 - 4, self.y + self.height / 2 - 2

    @property
    def groove_box(self) -> Box:
        """Box of the grooved bar."""
        y = self.y + self.height * 0.7
        return self.x + 12, y, self.x + self.width - 12, y + self.groove_width

    @property
    def window(self) -> tuple[float, float, float]:
        """Centre and radius of the round window."""
        return self.x + self.width * 0.75, self.y + self.height * 0.35, 6.0

    @property
    def drilled(self) -> tuple[float, float]:
        """Centre of the drilled through hole."""
        return self.x + 6, self.y + self.height - 6

    @property
    def blind(self) -> tuple[float, float]:
        """Centre of the blind hole."""
        return self.x + self.width - 6, self.y + self.height - 6

    @property
    def scribed(self) -> list[tuple[float, float]]:
        """Points of the scribed line."""
        y = self.y + self.height - 7
        return [(self.x + 12, y), (self.x + self.width - 12, y)]

    def part(self) -> Part:
        """Return the part, in the sheet's frame."""
        wx, wy, wr = self.window
        dx, dy = self.drilled
        round_window = shapely.Point(wx, wy).buffer(wr, quad_segs=128)
        round_hole = shapely.Point(dx, dy).buffer(1.5, quad_segs=64)
        outline = shapely.box(*self.outline_box).difference(round_window).difference(round_hole)
        bx, by = self.blind
        return Part(
            name="avocet",
            layer="board",
            outline=shapely.orient_polygons(outline),
            holes=(Hole(dx, dy, 3.0), Hole(bx, by, 3.0, 3.0, "dowel")),
            pockets=(Pocket(box(*self.pocket_box), self.pocket_depth),),
            grooves=(Groove(box(*self.groove_box)),),
            scribes=(Scribe((LineString(self.scribed),), 0.15),),
        )

    def scribe_text(self, *, depth: float = 0.15, spindle: bool = False) -> str:
        """Return the program of the drag point."""
        w = Writer().start(spindle=spindle)
        w.line(self.scribed, depth)
        return w.end()

    def groove_text(self) -> str:
        """Return the program of the V-bit."""
        w = Writer().start()
        bit = CUTTERS[self.bit]
        w.groove(self.groove_box, bit.half_angle_tan, bit.tip_diameter_mm)
        return w.end()

    def drill_text(self) -> str:
        """Return the program of the drill."""
        w = Writer().start()
        w.drill(*self.blind, 3.0)
        w.drill(*self.drilled, THICKNESS + THROUGH + DRILL_TIP)
        return w.end()

    def mill(self, w: Writer, *, order: str = "pwo") -> Writer:
        """Add pocket (p), window (w) and outline (o) in an order."""
        r = self.radius
        depths = [2.0, 4.0, THICKNESS + THROUGH]
        wx, wy, wr = self.window
        for step in order:
            if step == "p":
                w.pocket(self.pocket_box, r + self.offset, self.pocket_depth, 1.6 * r)
            elif step == "w":
                w.circle(wx, wy, wr - r - self.offset, depths)
            elif step == "o":
                self.outline(w, depths)
        return w

    def outline(self, w: Writer, depths: list[float]) -> None:
        """Add the passes round the outline."""
        w.profile(
            self.outline_box,
            self.radius + self.offset,
            depths,
            tab_height=self.tab_height,
            tab_at=self.tabs,
            tab_path=self.tab_length + 2 * self.radius,
            thickness=THICKNESS,
        )

    def mill_text(self, *, order: str = "pwo") -> str:
        """Return the program of the end mill."""
        return self.mill(Writer().start(), order=order).end()

    def programs(self) -> list[ProgramSource]:
        """Return the good programs, in order of use."""
        return [
            ProgramSource("1-scribe.nc", ("drag",), self.scribe_text()),
            ProgramSource("2-groove.nc", (self.bit,), self.groove_text()),
            ProgramSource("3-drill.nc", ("drill3",), self.drill_text()),
            ProgramSource("4-mill.nc", (self.cutter,), self.mill_text()),
        ]


def prove(
    parts: Part | tuple[Part, ...],
    programs: Sequence[ProgramSource],
    *,
    tabs: int | Mapping[str, int] = 4,
    hold_down: HoldDown = HoldDown.TABS,
    machine: Machine = MACHINE,
    through: float = THROUGH,
    cell: float | None = 0.1,
    tab_height: float | None = 1.2,
    tab_foot: float = 5.0,
    cutters: dict[str, Cutter] = CUTTERS,
    power: BeamPower | None = None,
    material: Material | None = None,
    margin: float = 0.0,
    keep_clear: tuple[KeptClear, ...] = (),
    outline: Rings = (),
    absent: Sequence[str] = (),
) -> SheetProof:
    """Prove programs for parts where they lie."""
    several = parts if isinstance(parts, tuple) else (parts,)
    sheet = sheet_of(*several, margin=margin, keep_clear=keep_clear, outline=outline)
    return prove_sheet(
        sheet,
        programs,
        Setup(
            cutters=cutters,
            machine=machine,
            through_mm=through,
            hold_down=hold_down,
            tabs={p.mark: tabs for p in sheet.parts} if isinstance(tabs, int) else tabs,
            tab_height_mm=tab_height,
            tab_foot_mm={p.mark: tab_foot for p in sheet.parts},
            power=power,
            material=material,
        ),
        cell_mm=cell,
        absent=absent,
    )


def codes(proof: SheetProof, *, blockers: bool = True) -> set[str]:
    """Return the codes of the blockers, or of all faults."""
    return {f.code for f in proof.faults if not blockers or f.severity == "blocker"}


def with_machine(**changes: Any) -> Machine:
    """Return the bench router with other data."""
    return dataclasses.replace(MACHINE, **changes)
