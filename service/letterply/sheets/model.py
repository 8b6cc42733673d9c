"""Sheets: stock sheets with placed parts. Values only; the search is `letterply.sheets.nesting`.

Sheet frame: origin at the lower left of the stock as it lies on the machine, x along its width
(and along the grain, unless it lies turned: then that runs along y), y up,
z = 0 at the top face, negative into the stock. A *placement* is one rigid move from the part's
frame (as the cutter sees it) to the sheet's; nothing else moves a part.
"""

from __future__ import annotations

from dataclasses import dataclass

from letterply.catalogue import Stock
from letterply.names import layer_words
from letterply.said import Said, say
from letterply.stacks import Part

__all__ = ["Nesting", "PlacedPart", "Placement", "Sheet", "Unplaced"]


@dataclass(frozen=True, slots=True)
class Placement:
    """A turn about the origin, then a shift, part frame to sheet frame."""

    angle_deg: float
    x_mm: float
    y_mm: float

    def quarter_turned(self, height_mm: float) -> Placement:
        """Return it with the area that it lies in turned by a quarter, counter-clockwise.

        Args:
            height_mm: height of the area before it is turned; its lower left is the origin.

        >>> Placement(270, 10, 5).quarter_turned(400)
        Placement(angle_deg=0, x_mm=395, y_mm=10)

        """
        return Placement((self.angle_deg + 90) % 360, height_mm - self.y_mm, self.x_mm)


_LONGEST = 24
"""Letters of a part that are told in full."""


@dataclass(frozen=True, slots=True)
class PlacedPart:
    """A part on a sheet.

    Attributes:
        mark: unique on all sheets of the job: `copy.part`, as `2.face.A`.
        copy: number of the copy, from 1.
        source: the part in its own frame, as the cutter sees it.
        placement: where it lies.
        part: the part in the sheet's frame.

    """

    mark: str
    copy: int
    source: Part
    placement: Placement
    part: Part

    @classmethod
    def at(cls, mark: str, copy: int, source: Part, placement: Placement) -> PlacedPart:
        """Place `source`."""
        moved = source.moved(
            angle_deg=placement.angle_deg, x_mm=placement.x_mm, y_mm=placement.y_mm
        )
        return cls(mark, copy, source, placement, moved)

    @property
    def words(self) -> str:
        """What it is called in a sentence, and the label under which pictures show it."""
        on = layer_words(self.source.layer)
        told = self.source.letters
        told = told if len(told) <= _LONGEST else f"{told[:_LONGEST]}…"
        what = f"the {'letters ' * (len(told) > 1)}{told} on {on}" if told else on
        return f"{what} (label {self.mark})"


@dataclass(frozen=True, slots=True)
class Sheet:
    """One stock sheet with placed parts.

    Attributes:
        number: from 1, over the whole job.
        stock: the sheet it is.
        parts: what lies on it, sorted by mark.
        from_back: True when the parts on it are cut from their back.
        zero_mm: the usual zero of x and y: the lower left of the stock, or, for blanks, the
            middle of the first one. `letterply.sheets.work_zero` minds the machine's habits.
        runs: how often its programs are run: more than once for a fixture that is filled again.
        fixture: name of the fixture that holds blanks; empty for a sheet of stock.
        pocket_mm: depth of the fixture's pockets, 0 without any.

    """

    number: int
    stock: Stock
    parts: tuple[PlacedPart, ...]
    from_back: bool = False
    zero_mm: tuple[float, float] = (0.0, 0.0)
    runs: int = 1
    fixture: str = ""
    pocket_mm: float = 0.0

    @property
    def of_blanks(self) -> bool:
        """Whether its parts are blanks, which are worked and not cut out."""
        return bool(self.parts) and all(p.source.ready_made for p in self.parts)

    @property
    def used_share(self) -> float:
        """Area of parts over area of stock, 0 to 1."""
        area = sum(p.part.outline.area for p in self.parts)
        return area / self.stock.material_area.area


_ANOTHER = say("put another sheet of it on the rack")


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A part that found no room, why, and what to do."""

    mark: str
    material: str
    thickness_mm: float
    why: Said
    remedy: Said = _ANOTHER


@dataclass(frozen=True, slots=True)
class Nesting:
    """All sheets of a job.

    Attributes:
        sheets: in order of number.
        unplaced: what found no room.
        spacing_mm: least distance between parts.

    """

    sheets: tuple[Sheet, ...]
    unplaced: tuple[Unplaced, ...]
    spacing_mm: float
