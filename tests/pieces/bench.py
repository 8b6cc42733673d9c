"""A bench that cuts a test piece with the cutter that is really in the spindle, and measures it.

The programs are read and swept by the proof's own hands, with cutters of other sizes than the plan
thought of. A caliper then lies where the sheet of the piece says.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import shapely
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Catalogue, Shop, load_catalogue, resolve_shop
from letterply.cutting import CutPlan
from letterply.jobs.plans import Made, make_plans
from letterply.lettering.fonts.library import FontLibrary
from letterply.pieces import Instrument, Piece, Told, design_piece, shop_for, tell_readings
from letterply.proof.model import ProgramSource, Setup
from letterply.proof.reading.toolpath import lay_out, read_all
from letterply.proof.removal.exact import sweep, through_sweeps
from letterply.requests import PieceRequest, parse_recipe
from letterply.sheets import PlacedPart
from letterply.stacks import Stack, build_stack, rigid

ON = "2026-11-29"
SHEET = {"material": "birch-plywood", "thickness": 6.5}


def shop_of(**wishes: Any) -> tuple[Shop, Catalogue]:
    catalogue = load_catalogue()
    return resolve_shop({"hold_down": "tape", **wishes}, catalogue), catalogue


def with_cutter(key: str, figures: Mapping[str, float], **wishes: Any) -> Shop:
    """Return a shop with other figures of a cutter."""
    catalogue = load_catalogue()
    cutters = {**catalogue.cutters, key: replace(catalogue.cutters[key], **figures)}
    return resolve_shop({"hold_down": "tape", **wishes}, replace(catalogue, cutters=cutters))


class Bench:
    """A recipe cut: by the plan of one shop, with the cutters of another."""

    def __init__(self, recipe: Any, shop: Shop, true: Shop, catalogue: Catalogue) -> None:
        self.stack: Stack = build_stack(
            parse_recipe(recipe), catalogue, FontLibrary(), measured=shop.measured
        )
        self.made: Made = make_plans(self.stack, shop, catalogue)
        assert self.made.ready, [f.why for f in self.made.findings]
        self._true = true
        self._gone: dict[tuple[str, float], BaseGeometry] = {}

    def _placed(self, layer: str) -> tuple[CutPlan, PlacedPart]:
        for plan in self.made.plans:
            for placed in plan.sheet.parts:
                if placed.source.layer == layer:
                    return plan, placed
        raise AssertionError(layer)

    def gone(self, layer: str, level_mm: float) -> BaseGeometry:
        """Return what is cut at a level, in the frame of the stack."""
        if (layer, level_mm) not in self._gone:
            self._gone[layer, level_mm] = self._swept(layer, level_mm)
        return self._gone[layer, level_mm]

    def _swept(self, layer: str, level_mm: float) -> BaseGeometry:
        plan, placed = self._placed(layer)
        sources = [ProgramSource(p.name, p.cutters, p.text) for p in plan.programs]
        setup = Setup(
            cutters={c.key: c for c in self._true.cutters},
            machine=self._true.machine,
            through_mm=plan.through_mm,
            hold_down=plan.hold_down,
            tabs=plan.tabs,
        )
        readings = read_all(sources, setup.machine)
        paths = lay_out(
            sources, readings, setup, thickness_mm=plan.sheet.stock.thickness_mm,
            sagitta_mm=0.001, zero=plan.zero,
        )  # fmt: skip
        swept = sweep(through_sweeps(paths, level_mm), placed.part.outline.buffer(5).bounds)
        a, b, d, e, x, y = rigid(
            placed.placement.angle_deg, placed.placement.x_mm, placed.placement.y_mm
        )
        back = (a, d, b, e, -(a * x + d * y), -(b * x + e * y))  # a turn is undone by its transpose
        return affine_transform(swept, back)

    def between(
        self, layer: str, ends: tuple[tuple[float, float], tuple[float, float]],
        level_mm: float, *, inside: bool,
    ) -> float:  # fmt: skip
        """Return what a caliper reads at a place of a layer: a gap that was cut, or what stands."""
        part = next(la for la in self.stack.layers if la.name == layer).parts[0]
        left, low, right, high = part.outline.bounds
        mx, my = (left + right) / 2, (low + high) / 2
        (x0, y0), (x1, y1) = ends
        wide = shapely.LineString(
            [(mx + 2 * x0 - x1, my + 2 * y0 - y1), (mx + 2 * x1 - x0, my + 2 * y1 - y0)]
        )
        middle = shapely.Point(mx + (x0 + x1) / 2, my + (y0 + y1) / 2)
        cut = self.gone(layer, level_mm)
        lies = wide.intersection(cut) if inside else wide.difference(cut)
        if inside and not cut.buffer(1e-3).covers(middle):  # a window: what dropped out is gone too
            lies = wide.intersection(_filled(cut, middle))
        piece = min(shapely.get_parts(lies), key=middle.distance)
        return float(piece.length)


def _filled(cut: BaseGeometry, at: shapely.Point) -> BaseGeometry:
    """Return a cut with the piece that it goes round."""
    rings = [r for p in shapely.get_parts(cut) for r in p.interiors]
    drop = next(p for p in map(shapely.Polygon, rings) if p.covers(at))
    return cut.union(drop)


def piece_of(asked: dict[str, Any], shop: Shop, catalogue: Catalogue) -> tuple[PieceRequest, Piece]:
    request = PieceRequest.model_validate({**SHEET, **asked})
    return request, design_piece(request, shop, catalogue)


def measured(
    asked: dict[str, Any], shop: Shop, true: Shop, catalogue: Catalogue, resolution: float
) -> tuple[Piece, dict[str, float]]:
    """Return a piece, cut with the true cutters, and its lengths to the step of a caliper."""
    _, piece = piece_of(asked, shop, catalogue)
    bench = Bench(piece.recipe, shop_for(piece, shop), true, catalogue)
    level = -0.5 if piece.kind == "diameter" else 0.0
    found = {
        r.name: bench.between(r.layer, r.ends, level, inside=not r.name.startswith("outside"))
        for r in piece.reads
        if not r.choices
    }
    return piece, {k: round(v / resolution) * resolution for k, v in found.items()}


def told(
    asked: dict[str, Any], shop: Shop, catalogue: Catalogue, lengths: dict[str, float],
    resolution: float, letters: dict[str, str] | None = None, zero: float = 0.0,
) -> Told:  # fmt: skip
    request, piece = piece_of(asked, shop, catalogue)
    read = lengths, letters or {}, Instrument(resolution, zero)
    return tell_readings(piece, read, request, shop, ON)
