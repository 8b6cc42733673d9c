"""Recording what the native kernels are asked, and asking them the same again, bare.

One run of the engine is recorded: every text shaped, every segment diagram, every call into GEOS
that computes, every cutter's removal, every picture drawn. The same input then goes to the kernels
alone, without the engine around them. Kernels: HarfBuzz (shaping), Boost (Voronoi diagram of
segments, adding them included), GEOS (through shapely's own functions), the compiled removal of
the proof, resvg (pictures).
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyvoronoi
import resvg_py
import shapely
import uharfbuzz

from letterply.proof.model import HeightField
from letterply.proof.reading import toolpath
from letterply.proof.removal import swept as removal

__all__ = ["KERNELS", "Record", "recording", "replay"]

KERNELS = ("harfbuzz", "voronoi", "geos", "removal", "resvg")

_GEOS = (
    "buffer", "difference", "intersection", "symmetric_difference", "union", "unary_union",
    "difference_prec", "intersection_prec", "union_prec", "unary_union_prec", "coverage_union",
    "disjoint_subset_union", "set_precision", "normalize", "make_valid_with_params", "is_valid",
    "is_simple", "distance", "dwithin", "hausdorff_distance", "shortest_line", "prepare",
    "contains", "contains_properly", "contains_xy", "covers", "covered_by", "crosses", "disjoint",
    "intersects", "intersects_xy", "overlaps", "touches", "within", "equals", "relate",
    "convex_hull", "oriented_envelope", "maximum_inscribed_circle", "minimum_clearance",
    "minimum_bounding_circle", "point_on_surface", "line_merge", "line_interpolate_point",
    "line_locate_point", "simplify", "simplify_preserve_topology", "node", "polygonize",
    "offset_curve", "segmentize", "area", "length", "centroid",
)  # fmt: skip
"""What computes; constructors, accessors and conversions are not the kernel's work."""


@dataclass(slots=True)
class Record:
    """What one run asked of the kernels, in order.

    Attributes:
        texts: font, code points, direction, script, language and features of each text.
        diagrams: scale, then segments, of each diagram.
        geos: function, arguments and options of each call.
        removals: field, segments, profile and options of each removal.
        pictures: arguments and options of each picture.

    """

    texts: list[tuple[Any, ...]] = field(default_factory=list)
    diagrams: list[tuple[Any, list[Any]]] = field(default_factory=list)
    geos: list[tuple[Any, tuple[Any, ...], dict[str, Any]]] = field(default_factory=list)
    removals: list[tuple[HeightField, Any, Any, dict[str, Any]]] = field(default_factory=list)
    pictures: list[tuple[tuple[Any, ...], dict[str, Any]]] = field(default_factory=list)

    def counts(self) -> dict[str, int]:
        """Return how many calls went to each kernel."""
        return {
            "harfbuzz": len(self.texts),
            "voronoi": sum(len(segments) for _, segments in self.diagrams),
            "geos": len(self.geos),
            "removal": sum(len(segments) for _, segments, _, _ in self.removals),
            "resvg": len(self.pictures),
        }


@contextmanager
def recording() -> Iterator[Record]:
    """Write down what the kernels are asked while the block runs."""
    record = Record()
    undo: list[tuple[Any, str, Any]] = []

    def put(owner: Any, name: str, made: Any) -> None:
        undo.append((owner, name, getattr(owner, name)))
        setattr(owner, name, made)

    def noted(function: Any) -> Callable[..., Any]:
        def call(*args: Any, **options: Any) -> Any:
            record.geos.append((function, args, options))
            return function(*args, **options)

        return call

    shape, carve, draw = uharfbuzz.shape, toolpath.carve, resvg_py.svg_to_bytes

    def noted_shape(font: Any, buffer: Any, features: Any = None, *args: Any, **more: Any) -> Any:
        points = [info.codepoint for info in buffer.glyph_infos]
        said = (buffer.direction, buffer.script, buffer.language)
        record.texts.append((font, points, said, features))
        return shape(font, buffer, features, *args, **more)

    def noted_carve(stock: HeightField, segments: Any, profile: Any, **options: Any) -> Any:
        record.removals.append((stock, segments, profile, options))
        return carve(stock, segments, profile, **options)

    def noted_draw(*args: Any, **options: Any) -> Any:
        record.pictures.append((args, options))
        return draw(*args, **options)

    class Noted(pyvoronoi.Pyvoronoi):  # type: ignore[misc]
        """A diagram that writes its segments down."""

        def __init__(self, scale: Any) -> None:
            record.diagrams.append((scale, []))
            self.segments = record.diagrams[-1][1]

        def AddSegment(self, segment: Any) -> Any:  # noqa: N802
            self.segments.append(segment)
            return super().AddSegment(segment)

    for name in _GEOS:
        if hasattr(shapely.lib, name):
            put(shapely.lib, name, noted(getattr(shapely.lib, name)))
    put(uharfbuzz, "shape", noted_shape)
    put(toolpath, "carve", noted_carve)
    put(resvg_py, "svg_to_bytes", noted_draw)
    put(pyvoronoi, "Pyvoronoi", Noted)
    try:
        yield record
    finally:
        for owner, name, was in reversed(undo):
            setattr(owner, name, was)


def replay(record: Record) -> dict[str, float]:
    """Return the processor seconds that each kernel takes, alone, for what was recorded."""
    return {
        "harfbuzz": _timed(_shape_again, record),
        "voronoi": _timed(_divide_again, record),
        "geos": _timed(_geos_again, record),
        "removal": _timed(_carve_again, record),
        "resvg": _timed(_draw_again, record),
    }


def _timed(again: Callable[[Record], None], record: Record) -> float:
    gc.collect()
    gc.disable()
    try:
        began = time.process_time()
        again(record)
        return time.process_time() - began
    finally:
        gc.enable()


def _shape_again(record: Record) -> None:
    for font, points, (direction, script, language), features in record.texts:
        buffer = uharfbuzz.Buffer()
        buffer.add_codepoints(points)
        buffer.direction, buffer.script, buffer.language = direction, script, language
        uharfbuzz.shape(font, buffer, features)


def _divide_again(record: Record) -> None:
    for scale, segments in record.diagrams:
        diagram = pyvoronoi.Pyvoronoi(scale)
        for segment in segments:
            diagram.AddSegment(segment)
        diagram.Construct()


def _geos_again(record: Record) -> None:
    for function, args, options in record.geos:
        function(*args, **options)


def _carve_again(record: Record) -> None:
    fields: dict[int, HeightField] = {}
    for stock, segments, profile, options in record.removals:
        fresh = fields.get(id(stock))
        if fresh is None:
            fresh = HeightField(stock.cell_mm, stock.origin, np.zeros_like(stock.z))
            fields[id(stock)] = fresh
        removal.carve(fresh, segments, profile, **options)


def _draw_again(record: Record) -> None:
    for args, options in record.pictures:
        resvg_py.svg_to_bytes(*args, **options)
