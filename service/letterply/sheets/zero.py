"""A sheet and a machine in, where the maker sets the work zero out.

One place for those who write programs, read them back, and tell a maker what to do. The machine's
habits say where; a place that the maker cannot reach when the cutter is set is never taken, the
nearest in kind that can be is, and why is told: a corner beyond the machine's reach, a bed that the
sheet covers, the floor of a pocket with the blank on it when the next cutter is set.
"""

from __future__ import annotations

from dataclasses import dataclass

from letterply.catalogue import Machine
from letterply.sheets.model import Sheet
from letterply.units import format_mm

__all__ = ["WorkZero", "work_zero"]

_BARE_MM = 5.0
"""How much of the bed must lie bare beside a sheet for a cutter to come down on it."""

_MEASURED_MM = 0.1
"""Places that a maker marks by measuring are told to this."""

_CORNERS = {
    "lower-left": (0.0, 0.0),
    "lower-right": (1.0, 0.0),
    "upper-left": (0.0, 1.0),
    "upper-right": (1.0, 1.0),
    "centre": (0.5, 0.5),
}
"""Where on a sheet a word of `zero_xy` is, in shares of its sides."""


@dataclass(frozen=True, slots=True)
class WorkZero:
    """Where x, y and z of a sheet's programs are nought.

    Attributes:
        x_mm, y_mm: in the sheet's frame.
        lift_mm: how high the face of the sheet, or of its blanks, lies over it.
        at: where that is in the plane, in words, and
        face: on what in height.
        why: why it is not where the machine's habits say; empty where it is.

    """

    x_mm: float = 0.0
    y_mm: float = 0.0
    lift_mm: float = 0.0
    at: str = "the lower left corner of the sheet"
    face: str = "its top"
    why: str = ""

    @classmethod
    def of_corner(cls, machine: Machine, thickness_mm: float) -> WorkZero:
        """Return that at the lower left corner of a sheet so thick."""
        top = machine.zero == "top"
        return cls(0.0, 0.0, 0.0 if top else thickness_mm, face="its top" if top else "the bed")


def work_zero(sheet: Sheet, machine: Machine) -> WorkZero:
    """Return where the zero of a sheet's programs is."""
    if sheet.of_blanks:
        return _of_blanks(sheet, machine)
    x, y, at, why = _on_sheet(sheet, machine, "the sheet")
    top = WorkZero(x, y, 0.0, at, "its top", why)
    if machine.zero == "top":
        return top
    bare = machine.bed_mm[0] - sheet.stock.width_mm, machine.bed_mm[1] - sheet.stock.height_mm
    if machine.kind != "beam" and max(bare) < _BARE_MM:
        said = f"{why}; the sheet covers the bed" if why else "the sheet covers the bed"
        return WorkZero(x, y, 0.0, at, "its top", said)
    return WorkZero(x, y, sheet.stock.thickness_mm, at, "the bed", why)


def _on_sheet(sheet: Sheet, machine: Machine, what: str) -> tuple[float, float, str, str]:
    """Return x and y of the place on a sheet, or a fixture's board, its words, and why."""
    stock, habit = sheet.stock, machine.zero_xy
    corner = f"the lower left corner of {what}"
    if habit == "pin":
        x, y = machine.pin_mm
        return x, y, f"the pin of the machine, {_way(x, y)} {corner}", ""
    if habit == "parts":
        x, y = _middle(sheet)
        return x, y, f"the middle of all parts, {_way(x, y)} {corner}", ""
    share, sides = _CORNERS[habit], (stock.width_mm, stock.height_mm)
    x, y = (round(s * side, 4) for s, side in zip(share, sides, strict=True))
    far = stock.reach_mm
    if far is not None and (x > far[0] or y > far[1]):
        name = _name(habit, "its")
        return 0.0, 0.0, corner, f"the machine does not reach {name}"
    name = _name(habit, "the")
    at = f"{name} of {what}"
    return x, y, f"{at}, {_way(x, y)} its lower left corner" if habit == "centre" else at, ""


def _name(habit: str, article: str) -> str:
    return (
        f"{article} middle" if habit == "centre" else f"{article} {habit.replace('-', ' ')} corner"
    )


def _way(x_mm: float, y_mm: float) -> str:
    along = f"{format_mm(abs(x_mm))} {'left' if x_mm < 0 else 'right'} of"
    return f"{along} and {format_mm(abs(y_mm))} {'below' if y_mm < 0 else 'above'}"


def _middle(sheet: Sheet) -> tuple[float, float]:
    """Return the middle of the box of all parts, as a maker can measure it."""
    boxes = [p.part.outline.bounds for p in sheet.parts]
    if not boxes:
        return 0.0, 0.0
    x = (min(b[0] for b in boxes) + max(b[2] for b in boxes)) / 2
    y = (min(b[1] for b in boxes) + max(b[3] for b in boxes)) / 2
    steps = round(x / _MEASURED_MM), round(y / _MEASURED_MM)
    return round(steps[0] * _MEASURED_MM, 1), round(steps[1] * _MEASURED_MM, 1)


def _of_blanks(sheet: Sheet, machine: Machine) -> WorkZero:
    x, y = sheet.zero_mm
    at, why = "the middle of the blank", ""
    if sheet.fixture:
        corner = f"the lower left corner of the fixture {sheet.fixture}"
        at = f"the middle of the lower left pocket, {_way(x, y)} {corner}"
        if machine.blank_zero_xy == "fixture":
            x, y, at, why = _on_sheet(sheet, machine, f"the fixture {sheet.fixture}")
    lift, face, reason = _face_of_blanks(sheet, machine)
    return WorkZero(x, y, lift, at, face, "; ".join(filter(None, [why, reason])))


def _face_of_blanks(sheet: Sheet, machine: Machine) -> tuple[float, str, str]:
    """Return how high the top of the blanks lies over the zero, its words, and why."""
    thickness = sheet.stock.thickness_mm
    habit = machine.blank_zero or ("top" if machine.zero == "top" else "fixture")
    if habit == "top":
        return 0.0, "the top of a blank", ""
    if not sheet.fixture:
        return thickness, "the bed that the blank lies on", ""
    beside = thickness - sheet.pocket_mm, "the face of the fixture, beside its pockets"
    if habit == "fixture":
        return *beside, ""
    if machine.tool_change != "automatic":
        return *beside, "a blank covers the floor of its pocket when the next cutter is set"
    return thickness, "the floor of a pocket, before its blank goes in", ""
