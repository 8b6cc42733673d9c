"""Sets of cutters side by side: what each takes, and what it leaves of the same part.

Shown is the part on which most is left; of grooves that with most of them. The material is grey,
its floors are lighter, grooves are green where they are flat, what stays is vermillion; the set
that the plan cuts with has a frame and says so.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from letterply.cutting import CutPlan, CutterChoice, CutterSet
from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.primitives.captions import (
    QUIET,
    bar_length,
    caption,
    caption_within,
    scale_bar,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import LEAST_ROUND_MM, number
from letterply.exports.primitives.palette import FINDING_COLOUR, STYLES
from letterply.exports.primitives.views import Frame
from letterply.names import in_sentence
from letterply.shapes import Region, as_region
from letterply.stacks import Part
from letterply.units import about_mm, format_area, listed

__all__ = ["cutter_sets_picture", "is_worth_showing"]

_MATERIAL, _FLOOR = "#C9C4BA", "#E9E6DF"
_COLUMNS = 2
_MOST = 6
_TITLES = {"outlines": "outlines", "floors": "pockets and floors", "grooves": "grooves"}


def cutter_sets_picture(plan: CutPlan) -> str:
    """Return what sets of cutters take and leave on a sheet, as SVG; six of each kind at most."""
    panels = [
        (choice, _shown(choice), part)
        for choice in plan.choices
        for part in (_part(plan, choice),)
        if part is not None
    ]
    boxes = [part.outline.bounds for _, _, part in panels]
    width = max((b[2] - b[0] for b in boxes), default=40.0)
    high = max((b[3] - b[1] for b in boxes), default=10.0)
    unit = max(0.9, 0.022 * math.sqrt(width * high), 0.02 * width)
    pad = 2.2 * unit
    column = max(width, 34 * unit)
    inner = _COLUMNS * column + (_COLUMNS - 1) * pad
    title = f"Sheet {plan.sheet.number}: sets of cutters compared"
    found: list[str] = []
    y = 5.6 * unit
    for choice, sets, part in panels:
        left, low, _, top = part.outline.bounds
        head = f"{_TITLES[choice.work]}, {part.name}: minutes are those of the whole sheet"
        found.append(caption_within(head, unit, pad, y, inner, colour=QUIET))
        y += 2.2 * unit
        tall = top - low + 6.4 * unit
        for k, one in enumerate(sets):
            x = pad + (k % _COLUMNS) * (column + pad)
            at = y + (k // _COLUMNS) * tall
            found += _panel(one, part, choice.work, Frame(x - left, at + top))
            for line, words in enumerate(_words(one, plan.names)):
                below = at + top - low + (1.8 + 1.4 * line) * unit
                found.append(
                    caption_within(words, unit, x, below, column, bold=one.chosen and not line)
                )
            if one.chosen:
                found.append(
                    f'<rect x="{number(x - 0.6 * unit)}" y="{number(at - 0.8 * unit)}" '
                    f'width="{number(column + 1.2 * unit)}" '
                    f'height="{number(tall - 0.9 * unit)}" fill="none" '
                    f'stroke="{STYLES["profile"].colour}" stroke-width="{number(0.16 * unit)}"/>'
                )
        y += math.ceil(len(sets) / _COLUMNS) * tall + unit
    total = y + 2.4 * unit
    told = [
        f"{_TITLES[choice.work]}, {part.name}: "
        + "; ".join(", ".join(_words(one, plan.names)) for one in sets)
        for choice, sets, part in panels
    ]
    words = ". ".join(told) or "There is nothing to compare"
    start = svg_open(inner + 2 * pad, total, escaped(title), escaped(words))
    start.append(caption_within(title, 1.6 * unit, pad, 3.1 * unit, inner, bold=True))
    if not panels:
        start.append(caption("There is nothing to compare.", unit, pad, y, colour=QUIET))
    found.extend(scale_bar(pad, total - 1.2 * unit, bar_length(width), unit))
    return svg_close([*start, *found])


def is_worth_showing(compared: Iterable[tuple[str, float]]) -> bool:
    """Tell whether sets of cutters differ in what a picture of them would show.

    Args:
        compared: what each set is for (`outlines`, `floors`, `grooves`), and the area in mm² that
            it leaves; of works with more than one set.

    """
    return any(work == "grooves" or left > 0 for work, left in compared)


def _shown(choice: CutterChoice) -> Sequence[CutterSet]:
    """Return the sets that are shown, in their order: the one that was chosen, and the quickest."""
    others = [s for s in choice.sets if not s.chosen][: _MOST - 1]
    return [s for s in choice.sets if s.chosen or s in others]


def _part(plan: CutPlan, choice: CutterChoice) -> Part | None:
    """Return the part on which the set that leaves most leaves most; None with one set only."""
    if len(choice.sets) < 2:
        return None
    parts = {p.source.name: p.source for p in plan.sheet.parts}
    if choice.work == "grooves":
        return max(parts.values(), key=lambda p: sum(g.region.area for g in p.grooves))
    most = max(choice.sets, key=lambda s: s.left_area_mm2)
    areas: dict[str, float] = {}
    for name, region in most.left:
        areas[name] = areas.get(name, 0.0) + region.area
    if not areas:
        return None
    worst = max(sorted(areas), key=lambda name: areas[name])
    return parts[worst]


def _panel(one: CutterSet, part: Part, work: str, frame: Frame) -> list[str]:
    def filled(region: Region, colour: str) -> str:
        data = frame.path(region_rings(region))
        return f'<path d="{data}" fill="{colour}" fill-rule="evenodd"/>'

    found = [filled(as_region(part.outline), _MATERIAL)]
    if work != "outlines":
        floors = [g.region for g in part.grooves]
        floors += [p.region for p in part.pockets] if work == "floors" else []
        found += [filled(region, _FLOOR) for region in floors]
    found += [filled(flat, STYLES["groove"].colour) for name, flat in one.flat if name == part.name]
    found += [filled(left, FINDING_COLOUR) for name, left in one.left if name == part.name]
    return found


def _words(one: CutterSet, names: Mapping[str, str]) -> list[str]:
    """Return what is said below a panel."""
    cutters = listed([in_sentence(names.get(key, key)) for key in one.cutters])
    stays = "nothing stays"
    if one.left_area_mm2 >= 0.05:
        stays = f"{format_area(one.left_area_mm2)} stay"
        if one.left_round_mm >= LEAST_ROUND_MM:
            stays += f", up to {about_mm(one.left_round_mm)} from what is reached"
    taken = "the plan's: " if one.chosen else ""
    minutes = f"about {number(one.time_s / 60, 0)} min with changes"
    if one.depth_mm is not None:
        flat = f"{format_area(one.flat_area_mm2)} of it flat" if one.flat_area_mm2 else "not flat"
        return [f"{taken}{cutters}", f"{minutes}; up to {about_mm(one.depth_mm)} deep, {flat}"]
    return [f"{taken}{cutters}", f"{minutes}; {stays}"]
