"""The sheet of a test piece: what to do at the bench, where the caliper goes, fields to fill in."""

from __future__ import annotations

from collections.abc import Sequence

from letterply.cutting import CutPlan
from letterply.exports.documents.piece import rung_programs
from letterply.exports.documents.plan import time_words
from letterply.exports.papers.pdf_page import TICK, Column, Document
from letterply.exports.pictures.piece import piece_picture
from letterply.exports.pictures.stack import png_within
from letterply.exports.primitives.captions import INK, QUIET
from letterply.pieces import Piece, ReadAt
from letterply.proof import SheetProof
from letterply.stacks import Stack
from letterply.units import format_exact, format_feed, format_mm, spoken

__all__ = ["piece_pdf"]

_PICTURE_MM, _SMALL_MM = 92.0, 76.0
_PICTURE_PX = 2000
_ROW_MM = 9.0
_BOX_MM = 34.0
_MOST_ROWS, _COLUMNS = 8, 3

_FASTER = (
    "Each step is faster than the one before: a cutter may break. Wear eye and ear protection, "
    "keep out of the way of the cutter and a hand at the stop, and do not leave the machine."
)
_BEAM = "Never leave a beam that cuts: keep the lid shut and what puts out a fire at hand."


def piece_pdf(
    piece: Piece,
    stack: Stack,
    plans: Sequence[CutPlan],
    proofs: Sequence[SheetProof],
    blockers: Sequence[str] = (),
) -> bytes:
    """Return the sheet to write on.

    Args:
        piece: the test piece.
        stack: its layers.
        plans: what cuts it, a sheet each, and
        proofs: what proves them.
        blockers: why it cannot be cut as it is.

    """
    document = Document(piece.title)
    document.page()
    document.heading(piece.title, 6.4, _facts(plans))
    document.caution([f"Do not cut: {text}" for text in blockers])
    picture = png_within(piece_picture(piece, stack, titled=False), _PICTURE_PX)
    _, high = document.picture(
        picture,
        document.margin_mm,
        document.y_mm,
        document.width_mm,
        _SMALL_MM if len(piece.reads) > _MOST_ROWS else _PICTURE_MM,
    )
    document.y_mm += high + 4
    _steps(document, piece, plans)
    _programs(document, piece, plans, proofs)
    _fields(document, piece)
    _typing(document, piece)
    return document.finish()


def _facts(plans: Sequence[CutPlan]) -> str:
    if not plans:
        return "without a plan"
    stock = plans[0].sheet.stock
    name = plans[0].names.get(stock.material, stock.material)
    seconds = sum(p.whole_time.total_s for p in plans)
    return f"{name} {format_mm(stock.thickness_mm)} · about {time_words(seconds)} on the machine"


def _steps(document: Document, piece: Piece, plans: Sequence[CutPlan]) -> None:
    document.heading("At the bench", 4.4)
    for at, text in enumerate(piece.steps, start=1):
        document.paragraph(text, indent_mm=7, lead=f"{at}.")
    zeros = list(dict.fromkeys(_zero(plan) for plan in plans))
    if zeros:
        document.paragraph(f"Zero: {'; '.join(zeros)}.", bold=True)
    document.y_mm += 3
    cautions = list(dict.fromkeys(t for plan in plans for t in plan.cautions))
    if piece.kind == "feed":
        cautions.insert(0, _FASTER)
    if plans and any(plan.hold_down == "bed" for plan in plans):
        cautions.insert(0, _BEAM)
    document.caution(cautions)


def _zero(plan: CutPlan) -> str:
    height = "" if plan.hold_down == "bed" else f", z at {plan.zero.face}"
    return f"x and y at {plan.zero.at}{height}"


def _programs(
    document: Document, piece: Piece, plans: Sequence[CutPlan], proofs: Sequence[SheetProof]
) -> None:
    """Write the programs to be run, in order, each with the step of the ladder that it cuts."""
    if piece.kind == "feed":
        rows = [
            (
                TICK,
                rung.letter,
                format_feed(rung.value),
                format_exact(chip, 4) if chip is not None else "",
                program or "no program",
            )
            for rung, program, chip in rung_programs(piece, plans, proofs)
        ]
        document.table(
            (Column("", 8), Column("slot", 14), Column("feed", 34, right=True),
             Column("a tooth, as the proof read it", 54, right=True), Column("program", 66)),
            rows,
        )  # fmt: skip
        return
    if piece.kind == "fit":
        document.table(
            tuple(Column(r.letter, 22, right=True) for r in piece.rungs),
            [tuple(format_exact(r.value) for r in piece.rungs)],
        )
    passed = {p.sheet_number: p.passed for p in proofs}
    document.table(
        (Column("", 8), Column("program, in this order", 84), Column("cutter", 58),
         Column("proof", 28)),
        [
            (TICK, program.name, ", ".join(plan.names.get(c, c) for c in program.cutters),
             "passed" if passed.get(plan.sheet.number) else "DO NOT CUT")
            for plan in plans
            for program in plan.programs
        ],
    )  # fmt: skip


def _fields(document: Document, piece: Piece) -> None:
    inch = spoken() == "inch"
    many = len(piece.reads) > _MOST_ROWS
    document.need((-(-len(piece.reads) // _COLUMNS) if many else 3) * _ROW_MM + 16)
    document.heading("Write down", 4.4, f"All lengths in {'inches' if inch else 'mm'}, as read.")
    if many:
        _columns(document, piece.reads)
    else:
        for at, read in enumerate(piece.reads, start=1):
            document.need(_ROW_MM)
            _field(document, str(at), read)
    document.y_mm += 3
    document.need(_ROW_MM)
    where, step = document.margin_mm, "step of the caliper"
    for label, width in ((step, 24.0), ("date", 30.0), ("measured by", 30.0)):
        document.text(label, where, document.y_mm + 5.6, 3.0, colour=QUIET)
        left = where + 8 + 1.5 * len(label)
        document.line(left, document.y_mm + 6.4, left + width, document.y_mm + 6.4)
        where = left + width + 5
    document.y_mm += _ROW_MM


def _columns(document: Document, reads: Sequence[ReadAt]) -> None:
    """Write many fields by their names alone, in columns: the picture shows where they are."""
    wide = document.width_mm / _COLUMNS
    rows = -(-len(reads) // _COLUMNS)
    document.need(rows * _ROW_MM)
    top = document.y_mm
    for at, read in enumerate(reads, start=1):
        column, row = divmod(at - 1, rows)
        left, y = document.margin_mm + column * wide, top + row * _ROW_MM
        document.text(str(at), left, y + 5.8, 3.2, bold=True)
        document.text(read.name, left + 6, y + 5.8, 3.0, colour=INK if read.needed else QUIET)
        document.box(left + wide - 31, y + 0.8, 27.0, _ROW_MM - 1.6, stroke=INK)
    document.y_mm = top + rows * _ROW_MM
    if not all(r.needed for r in reads):
        document.paragraph("What stands in grey may be left out in part.", colour=QUIET)


def _field(document: Document, at: str, read: ReadAt) -> None:
    y, left, right = document.y_mm, document.margin_mm, document.margin_mm + document.width_mm
    document.text(at, left, y + 5.8, 3.4, bold=True)
    document.text(read.name, left + 7, y + 5.8, 3.2, bold=True)
    room = document.width_mm - 7 - 30 - _BOX_MM - 4
    label = read.label if read.needed else f"{read.label} (may be left out)"
    if read.choices:
        label = f"{label}: one of {' '.join(read.choices)}"
    lines = document.wrapped(label, 3.0, room)[:2]
    for number, line in enumerate(lines):
        up = 0.0 if len(lines) == 1 else -1.8 + 3.8 * number
        document.text(line, left + 37, y + 5.8 + up, 3.0)
    document.box(right - _BOX_MM, y + 0.8, _BOX_MM, _ROW_MM - 1.6, stroke=INK)
    document.y_mm += _ROW_MM


def _typing(document: Document, piece: Piece) -> None:
    """Say how the numbers come into the shop."""
    needed = [r.name for r in piece.reads][:3]
    values = " ".join(f"{name}=..." for name in needed)
    document.need(22)
    document.y_mm += 2
    document.paragraph("Then type them in, with the name of your shop and the folder of the piece:")
    document.paragraph(f"letterply shop measured SHOP FOLDER {values}", bold=True, indent_mm=4)
    document.paragraph(
        "It shows what changes before anything is kept with --dry-run. Put a new cutter in, "
        "sharpen it, or change the sheet, and the figures are no longer those of this piece.",
        colour=QUIET,
    )
