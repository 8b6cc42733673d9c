"""Blanks in, sheets out that stand for a fixture with its pockets filled.

Blanks are not nested: they lie where the pockets of their fixture are. The sheet's frame is that
of the fixture's board as it lies, lower left at the origin; programs count from the middle of the
first blank. Full loads are one sheet that is run several times; what is left over is another.
"""

from __future__ import annotations

from letterply.catalogue import Stock
from letterply.sheets.model import PlacedPart, Placement, Sheet
from letterply.stacks import Fixture, Layer, is_turned

__all__ = ["blank_sheets", "blank_stock", "first_middle", "pocket_places"]


def blank_sheets(
    layer: Layer, copies: int, first_number: int, bed_mm: tuple[float, float]
) -> tuple[Sheet, ...]:
    """Return the sheets on which the blanks of a layer are worked, numbered from a number.

    Args:
        layer: the blanks.
        copies: how many there are.
        first_number: of the first sheet.
        bed_mm: travel of the machine in x and y; what is longer than it that way lies turned.

    Raises:
        ValueError: for a layer that is no layer of blanks, or no copies.

    """
    fixture = layer.fixture
    if fixture is None or copies < 1:
        raise ValueError(f"{layer.name} has no blanks")
    (source,) = (part.cut_view(from_back=layer.from_back) for part in layer.parts)
    load = fixture.columns * fixture.rows
    turned = bool(is_turned(layer, fixture, bed_mm))
    stock = blank_stock(layer, fixture, turned=turned)
    places = pocket_places(fixture, fixture.middle_mm, turned=turned)
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
                zero_mm=first_middle(fixture, turned=turned),
                runs=runs,
                fixture=fixture.board,
                pocket_mm=fixture.depth_mm if fixture.board else 0.0,
            )
        )
        copy += filled * runs
    return tuple(sheets)


def blank_stock(layer: Layer, fixture: Fixture, *, turned: bool) -> Stock:
    """Return what stands for the sheet on which a load of blanks is worked: the fixture's board."""
    board = Stock(
        key=f"blanks-{layer.name}",
        material=layer.material,
        thickness_mm=layer.thickness_mm,
        width_mm=fixture.size_mm[0],
        height_mm=fixture.size_mm[1],
        count=1,
        margin_mm=0.0,
        turned=turned,
    )
    return board.as_it_lies()


def first_middle(fixture: Fixture, *, turned: bool) -> tuple[float, float]:
    """Return where the middle of the first blank is, from the lower left of the load."""
    x, y = fixture.first_mm
    return (round(fixture.size_mm[1] - y, 4), x) if turned else (x, y)


def pocket_places(
    fixture: Fixture, middle_mm: tuple[float, float], *, turned: bool
) -> list[Placement]:
    """Return where a blank lies in each pocket, row by row from the lower left.

    Args:
        fixture: the pockets.
        middle_mm: middle of the blank in the frame of its stack.
        turned: whether the load lies turned by a quarter, counter-clockwise.

    """
    places = [
        Placement(
            0.0,
            round(fixture.first_mm[0] + column * fixture.pitch_mm[0] - middle_mm[0], 5),
            round(fixture.first_mm[1] + row * fixture.pitch_mm[1] - middle_mm[1], 5),
        )
        for row in range(fixture.rows)
        for column in range(fixture.columns)
    ]
    if not turned:
        return places
    return [
        Placement(p.angle_deg, round(p.x_mm, 5), round(p.y_mm, 5))
        for p in (place.quarter_turned(fixture.size_mm[1]) for place in places)
    ]
