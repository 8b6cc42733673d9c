"""What shows an order, as tasks that are run once somebody asks: pictures of lines, sheets drawn.

An order is complete without: drawings and pictures show what programs and proofs say. They are made
from what the tasks of lines and sheets left in the vault.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from letterply.catalogue import Catalogue
from letterply.cutting import CutPlan
from letterply.exports import (
    LINE_PX,
    RESULT_PX,
    cutter_sets_picture,
    png_within,
    proof_svg,
    sheet_dxf,
    sheet_pictures,
    sheet_svg,
    stack_picture,
)
from letterply.jobs import pack, shown_plan, unpack
from letterply.orders.codec import Facts
from letterply.orders.pipeline.answers import LineAnswer, LinePicture, MadeFile, SheetDrawings
from letterply.orders.pipeline.layer_file import layer_from
from letterply.orders.pipeline.task_requests import DrawingsRequest, PictureRequest, Sources
from letterply.proof import SheetProof
from letterply.stacks import Stack
from letterply.storage import Vault

__all__ = [
    "drawing_paths",
    "drawings_from",
    "drawn_sheet",
    "make_drawings",
    "make_picture",
    "picture_of",
]


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A sheet as its drawings show it: its plan without paths and programs, its proof."""

    plan: CutPlan
    proof: SheetProof


def picture_of(
    shop: Facts, sources: Sources, made: LineAnswer, *, exploded: bool
) -> PictureRequest:
    """Return what is asked for the picture of a line."""
    layers = tuple(layer.file for layer in made.layers)
    return PictureRequest(shop, sources, made.title, layers, exploded)


def make_picture(request: PictureRequest, vault: Vault, catalogue: Catalogue) -> LinePicture:
    """Return the picture of a line."""
    layers = tuple(layer_from(vault.read(name)) for name in request.layers)
    drawn = stack_picture(Stack(request.title, layers), catalogue, exploded=request.exploded)
    return LinePicture(vault.write(png_within(drawn, LINE_PX)))


def drawings_from(plan: CutPlan, proof: SheetProof) -> bytes:
    """Return what the drawings of a sheet are made from."""
    return pack(_Drawn(shown_plan(plan), proof))


def drawn_sheet(data: bytes) -> tuple[CutPlan, SheetProof]:
    """Return the plan of a sheet, without paths and programs, and its proof, from `drawings_from`.

    Raises:
        LetterplyError: `answer-outdated`, it was planned by another version of the engine.

    """
    drawn: _Drawn = unpack(data)
    return drawn.plan, drawn.proof


def drawing_paths(number: int) -> tuple[str, ...]:
    """Return the paths of the drawings of a sheet."""
    stem = f"sheet-{number}"
    return (
        f"pictures/{stem}.png",
        f"proofs/{stem}.png",
        f"sheets/{stem}.dxf",
        f"sheets/{stem}.svg",
    )


def make_drawings(request: DrawingsRequest, vault: Vault, catalogue: Catalogue) -> SheetDrawings:
    """Return the drawings of a sheet.

    Raises:
        LetterplyError: `answer-outdated`, it was planned by another version of the engine.

    """
    drawn: _Drawn = unpack(vault.read(request.drawn_from))
    plan, sheet = drawn.plan, drawn.plan.sheet
    colour = catalogue.material(sheet.stock.material).colour
    alone, on_page = (
        png_within(picture, RESULT_PX) for picture in sheet_pictures(sheet, plan, colour=colour)
    )
    made = (
        alone,
        png_within(proof_svg(drawn.proof, sheet, size_px=RESULT_PX), RESULT_PX),
        sheet_dxf(sheet, plan),
        sheet_svg(sheet, plan),
    )
    chosen_among = any(len(choice.sets) > 1 for choice in plan.choices)
    sets = png_within(cutter_sets_picture(plan), RESULT_PX) if chosen_among else b""
    files: Mapping[str, bytes] = dict(zip(drawing_paths(sheet.number), made, strict=True))
    return SheetDrawings(
        on_page=vault.write(on_page),
        files=tuple(MadeFile(path, vault.write(data), len(data)) for path, data in files.items()),
        sets_on_page=vault.write(sets) if sets else "",
    )
