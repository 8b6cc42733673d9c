"""What the tasks of an order are given, as values: all that their answers depend on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import ClassVar

from letterply.orders.codec import Facts
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.answers import LayerAnswer, Problem, StackLayer
from letterply.orders.pipeline.layouts import SheetSpec
from letterply.sheets import Unplaced

__all__ = [
    "DocumentsRequest",
    "DrawingsRequest",
    "LineRequest",
    "LoadLine",
    "LoadRequest",
    "PapersRequest",
    "PictureRequest",
    "PoolLine",
    "PoolRequest",
    "Pooled",
    "SheetRequest",
    "Sources",
    "TaskKind",
    "TaskRequest",
]


class TaskKind(StrEnum):
    """What a task does."""

    LINE = "line"
    POOL = "pool"
    LOAD = "load"
    SHEET = "sheet"
    PAPERS = "papers"
    PICTURE = "picture"
    DRAWINGS = "drawings"
    DOCUMENTS = "documents"


@dataclass(frozen=True, slots=True)
class Sources:
    """What tasks draw on beside what they are given, by digest in the vault.

    Attributes:
        fonts: id of an own font -> digest of its file.
        catalogue: digests of the shop's own catalogue files, in order.
        artworks: id of a drawing -> digest of its file.

    """

    fonts: Mapping[str, str]
    catalogue: tuple[str, ...] = ()
    artworks: Mapping[str, str] = field(default_factory=dict)

    @property
    def digests(self) -> tuple[str, ...]:
        """The digests of all of them."""
        return (*self.catalogue, *self.fonts.values(), *self.artworks.values())


@dataclass(frozen=True, slots=True)
class TaskRequest:
    """What every task is given: the shop as it was asked for, and its sources."""

    kind: ClassVar[TaskKind]

    shop: Facts
    sources: Sources


@dataclass(frozen=True, slots=True)
class LineRequest(TaskRequest):
    """A design: its recipe, in normal form."""

    kind: ClassVar[TaskKind] = TaskKind.LINE

    recipe: Facts


@dataclass(frozen=True, slots=True)
class PoolLine:
    """Layers of one material of a line, and how many there are of each.

    A line whose frames are of that material has another entry for them: one is enough for all
    copies. Boards belong to no line: their number is 0.
    """

    number: int
    quantity: int
    layers: tuple[LayerAnswer, ...]


@dataclass(frozen=True, slots=True)
class PoolRequest(TaskRequest):
    """The parts in one material.

    Attributes:
        material: key of the material.
        lines: what is laid.
        search_s: seconds for tighter layouts.
        kept: sheets of an earlier order.

    """

    kind: ClassVar[TaskKind] = TaskKind.POOL

    material: str
    lines: tuple[PoolLine, ...]
    search_s: int
    kept: tuple[SheetSpec, ...]


@dataclass(frozen=True, slots=True)
class LoadLine:
    """The blanks of a line."""

    number: int
    quantity: int
    layer: StackLayer


@dataclass(frozen=True, slots=True)
class LoadRequest(TaskRequest):
    """The blanks of one kind.

    Attributes:
        lines: what is laid.
        fixture: what holds them on paper; empty where that is the maker's own.
        kept: loads of an earlier order.

    """

    kind: ClassVar[TaskKind] = TaskKind.LOAD

    lines: tuple[LoadLine, ...]
    fixture: str
    kept: tuple[SheetSpec, ...]

    @property
    def material(self) -> str:
        """Key of their material."""
        return self.lines[0].layer.material


@dataclass(frozen=True, slots=True)
class SheetRequest(TaskRequest):
    """A sheet, numbered, and how its parts are marked."""

    kind: ClassVar[TaskKind] = TaskKind.SHEET

    sheet: SheetSpec
    marks: str


@dataclass(frozen=True, slots=True)
class Pooled:
    """What came of a pool or a load: parts without room, or the problem with all of it."""

    material: str
    unplaced: tuple[Unplaced, ...] = ()
    problem: Problem | None = None


@dataclass(frozen=True, slots=True)
class PapersRequest(TaskRequest):
    """A whole order, whose answers are read by their keys.

    Attributes:
        order: the order.
        line_keys: keys of the tasks of its lines, in order.
        sheets: its sheets, and
        sheet_keys: the keys of their tasks.
        failed: key of a task -> the problem with it.
        pools: what came of pools and loads.

    """

    kind: ClassVar[TaskKind] = TaskKind.PAPERS

    order: Order
    line_keys: tuple[str, ...]
    sheets: tuple[SheetSpec, ...]
    sheet_keys: tuple[str, ...]
    failed: Mapping[str, Problem]
    pools: tuple[Pooled, ...]


@dataclass(frozen=True, slots=True)
class PictureRequest(TaskRequest):
    """A line that was made, to be shown.

    Attributes:
        title: of its picture.
        layers: digests of its layers, bottom first.
        exploded: whether they float apart.

    """

    kind: ClassVar[TaskKind] = TaskKind.PICTURE

    title: str
    layers: tuple[str, ...]
    exploded: bool


@dataclass(frozen=True, slots=True)
class DrawingsRequest(TaskRequest):
    """A sheet that was planned, to be drawn from what its task left in the vault."""

    kind: ClassVar[TaskKind] = TaskKind.DRAWINGS

    drawn_from: str


@dataclass(frozen=True, slots=True)
class DocumentsRequest(PapersRequest):
    """A whole order, of which one document is to be written; `path` says which."""

    kind: ClassVar[TaskKind] = TaskKind.DOCUMENTS

    path: str
