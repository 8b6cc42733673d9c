"""The job sheet of an order: what to do at the machine and at the bench, page by page.

Values in, a PDF out. First page: what it is, what it takes, what it looks like. Then the order of
work, a page a sheet with its picture, cutters and set-up, a glue-up page a line.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from letterply.exports.papers.pdf_page import TICK, Column, Document
from letterply.exports.primitives.captions import QUIET
from letterply.exports.primitives.label_faces import LabelFaces
from letterply.units import format_sheet_area, sheet_area_unit

__all__ = [
    "JobLine",
    "JobProgram",
    "JobSet",
    "JobSheet",
    "JobStock",
    "Overview",
    "glue_up_pdf",
    "job_sheet_pdf",
]

Picture = Callable[[], bytes]
"""Gives a picture when it is needed: not all of them are in memory at once."""

_THUMBS = 12

_PICTURE_MM = 110.0
"""Height that is worth a picture of the sets of cutters; with less it goes on the next page."""


@dataclass(frozen=True, slots=True)
class JobStock:
    """A kind of sheet that the order takes: what it is, how many, areas in mm², its price."""

    name: str
    count: int
    used_mm2: float
    stock_mm2: float
    price: float


@dataclass(frozen=True, slots=True)
class Overview:
    """What the first page says.

    Attributes:
        title: of the order.
        summary: in a sentence or two.
        facts: pairs of name and value.
        quote: pairs of name and value.
        stock: what it takes from the rack.
        troubles: lines that failed, parts without room, sheets without a proof.
        thumbs: what the first lines look like, each with its caption.
        bench: what is done once the sheets are cut, step by step.

    """

    title: str
    summary: str
    facts: tuple[tuple[str, str], ...]
    quote: tuple[tuple[str, str], ...]
    stock: tuple[JobStock, ...]
    troubles: tuple[str, ...]
    thumbs: tuple[tuple[str, Picture], ...]
    bench: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JobProgram:
    """A program: file, cutters, time in words."""

    name: str
    cutters: str
    time: str


@dataclass(frozen=True, slots=True)
class JobSet:
    """A set of cutters that was compared: for what, which, how long, what stays of it, in words."""

    work: str
    cutters: str
    time: str
    stays: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class JobSheet:
    """A sheet to be cut.

    Attributes:
        number: of the sheet.
        stock: what it is, in words.
        set_up: what to do before it is cut, in order.
        programs: in order of use.
        facts: one line of figures.
        proof: what the proof says.
        passed: whether it passed.
        cautions: what can go wrong.
        picture: the sheet with the marks of its parts.
        compared: sets of cutters among which there was a choice.
        sets_picture: what they leave, side by side.
        measured: which figures that the shop has measured count on it.

    """

    number: int
    stock: str
    set_up: tuple[str, ...]
    programs: tuple[JobProgram, ...]
    facts: str
    proof: str
    passed: bool
    cautions: tuple[str, ...]
    picture: Picture
    compared: tuple[JobSet, ...] = ()
    sets_picture: Picture | None = None
    measured: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class JobLine:
    """A line to be glued up.

    Attributes:
        number: of the line.
        text: what it says.
        facts: one line: reference, copies, size.
        parts: rows of copy, mark, layer, material, sheet; bottom layer first.
        finishing: hints of its recipe, in order.
        findings: what the checks say, worst first.
        exploded: its layers apart.
        cautions: what to mind while it is glued and finished.

    """

    number: int
    text: str
    facts: str
    parts: tuple[tuple[str, str, str, str, str], ...]
    finishing: tuple[str, ...]
    findings: tuple[str, ...]
    exploded: Picture
    cautions: tuple[str, ...] = ()


def job_sheet_pdf(
    overview: Overview,
    sheets: Sequence[JobSheet],
    cautions: Sequence[str],
    lines: Iterable[JobLine] = (),
    faces: LabelFaces | None = None,
) -> bytes:
    """Return the job sheet; glue-up pages of `lines` at its end."""
    document = Document(f"{overview.title}: job sheet", faces=faces)
    _first_page(document, overview, cautions)
    _order_of_work(document, sheets, overview)
    for sheet in sheets:
        _sheet_page(document, sheet)
    for line in lines:
        _line_page(document, line)
    return document.finish()


def glue_up_pdf(title: str, lines: Iterable[JobLine], faces: LabelFaces | None = None) -> bytes:
    """Return glue-up pages alone, for orders whose job sheet would be too long."""
    document = Document(f"{title}: glue-up", faces=faces)
    for line in lines:
        _line_page(document, line)
    return document.finish()


def _first_page(document: Document, overview: Overview, cautions: Sequence[str]) -> None:
    document.page()
    document.heading(overview.title, 8.0, overview.summary)
    _two_columns(document, overview.facts, overview.quote)
    if overview.troubles:
        document.heading("To settle first", 4.6)
        for trouble in overview.troubles[:12]:
            document.paragraph(trouble, indent_mm=4, lead="–")
        more = len(overview.troubles) - 12
        if more > 0:
            document.paragraph(f"{more} more: see order.json", indent_mm=4, colour=QUIET)
        document.y_mm += 3
    document.heading("From the rack", 4.6)
    document.table(
        (
            Column("sheet", 74),
            Column("count", 18, right=True),
            Column(f"parts, {sheet_area_unit()}", 28, right=True),
            Column(f"waste, {sheet_area_unit()}", 28, right=True),
            Column("price", 24, right=True),
        ),
        [
            (
                s.name,
                str(s.count),
                format_sheet_area(s.used_mm2),
                format_sheet_area(s.stock_mm2 - s.used_mm2),
                f"{s.price:.2f}",
            )
            for s in overview.stock
        ],
    )
    document.caution(cautions)
    _thumbs(document, overview.thumbs[:_THUMBS])


def _two_columns(
    document: Document, left: Sequence[tuple[str, str]], right: Sequence[tuple[str, str]]
) -> None:
    half = document.width_mm / 2
    top = document.y_mm
    for pairs, x in ((left, document.margin_mm), (right, document.margin_mm + half)):
        y = top
        for name, value in pairs:
            y += 5.0
            document.text(name, x, y, 3.2, colour=QUIET)
            document.text(value, x + half - 8, y, 3.4, bold=True, align="right")
        document.y_mm = max(document.y_mm, y)
    document.y_mm += 6.0


def _thumbs(document: Document, thumbs: Sequence[tuple[str, Picture]]) -> None:
    if not thumbs:
        return
    columns = 3 if len(thumbs) > 4 else 2
    rows = -(-len(thumbs) // columns)
    document.need(45.0)
    cell_w = document.width_mm / columns
    cell_h = min(46.0, (document.room_mm - 2) / rows)
    if cell_h < 26:
        rows = max(1, int((document.room_mm - 2) // 30))
        cell_h = min(46.0, (document.room_mm - 2) / rows)
    for at, (name, picture) in enumerate(thumbs[: rows * columns]):
        x = document.margin_mm + (at % columns) * cell_w
        y = document.y_mm + (at // columns) * cell_h
        document.picture(picture(), x, y, cell_w - 4, cell_h - 7, photo=True)
        document.text(name, x, y + cell_h - 3, 2.9, colour=QUIET)
    document.y_mm += rows * cell_h


def _order_of_work(document: Document, sheets: Sequence[JobSheet], overview: Overview) -> None:
    document.page()
    document.heading("Order of work", 6.5)
    step = 0
    if overview.troubles:
        step += 1
        document.paragraph(
            "Settle what the first page names under “To settle first”.",
            indent_mm=8,
            lead=f"{step}.",
        )
    step += 1
    cut = {0: "There is nothing to cut.", 1: "Cut the sheet. Tick it off."}.get(
        len(sheets), f"Cut the {len(sheets)} sheets in this order. Tick them off."
    )
    document.paragraph(cut, indent_mm=8, lead=f"{step}.")
    if not sheets:
        return
    document.y_mm += 2
    document.table(
        (
            Column("", 8),
            Column("sheet", 14),
            Column("stock", 70),
            Column("programs", 20, right=True),
            Column("time", 30, right=True),
            Column("proof", 30),
        ),
        [
            (TICK, str(s.number), s.stock, str(len(s.programs)), s.facts.partition(" · ")[0],
             "passed" if s.passed else "DO NOT CUT")
            for s in sheets
        ],
    )  # fmt: skip
    for text in overview.bench:
        step += 1
        document.paragraph(text, indent_mm=8, lead=f"{step}.")


def _sheet_page(document: Document, sheet: JobSheet) -> None:
    document.page()
    document.heading(f"Sheet {sheet.number}", 7.0, f"{sheet.stock} · {sheet.facts}")
    _, high = document.picture(
        sheet.picture(), document.margin_mm, document.y_mm, document.width_mm, 140.0
    )
    document.y_mm += high + 4
    document.heading("Set up", 4.4)
    for number, text in enumerate(sheet.set_up, start=1):
        document.paragraph(text, indent_mm=7, lead=f"{number}.")
    document.y_mm += 3
    document.table(
        (Column("", 8), Column("program, in this order", 74), Column("cutter", 66),
         Column("time", 28, right=True)),
        [(TICK, p.name, p.cutters, p.time) for p in sheet.programs],
    )  # fmt: skip
    verdict = "Proof passed. " if sheet.passed else "PROOF NOT PASSED: do not cut. "
    document.paragraph(f"{verdict}{sheet.proof}", bold=not sheet.passed)
    document.y_mm += 3
    if sheet.measured:
        document.paragraph(f"As measured in this shop: {'; '.join(sheet.measured)}.")
        document.y_mm += 3
    document.caution(sheet.cautions)
    if sheet.compared:
        _compared(document, sheet)


def _compared(document: Document, sheet: JobSheet) -> None:
    picture = sheet.sets_picture
    document.need(26.0 + 6.0 * len(sheet.compared) + (_PICTURE_MM if picture else 0.0))
    document.heading(
        f"Sheet {sheet.number}: cutters compared",
        5.6,
        "minutes are about, with changes of cutter; the plan's own sets are set in bold",
    )
    document.table(
        (Column("work", 33), Column("cutters", 57), Column("time", 26, right=True),
         Column("what stays, or how deep", 64)),
        [(one.work, one.cutters, one.time, one.stays) for one in sheet.compared],
        bold_rows=frozenset(k for k, one in enumerate(sheet.compared) if one.chosen),
    )  # fmt: skip
    if picture is not None:
        document.need(_PICTURE_MM)
        document.y_mm += 4
        document.picture(
            picture(), document.margin_mm, document.y_mm, document.width_mm, document.room_mm - 4
        )


def _line_page(document: Document, line: JobLine) -> None:
    document.page()
    document.heading(f"{line.number}  {line.text}", 7.0, line.facts)
    _, high = document.picture(
        line.exploded(), document.margin_mm, document.y_mm, document.width_mm, 112.0, photo=True
    )
    document.y_mm += high + 5
    document.table(
        (Column("copy", 12), Column("label", 58), Column("layer", 32), Column("material", 54),
         Column("sheet", 20, right=True)),
        line.parts,
    )  # fmt: skip
    if line.finishing:
        document.heading("At the bench", 4.4)
        for number, text in enumerate(line.finishing, start=1):
            document.paragraph(text, indent_mm=7, lead=f"{number}.")
        document.y_mm += 3
    document.caution(line.cautions)
    if line.findings:
        document.heading("What the checks say", 4.4)
        for text in line.findings[:5]:
            document.paragraph(text, indent_mm=4, lead="–", size_mm=3.0)
