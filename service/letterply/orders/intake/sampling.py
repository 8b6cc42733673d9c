"""What of an order is rehearsed for its estimate: all of it, or lines that stand for the others.

To plan a design takes seconds, so of a long list only some designs are planned: of each *family*
(recipes that differ in nothing but words, font and size) some of all sizes. Every other line is
taken for the planned one that is nearest in size, and of very many copies every so many are taken.
What that leaves out is made up for by measures of both (`letterply.orders.intake.measuring`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from letterply.orders.codec import Facts
from letterply.orders.intake.measuring import LayerMeasure, Measured
from letterply.orders.intake.model import OrderLine
from letterply.orders.intake.reading import Order
from letterply.storage import canonical_json

__all__ = ["Sample", "Stuff", "choose_sample"]

_MOST_DESIGNS = 10
_MOST_PIECES = 250

_VARIED = ("text", "title", "font", "size")
"""What may differ within a family."""

Stuff = tuple[str, float, bool]
"""Material, thickness, and whether it comes as blanks."""


@dataclass(frozen=True, slots=True)
class Sample:
    """What is rehearsed.

    Attributes:
        order: the order with the lines that are rehearsed.
        whole: whether those are all lines, as they are.
        work, area: for each stuff, how much more of it the order has: by length of cut, by area.

    """

    order: Order
    whole: bool
    work: Mapping[Stuff, float]
    area: Mapping[Stuff, float]


def choose_sample(
    order: Order, measures: Sequence[Measured], *, most_designs: int = _MOST_DESIGNS
) -> Sample:
    """Return what of an order is rehearsed; the same each time.

    Args:
        order: the order.
        measures: of its lines, in their order.
        most_designs: how many designs are planned, about: each family has one at least.

    """
    stands = _stand_ins(order.lines, measures, most_designs)
    counts = _thinned([line.quantity for line in order.lines])
    lines, measured = [], []
    for at, (line, count) in enumerate(zip(order.lines, counts, strict=True)):
        if count:
            lines.append(replace(line, quantity=count, recipe=order.lines[stands[at]].recipe))
            measured.append(measures[stands[at]])
    options = replace(order.options, search_s=0, revises="")
    rehearsed = replace(order, lines=tuple(lines), options=options)
    every, some = _sums(order.lines, measures), _sums(lines, measured)
    work, area = (
        {stuff: every[stuff][n] / some[stuff][n] if some[stuff][n] else 1.0 for stuff in some}
        for n in (0, 1)
    )
    same = all(x.recipe == order.lines[n].recipe for x, n in zip(order.lines, stands, strict=True))
    whole = same and counts == [line.quantity for line in order.lines]
    return Sample(rehearsed, whole, work, area)


def _stand_ins(
    lines: Sequence[OrderLine], measures: Sequence[Measured], most_designs: int
) -> list[int]:
    """Return for each line the line whose design is planned in its place; most are their own."""
    firsts: dict[str, int] = {}
    own = [firsts.setdefault(line.design, n) for n, line in enumerate(lines)]
    families: dict[bytes, list[int]] = {}
    for first in firsts.values():
        families.setdefault(_family(lines[first].recipe), []).append(first)
    stands: dict[int, int] = {}
    for members in families.values():
        share = most_designs * len(members) / max(len(firsts), most_designs)
        count = max(1, round(share))
        ranked = sorted(members, key=lambda n: (_size(measures[n]), n))
        chosen = [ranked[(2 * k + 1) * len(ranked) // (2 * count)] for k in range(count)]
        for n in members:
            size = _size(measures[n])
            near = min(chosen, key=lambda c: (abs(_size(measures[c]) - size), c))
            stands[n] = n if n in chosen else near
    return [stands[n] for n in own]


def _family(recipe: Facts) -> bytes:
    def blurred(value: object) -> object:
        if isinstance(value, Mapping):
            return {k: None if k in _VARIED else blurred(v) for k, v in value.items()}
        if isinstance(value, list | tuple):
            return [blurred(v) for v in value]
        return value

    return canonical_json(blurred(recipe))


def _size(measured: Measured) -> float:
    return round(sum(_work(layer) for layer in measured.layers), 6)


def _work(layer: LayerMeasure) -> float:
    """Return about how far cutters go for a layer of one copy, mm."""
    return layer.cut_mm + layer.work_mm


def _thinned(quantities: Sequence[int]) -> list[int]:
    """Return how many copies of each line are rehearsed: every so many, counted over all lines."""
    total = sum(quantities)
    if total <= _MOST_PIECES:
        return list(quantities)
    counts, before = [], 0
    for quantity in quantities:
        after = before + quantity
        counts.append(after * _MOST_PIECES // total - before * _MOST_PIECES // total)
        before = after
    return counts


def _sums(
    lines: Sequence[OrderLine], measures: Sequence[Measured]
) -> dict[Stuff, tuple[float, float]]:
    """Return for each stuff the length of work and the area of all copies."""
    sums: dict[Stuff, tuple[float, float]] = {}
    for count, layer in _counted(lines, measures):
        stuff = layer.material, layer.thickness_mm, bool(layer.blank)
        work, area = sums.get(stuff, (0.0, 0.0))
        sums[stuff] = work + count * _work(layer), area + count * layer.area_mm2
    return sums


def _counted(
    lines: Sequence[OrderLine], measures: Sequence[Measured]
) -> Iterator[tuple[int, LayerMeasure]]:
    """Yield how often there is each layer: what lines share is there once."""
    shared: set[str] = set()
    for line, measured in zip(lines, measures, strict=True):
        for layer in measured.layers:
            if layer.once in shared:
                continue
            if layer.once not in ("", "line"):
                shared.add(layer.once)
            yield (1 if layer.once else line.quantity), layer
