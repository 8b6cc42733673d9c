"""Sets of cutters side by side: what each takes, and what it leaves of the same part.

Shown is the part on which most is left, of floors what lies round them; of grooves the part with
most of them, where some have a flat floor. The material is grey, its floors are lighter, flat ones
of grooves green, what stays is vermillion; the set that the plan cuts with has a frame and says so.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import shapely

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
from letterply.exports.primitives.outlined_text import wrapped
from letterply.exports.primitives.palette import FINDING_COLOUR, STYLES
from letterply.exports.primitives.views import Frame
from letterply.names import in_sentence
from letterply.shapes import Region, as_region
from letterply.stacks import Part
from letterply.units import about_mm, format_area, listed

__all__ = ["cutter_sets_picture", "is_worth_showing"]

_MATERIAL, _FLOOR = "#C9C4BA", "#E9E6DF"
_MOST = 6
_TITLES = {"outlines": "outlines", "floors": "pockets and floors", "grooves": "grooves"}

_LEAST_COLUMN = 22
"""Width that captions need, in heights of their lines."""
_LEADING = 1.35
_PAGE = 1.25
"""Height of what a page leaves to a picture, as share of its width."""
_LEGIBLE = 0.0125
"""Height of a line, as share of the width of the page on which it can still be read."""

_SEEN_MM2 = 0.5
"""What is smaller is not seen in a picture of a whole part."""

_ROUND = 0.06
"""What is shown round floors and grooves, as share of their longer side."""

_Window = tuple[float, float, float, float]
_Panel = tuple[CutterChoice, Sequence[CutterSet], Part, _Window]


@dataclass(frozen=True, slots=True)
class _Layout:
    """Panels in columns: widths in mm, `unit` the height of a line of text."""

    columns: int
    column: float
    unit: float

    @property
    def pad(self) -> float:
        return 2.2 * self.unit

    @property
    def inner(self) -> float:
        return self.columns * (self.column + self.pad) - self.pad

    def rows(self, sets: Sequence[CutterSet]) -> int:
        return math.ceil(len(sets) / self.columns)

    def tall(self, panel: _Panel, names: Mapping[str, str]) -> float:
        """Return how tall a panel is with the words below it, and the room to the next."""
        _, low, _, top = panel[3]
        lines = max(sum(len(t) for t, _ in self.words(one, names)) for one in panel[1])
        return float(top - low) + (_LEADING * lines + 3.2) * self.unit

    def words(self, one: CutterSet, names: Mapping[str, str]) -> list[tuple[list[str], bool]]:
        """Return what is said below a panel, in lines, and whether it is bold."""
        cutters, rest = _words(one, names)
        texts = ((cutters, one.chosen), (rest, False))
        return [(wrapped(t, self.unit, self.column, bold=bold), bold) for t, bold in texts]

    def height(self, panels: Iterable[_Panel], names: Mapping[str, str]) -> float:
        """Return the height of the picture."""
        blocks = (self.rows(p[1]) * self.tall(p, names) + 3.2 * self.unit for p in panels)
        return 8.0 * self.unit + sum(blocks)


def _layout(panels: Sequence[_Panel], names: Mapping[str, str]) -> _Layout:
    """Return the layout in which parts are largest on a page, with words that can be read there."""
    boxes = [window for *_, window in panels]
    width = max((b[2] - b[0] for b in boxes), default=40.0)
    high = max((b[3] - b[1] for b in boxes), default=10.0)
    found: list[tuple[float, _Layout]] = []
    for columns in (1, 2, 3):
        unit = max(0.9, 0.022 * math.sqrt(width * high))
        # Larger words ask for more room, and that for larger words: after a few rounds enough.
        for _ in range(5):
            layout = _Layout(columns, max(width, _LEAST_COLUMN * unit), unit)
            page = max(layout.inner, layout.height(panels, names) / _PAGE)
            unit = max(unit, _LEGIBLE * page)
        found.append((page, layout))
    return min(found, key=lambda one: one[0])[1]


def cutter_sets_picture(plan: CutPlan) -> str:
    """Return what sets of cutters take and leave on a sheet, as SVG; six of each kind at most."""
    panels = [
        (choice, _shown(choice), part, _window(part, choice.work))
        for choice in plan.choices
        for part in (_part(plan, choice),)
        if part is not None
    ]
    layout = _layout(panels, plan.names)
    unit, pad, column, inner = layout.unit, layout.pad, layout.column, layout.inner
    title = f"Sheet {plan.sheet.number}: sets of cutters compared"
    found: list[str] = []
    y = 5.6 * unit
    for panel in panels:
        choice, sets, part, window = panel
        left, low, _, top = window
        head = f"{_TITLES[choice.work]}, {part.name}: minutes are those of the whole sheet"
        found.append(caption_within(head, unit, pad, y, inner, colour=QUIET))
        y += 2.2 * unit
        tall = layout.tall(panel, plan.names)
        for k, one in enumerate(sets):
            x = pad + (k % layout.columns) * (column + pad)
            at = y + (k // layout.columns) * tall
            found += _panel(one, part, choice.work, window, Frame(x - left, at + top))
            below = at + top - low + 1.8 * unit
            for lines, bold in layout.words(one, plan.names):
                for line in lines:
                    found.append(caption(line, unit, x, below, bold=bold))
                    below += _LEADING * unit
            if one.chosen:
                found.append(
                    f'<rect x="{number(x - 0.6 * unit)}" y="{number(at - 0.8 * unit)}" '
                    f'width="{number(column + 1.2 * unit)}" '
                    f'height="{number(tall - 0.7 * unit)}" fill="none" '
                    f'stroke="{STYLES["profile"].colour}" stroke-width="{number(0.16 * unit)}"/>'
                )
        y += layout.rows(sets) * tall + unit
    total = layout.height(panels, plan.names)
    told = [
        f"{_TITLES[choice.work]}, {part.name}: "
        + "; ".join(", ".join(_words(one, plan.names)) for one in sets)
        for choice, sets, part, _ in panels
    ]
    words = ". ".join(told) or "There is nothing to compare"
    start = svg_open(inner + 2 * pad, total, escaped(title), escaped(words))
    start.append(caption_within(title, 1.6 * unit, pad, 3.1 * unit, inner, bold=True))
    if not panels:
        start.append(caption("There is nothing to compare.", unit, pad, y, colour=QUIET))
    widths = (window[2] - window[0] for *_, window in panels)
    bar = bar_length(max(widths, default=40.0))
    found.extend(scale_bar(pad, total - 1.2 * unit, bar, unit))
    return svg_close([*start, *found])


def is_worth_showing(compared: Iterable[tuple[float, float]]) -> bool:
    """Tell whether sets of cutters differ in what a picture of them would show.

    Args:
        compared: the areas in mm² that each set leaves and that it makes flat, of works with more
            than one set.

    """
    return any(left >= _SEEN_MM2 or flat >= _SEEN_MM2 for left, flat in compared)


def _shown(choice: CutterChoice) -> Sequence[CutterSet]:
    """Return the sets that are shown, in their order: the one that was chosen, and the quickest."""
    others = [s for s in choice.sets if not s.chosen][: _MOST - 1]
    return [s for s in choice.sets if s.chosen or s in others]


def _part(plan: CutPlan, choice: CutterChoice) -> Part | None:
    """Return the part on which the set that leaves most leaves most; of grooves that with most.

    None where there is one set only, or no difference to be seen.
    """
    areas = ((one.left_area_mm2, one.flat_area_mm2) for one in choice.sets)
    if len(choice.sets) < 2 or not is_worth_showing(areas):
        return None
    parts = {p.source.name: p.source for p in plan.sheet.parts}
    if choice.work == "grooves":
        return max(parts.values(), key=lambda p: sum(g.region.area for g in p.grooves))
    most = max(choice.sets, key=lambda s: s.left_area_mm2)
    left: dict[str, float] = {}
    for name, region in most.left:
        left[name] = left.get(name, 0.0) + region.area
    if not left:
        return None
    worst = max(sorted(left), key=lambda name: left[name])
    return parts[worst]


def _floors(part: Part, work: str) -> list[Region]:
    """Return what a kind of work sinks into a part."""
    grooves = [g.region for g in part.grooves]
    return grooves + [p.region for p in part.pockets] if work == "floors" else grooves


def _window(part: Part, work: str) -> _Window:
    """Return the box of a part that is shown: all of it, or that round what is sunk into it."""
    box = as_region(part.outline).bounds
    sunk = [] if work == "outlines" else _floors(part, work)
    if not sunk:
        return box
    low_x, low_y, high_x, high_y = shapely.total_bounds(sunk).tolist()
    room = _ROUND * max(high_x - low_x, high_y - low_y)
    return (
        max(box[0], low_x - room),
        max(box[1], low_y - room),
        min(box[2], high_x + room),
        min(box[3], high_y + room),
    )


def _panel(one: CutterSet, part: Part, work: str, window: _Window, frame: Frame) -> list[str]:
    seen = shapely.box(*window)

    def filled(region: Region, colour: str) -> str:
        data = frame.path(region_rings(as_region(shapely.intersection(region, seen))))
        return f'<path d="{data}" fill="{colour}" fill-rule="evenodd"/>'

    found = [filled(as_region(part.outline), _MATERIAL)]
    if work != "outlines":
        found += [filled(region, _FLOOR) for region in _floors(part, work)]
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
