"""Lines of an order that were made, as somebody is shown them: size, materials, picture.

The content of an order and the vault in, values out. What tasks made is found by their keys, as
the papers find it.
"""

from __future__ import annotations

from dataclasses import dataclass

from letterply.cutting import CutPlan
from letterply.errors import LetterplyError
from letterply.orders.codec import Facts, value_of
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.answers import LineAnswer, SheetAnswer, heard
from letterply.orders.pipeline.drawing import drawn_sheet, picture_of
from letterply.orders.pipeline.stages import OrderPipeline
from letterply.orders.pipeline.task_requests import PapersRequest, PictureRequest, Sources
from letterply.proof import SheetProof
from letterply.storage import Vault

__all__ = ["MadeLine", "OrderedLine", "cut_sheets", "lines_of", "made_lines"]


@dataclass(frozen=True, slots=True)
class OrderedLine:
    """A line as it was ordered: its number, its words, how many copies, the recipe of one."""

    number: int
    text: str
    quantity: int
    recipe: Facts


@dataclass(frozen=True, slots=True)
class MadeLine(OrderedLine):
    """A line that was made.

    Attributes:
        title: of its recipe.
        size_mm: width, height, thickness.
        layers: key of the material and thickness in mm of each, bottom first.
        blockers: how many its checks name.
        picture: what its picture is made from (`OrderService.pictures`).

    """

    title: str
    size_mm: tuple[float, float, float]
    layers: tuple[tuple[str, float], ...]
    blockers: int
    picture: PictureRequest


def cut_sheets(papers: PapersRequest, vault: Vault) -> list[tuple[CutPlan, SheetProof]]:
    """Return the sheets of an order whose programs passed their proof.

    Raises:
        LetterplyError: `answer-outdated`, they were made by an earlier version of the engine.

    """
    found = []
    for key in papers.sheet_keys:
        answer = None if key in papers.failed else vault.recall(key)
        made = heard(SheetAnswer, answer) if answer is not None else None
        if isinstance(made, SheetAnswer) and made.passed:
            found.append(drawn_sheet(vault.read(made.drawn_from)))
        elif answer is None and key not in papers.failed:
            raise _outdated()
    return found


def lines_of(content: Facts) -> tuple[OrderedLine, ...]:
    """Return the lines of an order from its content."""
    order = value_of(Order, content["order"])
    return tuple(OrderedLine(x.number, x.text, x.quantity, x.recipe) for x in order.lines)


def made_lines(content: Facts, vault: Vault) -> tuple[MadeLine, ...]:
    """Return the lines of an order that were made.

    Raises:
        LetterplyError: `answer-outdated`, they were made by an earlier version of the engine.

    """
    order = value_of(Order, content["order"])
    sources = value_of(Sources, content["sources"])
    pipeline = OrderPipeline(order, sources, vault)
    found = []
    for line, task in zip(order.lines, pipeline.line_tasks(), strict=True):
        answer = vault.recall(task.key)
        if answer is None:
            raise _outdated()
        made = heard(LineAnswer, answer)
        if isinstance(made, LineAnswer):
            found.append(
                MadeLine(
                    line.number,
                    line.text,
                    line.quantity,
                    line.recipe,
                    title=made.title,
                    size_mm=made.size_mm,
                    layers=tuple((la.material, la.thickness_mm) for la in made.layers),
                    blockers=made.findings.counts.blocker,
                    picture=picture_of(order.shop, sources, made, exploded=False),
                )
            )
    return tuple(found)


def _outdated() -> LetterplyError:
    return LetterplyError(
        "The order was made by an earlier version of the service: ask for it again.",
        code="answer-outdated",
    )
