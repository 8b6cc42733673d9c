"""Drawings as DXF files: millimetres, one layer an operation, closed polylines and circles.

Release R2010, whose text is UTF-8. The same drawing always gives the same bytes: dates and
identifiers that the format asks for are fixed.
"""

from __future__ import annotations

import io
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from letterply.catalogue import Stock
from letterply.cutting import CutPlan
from letterply.exports.cutfiles.drawing import (
    Drawing,
    Mark,
    layer_drawing,
    sheet_drawing,
    stock_drawing,
)
from letterply.exports.primitives.markup import clean
from letterply.exports.primitives.numbers import rounded
from letterply.exports.primitives.palette import STYLES, rgb
from letterply.sheets import Sheet
from letterply.stacks import Layer, Stack

__all__ = ["APPLICATION", "drawing_dxf", "layer_dxf", "sheet_dxf", "stock_dxf"]

APPLICATION = "LETTERPLY"
"""Name under which part, depth and cutters are kept with each entity."""

DECIMALS = 5
_TEXT_LIMIT = 80
"""Extended data hold at most 255 bytes; a character takes up to three, or escapes."""

_FIXED_DATES = threading.Lock()


def layer_dxf(layer: Layer, stack: Stack) -> bytes:
    """Return one layer of a stack as a DXF file, its origin at the stack's lower left corner."""
    return drawing_dxf(layer_drawing(layer, stack))


def sheet_dxf(sheet: Sheet, plan: CutPlan | None = None) -> bytes:
    """Return a stock sheet with its placed parts as a DXF file, in the sheet's frame."""
    return drawing_dxf(sheet_drawing(sheet, plan))


def stock_dxf(stock: Stock) -> bytes:
    """Return a sheet without parts, its edge and its holes, as a DXF file, in its frame."""
    return drawing_dxf(stock_drawing(stock))


def drawing_dxf(drawing: Drawing) -> bytes:
    """Return a drawing as a DXF file."""
    # Taken in here: most processes never write one, and it is long to import.
    from ezdxf.filemanagement import new
    from ezdxf.sections.classes import REQ_R2004

    with _fixed_metadata():
        document = new("R2010", setup=False)
        _fill(document, drawing)
        # The library adds classes in the order of a set, another one in each process.
        for name in (*REQ_R2004, *sorted(document.entitydb.dxf_types_in_use())):
            document.classes.add_class(name)
        stream = io.StringIO(newline="")
        document.write(stream)
    return bytes(document.encode(stream.getvalue()))


def _fill(document: Any, drawing: Drawing) -> None:
    from ezdxf import units

    document.units = units.MM
    document.header["$MEASUREMENT"] = 1  # metric
    document.appids.add(APPLICATION)
    for style in STYLES.values():
        layer = document.layers.add(style.layer)
        layer.rgb = rgb(style.colour)
        layer.description = style.label
        if style.dash_mm:
            name = f"{style.layer}_DASH"
            document.linetypes.add(name, _pattern(style.dash_mm), description=style.label)
            layer.dxf.linetype = name
    space = document.modelspace()
    for style in STYLES.values():
        for mark in drawing.marks:
            if mark.operation == style.key:
                _add(space, mark, style.layer)
    size = (rounded(drawing.width_mm, DECIMALS), rounded(drawing.height_mm, DECIMALS))
    # In both places: the library takes a corner at the origin for none.
    space.reset_extents((0.0, 0.0, 0.0), (*size, 0.0))
    document.header["$EXTMIN"] = (0.0, 0.0, 0.0)
    document.header["$EXTMAX"] = (*size, 0.0)
    space.reset_limits((0.0, 0.0), size)
    document.set_modelspace_vport(size[1] * 1.1, center=(size[0] / 2, size[1] / 2))


def _pattern(dash_mm: tuple[float, ...]) -> list[float]:
    """Return a line type: its whole length, then dashes above 0 and gaps below."""
    signed = [d if n % 2 == 0 else -d for n, d in enumerate(dash_mm)]
    return [sum(dash_mm), *signed]


def _add(space: Any, mark: Mark, layer: str) -> None:
    entities = []
    look = {"layer": layer}
    for points, closed in [(r, True) for r in mark.rings] + [(li, False) for li in mark.lines]:
        at = [(rounded(x, DECIMALS), rounded(y, DECIMALS)) for x, y in points.tolist()]
        entities.append(space.add_lwpolyline(at, close=closed, dxfattribs=look))
    for x, y, radius in mark.circles:
        centre = (rounded(x, DECIMALS), rounded(y, DECIMALS))
        entities.append(space.add_circle(centre, rounded(radius, DECIMALS), dxfattribs=look))
    data: list[tuple[int, object]] = []
    if mark.part:
        data.append((1000, f"part={clean(mark.part, limit=_TEXT_LIMIT)}"))
    if mark.depth_mm is not None:
        data.extend(((1000, "depth_mm"), (1040, rounded(mark.depth_mm, DECIMALS))))
    data.extend((1000, f"cutter={clean(c, limit=_TEXT_LIMIT)}") for c in mark.cutters)
    for entity in entities if data else ():
        entity.set_xdata(APPLICATION, data)


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Let the library write fixed dates and identifiers; its switch is global, so one at a time."""
    import ezdxf

    options: Any = ezdxf.options  # type: ignore[attr-defined]  # public, but not marked so
    with _FIXED_DATES:
        before = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            options.write_fixed_meta_data_for_testing = before
