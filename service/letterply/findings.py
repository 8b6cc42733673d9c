"""Doubt about the work, measured: the one way in which anything reports a doubt.

A finding says what was found (`code`), how bad it is (`severity`), where, how much against which
limit, why it matters, and what to do about it (`remedies`, each of them machine-readable).
Lengths are mm, areas mm², forces N; the unit of each finding is in the finding.

`FINDING_CODES` is the published catalogue. It only grows: a code never changes its meaning.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from letterply.names import sentence
from letterply.said import Said, say
from letterply.units import counted

__all__ = [
    "FINDING_CODES",
    "Finding",
    "Place",
    "Remedy",
    "RemedyAction",
    "Severity",
    "by_severity",
    "count_by_severity",
    "summarise",
]


class Severity(StrEnum):
    """How bad a finding is."""

    BLOCKER = "blocker"
    """The part will not come out, or not as drawn."""
    CAUTION = "caution"
    """It can be cut, with a loss or a risk that the maker should accept knowingly."""
    NOTE = "note"
    """Worth knowing; nothing to do."""


class RemedyAction(StrEnum):
    """What a remedy does; the names are part of the public interface."""

    RAISE_SIZE_TO = "raise_size_to"
    SWAP_CUTTER = "swap_cutter"
    GROW_BY = "grow_by"
    BRIDGE = "bridge"
    MERGE_LAYERS = "merge_layers"
    CHANGE_MATERIAL = "change_material"
    CHANGE_HOLD_DOWN = "change_hold_down"
    CHANGE_FONT = "change_font"
    CHANGE_STOCK = "change_stock"
    LIMIT_DEPTH = "limit_depth"
    JOIN = "join"
    ADD_MARK = "add_mark"
    ADD_KEY = "add_key"
    USE_ELASTIC_ADHESIVE = "use_elastic_adhesive"
    SLOT_HOLES = "slot_holes"
    SPLIT = "split"
    MOVE_BY = "move_by"
    LOWER_SIZE_TO = "lower_size_to"
    CHANGE_SPACING = "change_spacing"
    CHANGE_CASE = "change_case"
    ENTER_POWER = "enter_power"
    MEASURE = "measure"


FINDING_CODES: dict[str, str] = {
    "island": "a piece that drops out, or floats free of the piece it belongs to",
    "neck": "a narrow place between wider ones, thinner than its material and thickness bear",
    "stroke": "a long thin stroke, tip or serif that will chip",
    "slot": "a gap or counter narrower than the smallest cutter",
    "corner": "an inside corner that the cutter leaves round",
    "crumb": "a part too small to hold while it is cut",
    "web": "a hole, pocket or groove too close to an edge or to another one",
    "depth": "deeper than the stock, the limit or the cutter allows",
    "room": "larger than the stock, the machine or the layer below",
    "movement": "layers that move apart with humidity or heat",
    "look-alike": "parts that can be glued turned, flipped or swapped",
    "tactile": "raised characters against the published accessibility standard",
    "reading": "visual characters against the published accessibility standard",
    "align": "no place was found for the alignment that was asked for",
    "feed": "a feed or speed outside what material and machine bear",
    "unplaced": "a part that no sheet on the rack has space for",
    "uncut": "work that no cutter in the rack can do",
    "join": "letters of a script that should meet and miss each other by a hair",
    "artwork": "a drawing of which something is left out: texts, pictures, effects",
    "edge": "work drawn beyond the outline: it runs over the edge and ends there",
    "refused": "work that must not be done: this material on this machine",
    "power": "the power of the beam for this sheet is not entered",
    "proof": "the independent check of the program found that it would not make the parts",
    "fit": "a clearance that was left to the shop and that it has not measured",
    "flat": "sheets that were measured to be less flat than cuts go below them",
}
"""Code -> what it finds. Append-only."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a finding is, in the frame of the part (stack frame), mm.

    Attributes:
        kind: `point`, `segment` or `polygon`.
        points: one, two or at least three (x, y) pairs.

    """

    kind: str
    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        least = {"point": 1, "segment": 2, "polygon": 3}.get(self.kind)
        if least is None or len(self.points) < least:
            raise ValueError(f"a {self.kind} of {len(self.points)} points is no place")

    def moved(self, dx_mm: float, dy_mm: float) -> Place:
        """Return the place shifted."""
        return Place(self.kind, tuple((x + dx_mm, y + dy_mm) for x, y in self.points))

    @property
    def anchor(self) -> tuple[float, float]:
        """The middle of the place, where a numbered mark goes."""
        n = len(self.points)
        return sum(p[0] for p in self.points) / n, sum(p[1] for p in self.points) / n


@dataclass(frozen=True, slots=True)
class Remedy:
    """A way out that a program can apply.

    Attributes:
        action: what to do.
        value: by how much, or the name to change to; None where the action says it all.
        unit: unit of `value`, empty for names.
        text: the same in words.

    """

    action: RemedyAction
    text: Said
    value: float | str | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One doubt.

    Attributes:
        code: a key of `FINDING_CODES`.
        severity: how bad.
        why: what is wrong, where and against what, in plain words, figures included: whole
            sentences, whatever it was given.
        layer: name of the layer, or None when it concerns the whole.
        part: name of the part, or None.
        where: place in the stack frame, or None.
        measured: what was measured, in `unit`, or None.
        limit: what it is held against, in `unit`, or None.
        unit: unit of both.
        remedies: ways out, best first.
        data: further figures, as pairs of name and plain value. A finding that stands for several
            places has their number as `count`, their middles as `places` (x, y) and the names of
            their parts as `parts`, the gravest first.
        gravity: among findings of one kind the least comes first: what a place bears over what it
            has to bear, where that is known.

    """

    code: str
    severity: Severity
    why: Said
    layer: str | None = None
    part: str | None = None
    where: Place | None = None
    measured: float | None = None
    limit: float | None = None
    unit: str = "mm"
    remedies: tuple[Remedy, ...] = ()
    data: tuple[tuple[str, Any], ...] = ()
    gravity: float = 1.0

    def __post_init__(self) -> None:
        if self.code not in FINDING_CODES:
            raise ValueError(f"{self.code!r} is not in the catalogue of findings")
        object.__setattr__(self, "why", sentence(self.why))

    def moved(self, dx_mm: float, dy_mm: float) -> Finding:
        """Return the finding with all its places shifted."""
        data = tuple(
            (name, tuple((round(x + dx_mm, 5), round(y + dy_mm, 5)) for x, y in value))
            if name == "places"
            else (name, value)
            for name, value in self.data
        )
        where = None if self.where is None else self.where.moved(dx_mm, dy_mm)
        return replace(self, where=where, data=data)


_ORDER = {Severity.BLOCKER: 0, Severity.CAUTION: 1, Severity.NOTE: 2}


_BEFORE = ("refused", "power", "proof", "room", "unplaced", "uncut", "depth")
_BREAKS = ("neck", "stroke", "web", "island", "crumb")
_SHOWS = ("corner", "movement", "look-alike", "feed")


def _rank(code: str) -> int:
    """Return what comes first: what cannot be made, what breaks or drops, the rest, what shows."""
    if code in _BEFORE:
        return _BEFORE.index(code)
    return len(_BEFORE) + (0 if code in _BREAKS else 2 if code in _SHOWS else 1)


def by_severity(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Sort findings, the gravest first; stable and repeatable.

    By severity; then what must not or cannot be made, what breaks or drops, the weakest first,
    and what only shows; then by layer, part, code and place.
    """

    def key(f: Finding) -> tuple[Any, ...]:
        place = f.where.points if f.where else ()
        grave = _ORDER[f.severity], _rank(f.code), f.gravity
        return *grave, f.layer or "", f.part or "", f.code, place, f.why

    return tuple(sorted(findings, key=key))


def count_by_severity(findings: Iterable[Finding]) -> dict[str, int]:
    """Count findings a severity, every severity present."""
    counts = {str(s): 0 for s in Severity}
    for finding in findings:
        counts[str(finding.severity)] += 1
    return counts


def summarise(findings: Iterable[Finding]) -> Said:
    """Say in short what stands in the way, the gravest first.

    >>> summarise([])
    'Nothing stands in the way.'
    """
    found = by_severity(findings)
    counts = count_by_severity(found)
    if not counts["blocker"]:
        if not counts["caution"]:
            return say("Nothing stands in the way.")
        mind = counted(counts["caution"], "caution")
        first = next(f for f in found if f.severity is Severity.CAUTION)
        return say("It can be cut, with {mind}. First: {first}", mind=mind, first=first.why)
    stay = counted(counts["blocker"], "blocker")
    return say("It cannot be cut as it is: {stay}. First: {first}", stay=stay, first=found[0].why)
