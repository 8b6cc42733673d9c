"""Blanks in, sheets out that stand for a fixture with its pockets filled.

Blanks are not nested: they lie where the pockets of their fixture are. The sheet's frame is that
of the fixture's board, lower left at the origin; programs count from the middle of the first
blank. Full loads are one sheet that is run several times; what is left over is another.
"""

from __future__ import annotations

from letterply.catalogue import Stock
from letterply.sheets.model import PlacedPart, Placement, Sheet
from letterply.stacks import Fixture, Layer

__all__ = ["blank_sheets", "blank_stock", "pocket_places"]


def blank_sheets(layer: Layer, copies: int, first_number: int) -> tuple[Sheet, ...]:
    """Return the sheets on which the blanks of a layer are worked, numbered from a number.

    Raises:
        ValueError: for a layer that is no layer of blanks, or no copies.

    """
    fixture = layer.fixture
    if fixture is None or copies < 1:
        raise ValueError(f"{layer.name} has no blanks")
    (source,) = (part.cut_view(from_back=layer.from_back) for part in layer.parts)
    load = fixture.columns * fixture.rows
    stock = blank_stock(layer, fixture)
    places = pocket_places(fixture, fixture.middle_mm)
    full, rest = divmod(copies, load)
    sheets: list[Sheet] = []
    copy = 1
    for filled, runs in ((load, full), (rest, 1)):
        if not filled or not runs:
            continue
        parts = tuple(
            PlacedPart.at(f"{copy + k}.{source.name}", copy + k, source, places[k])
            for k in range(filled)
        )
        sheets.append(
            Sheet(
                number=first_number + len(sheets),
                stock=stock,
                parts=tuple(sorted(parts, key=lambda p: p.mark)),
                from_back=layer.from_back,
                zero_mm=fixture.first_mm,
                runs=runs,
                fixture=fixture.board,
            )
        )
        copy += filled * runs
    return tuple(sheets)


def blank_stock(layer: Layer, fixture: Fixture) -> Stock:
    """Return what stands for the sheet on which a load of blanks is worked: the fixture's board."""
    return Stock(
        key=f"blanks-{layer.name}",
        material=layer.material,
        thickness_mm=layer.thickness_mm,
        width_mm=fixture.size_mm[0],
        height_mm=fixture.size_mm[1],
        count=1,
        margin_mm=0.0,
    )


def pocket_places(fixture: Fixture, middle_mm: tuple[float, float]) -> list[Placement]:
    """Return where a blank lies in each pocket, row by row from the lower left.

    Args:
        fixture: the pockets.
        middle_mm: middle of the blank in the frame of its stack.

    """
    return [
        Placement(
            0.0,
            round(fixture.first_mm[0] + column * fixture.pitch_mm[0] - middle_mm[0], 5),
            round(fixture.first_mm[1] + row * fixture.pitch_mm[1] - middle_mm[1], 5),
        )
        for row in range(fixture.rows)
        for column in range(fixture.columns)
    ]
