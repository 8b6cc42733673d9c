"""Test pieces as values: what is cut, what is read on it, what follows from that.

Lengths mm, angles degrees, feeds mm/min. Places are told from the middle of their layer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from letterply.requests import FitFigure, OwnFeeds, PieceKind, TrueThickness

__all__ = ["Change", "Piece", "ReadAt", "Rung", "Told"]

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class ReadAt:
    """A field of the sheet to write on.

    Attributes:
        name: by which its reading is typed in.
        label: what is measured, in words.
        layer: on which layer.
        ends: where the caliper's jaws go, or one point twice.
        low, high: between which a reading can be; of a choice both are 0.
        choices: letters, one of which is named; empty for a length.
        needed: whether nothing can be told without it.

    """

    name: str
    label: str
    layer: str
    ends: tuple[Place, Place]
    low: float = 0.0
    high: float = 0.0
    choices: tuple[str, ...] = ()
    needed: bool = True


@dataclass(frozen=True, slots=True)
class Rung:
    """A step of a ladder.

    Attributes:
        letter: by which it is called.
        value: a clearance, depth or feed.
        layer: on which layer.
        at: where.

    """

    letter: str
    value: float
    layer: str
    at: Place


@dataclass(frozen=True, slots=True)
class Piece:
    """A test piece.

    Attributes:
        kind: what it tells.
        title: of it.
        subject: what is measured, in words.
        recipe: what is cut, in normal form.
        cutters: keys of the cutters that cut it; empty for the shop's rack.
        reads: fields of its sheet.
        rungs: steps of its ladder.
        steps: what to do, in order.
        panels: layers that are drawn together, by name.
        nominal: figures that it was made with, which readings are held against.

    """

    kind: PieceKind
    title: str
    subject: str
    recipe: Mapping[str, Any]
    cutters: tuple[str, ...]
    reads: tuple[ReadAt, ...]
    steps: tuple[str, ...]
    panels: tuple[tuple[str, ...], ...]
    rungs: tuple[Rung, ...] = ()
    nominal: Mapping[str, float] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class Change:
    """A figure, as it was and as it is.

    Attributes:
        subject: whose figure it is, in words.
        figure: its name in the shop, with its unit at the end.
        old: what it was; None where nothing was known.
        new: what it is.
        uncertainty: of the new one, expanded (k = 2).

    """

    subject: str
    figure: str
    old: float | None
    new: float
    uncertainty: float


@dataclass(frozen=True, slots=True)
class Told:
    """What readings tell.

    Attributes:
        changes: figures.
        remarks: what else they show, in words.
        cutter: figures of the cutter, by their names in the catalogue.
        fit, feeds, thickness: what the shop keeps of them.

    """

    changes: tuple[Change, ...]
    remarks: tuple[str, ...] = ()
    cutter: Mapping[str, float] = field(default_factory=dict, hash=False)
    fit: FitFigure | None = None
    feeds: OwnFeeds | None = None
    thickness: TrueThickness | None = None
