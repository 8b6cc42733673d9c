"""Stacks and findings as documents: units in the names, a summary in plain words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from letterply.catalogue import Catalogue, material_cautions
from letterply.exports.documents.values import (
    Document,
    plain,
    points_document,
    rings_document,
    words_document,
)
from letterply.exports.primitives.numbers import rounded
from letterply.findings import Finding, Place, Remedy, by_severity, count_by_severity, summarise
from letterply.stacks import (
    Fixture,
    Groove,
    Hole,
    Layer,
    Part,
    Pocket,
    Repair,
    RepairReport,
    Scribe,
    Stack,
)
from letterply.units import counted, format_mm

__all__ = ["findings_document", "repair_document", "stack_document"]


def stack_document(stack: Stack, catalogue: Catalogue) -> Document:
    """Return a stack as a document, geometry included.

    Raises:
        UnknownName: for a material that the catalogue does not hold.

    """
    left, low, right, high = stack.bounds
    size = " × ".join(format_mm(v) for v in (right - left, high - low, stack.height_mm))
    names = ", ".join(
        f"{la.name} ({catalogue.material(la.material).name} {la.thickness_words})"
        for la in stack.layers
    )
    count = sum(len(la.parts) for la in stack.layers)
    summary = (
        f"{stack.title or 'The stack'}: {counted(len(stack.layers), 'layer')}, "
        f"{counted(count, 'part')}, {size}; bottom first: {names}."
    )
    return {
        "summary": summary,
        "id": stack.id,
        "title": stack.title,
        "text": stack.text,
        "copies": stack.copies,
        "width_mm": rounded(right - left),
        "height_mm": rounded(high - low),
        "total_thickness_mm": rounded(stack.height_mm),
        "bounds_mm": [rounded(v) for v in stack.bounds],
        "layers": [_layer(la, catalogue) for la in stack.layers],
        "fixtures": [_layer(la, catalogue) for la in stack.fixtures],
        "findings": findings_document(stack.findings)["findings"],
    }


def findings_document(findings: Sequence[Finding]) -> Document:
    """Return findings as a document, numbered worst first as in the findings picture."""
    ordered = by_severity(findings)
    summary = summarise(ordered)
    return {
        "summary": summary,
        "summary_words": words_document(summary),
        "counts": count_by_severity(ordered),
        "findings": [_finding(n, f) for n, f in enumerate(ordered, start=1)],
    }


def _layer(layer: Layer, catalogue: Catalogue) -> Document:
    material = catalogue.material(layer.material)
    return {
        "name": layer.name,
        "material": layer.material,
        "material_name": material.name,
        "thickness_mm": rounded(layer.thickness_mm),
        "true_thickness_mm": None if layer.true_mm is None else rounded(layer.true_mm),
        "z_mm": rounded(layer.z_mm),
        "from_back": layer.from_back,
        "blanks": None if layer.fixture is None else _blanks(layer.fixture),
        "area_mm2": rounded(sum(p.outline.area for p in layer.parts), 2),
        "cautions": list(material_cautions(material)),
        "repair": None if layer.repair is None else repair_document(layer.repair),
        "parts": [_part(p, layer, material.density_kg_per_m3) for p in layer.parts],
    }


def _blanks(fixture: Fixture) -> Document:
    """Return how blanks lie in their fixture, from the lower left of its board."""
    return {
        "fixture": fixture.board,
        "columns": fixture.columns,
        "rows": fixture.rows,
        "pitch_mm": [rounded(v) for v in fixture.pitch_mm],
        "first_middle_mm": [rounded(v) for v in fixture.first_mm],
        "pocket_depth_mm": rounded(fixture.depth_mm),
    }


def repair_document(report: RepairReport) -> Document:
    """Return what the repairs of a layer changed, numbered as in the picture of the repairs."""
    return {
        "largest_move_mm": rounded(report.largest_move_mm, 3),
        "move_along_strokes_mm": rounded(report.along_mm, 3),
        "move_where_strokes_meet_mm": rounded(report.crotches_mm, 3),
        "area_added_mm2": rounded(report.area_added_mm2, 2),
        "pieces_joined": report.pieces_joined,
        "bridges": report.bridges,
        "places": [_repair(n, r) for n, r in enumerate(report.places, start=1)],
    }


def _repair(label: int, repair: Repair) -> Document:
    return {
        "number": label,
        "kind": repair.kind,
        "where": _place(repair.where),
        "was_mm": rounded(repair.was_mm, 3),
        "now_mm": None if repair.now_mm is None else rounded(repair.now_mm, 3),
        "move_mm": rounded(repair.move_mm, 3),
        "move_along_stroke_mm": rounded(repair.along_mm, 3),
        "area_mm2": rounded(repair.region.area, 2),
    }


_G_PER_MM3 = 1e-6
"""Grams in a cubic millimetre at 1 kg/m³."""


def _part(part: Part, layer: Layer, density_kg_per_m3: float) -> Document:
    left, low, right, high = part.outline.bounds
    grams = part.outline.area * layer.stands_mm * density_kg_per_m3 * _G_PER_MM3
    return {
        "name": part.name,
        "letters": part.letters,
        "width_mm": rounded(right - left),
        "height_mm": rounded(high - low),
        "area_mm2": rounded(part.outline.area, 2),
        "edge_length_mm": rounded(part.outline.length, 2),
        "mass_g": rounded(grams, 2),
        "history": list(part.history),
        "outline_mm": rings_document(part.outline),
        "holes": [_hole(h, layer.thickness_mm) for h in part.holes],
        "pockets": [_pocket(p) for p in part.pockets],
        "grooves": [_groove(g) for g in part.grooves],
        "scribes": [_scribe(s) for s in part.scribes],
    }


def _hole(hole: Hole, thickness_mm: float) -> Document:
    through = hole.depth_mm is None
    return {
        "purpose": hole.purpose,
        "x_mm": rounded(hole.x_mm),
        "y_mm": rounded(hole.y_mm),
        "diameter_mm": rounded(hole.diameter_mm),
        "through": through,
        "depth_mm": rounded(thickness_mm if hole.depth_mm is None else hole.depth_mm),
    }


def _pocket(pocket: Pocket) -> Document:
    return {
        "purpose": pocket.purpose,
        "depth_mm": rounded(pocket.depth_mm),
        "area_mm2": rounded(pocket.region.area, 2),
        "rings_mm": rings_document(pocket.region),
    }


def _groove(groove: Groove) -> Document:
    return {
        "floor_at_mm": plain(groove.max_depth_mm),
        "from_depth_mm": rounded(groove.start_mm),
        "included_angle_deg": plain(groove.angle_deg),
        "area_mm2": rounded(groove.region.area, 2),
        "rings_mm": rings_document(groove.region),
    }


def _scribe(scribe: Scribe) -> Document:
    return {
        "purpose": scribe.purpose,
        "depth_mm": rounded(scribe.depth_mm),
        "length_mm": rounded(sum(line.length for line in scribe.lines), 2),
        "lines_mm": [points_document(np.asarray(line.coords)) for line in scribe.lines],
    }


def _finding(label: int, finding: Finding) -> Document:
    return {
        "number": label,
        "code": finding.code,
        "severity": str(finding.severity),
        "why": finding.why,
        "words": words_document(finding.why),
        "layer": finding.layer,
        "part": finding.part,
        "where": _place(finding.where),
        "measured": plain(finding.measured),
        "limit": plain(finding.limit),
        "unit": finding.unit,
        "remedies": [_remedy(r) for r in finding.remedies],
        "data": {name: plain(value) for name, value in finding.data},
    }


def _place(place: Place | None) -> Document | None:
    if place is None:
        return None
    return {
        "kind": place.kind,
        "points_mm": [[rounded(x), rounded(y)] for x, y in place.points],
    }


def _remedy(remedy: Remedy) -> Document:
    return {
        "action": str(remedy.action),
        "value": plain(remedy.value),
        "unit": remedy.unit,
        "text": remedy.text,
        "words": words_document(remedy.text),
    }
