"""The papers of an order that people read: job sheet, pick list and labels, templates.

What the tasks answered in, a PDF file out. Pictures and layers are read when their page is drawn,
so that a thousand lines need no more memory than one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any, Protocol, TypeVar

from letterply.catalogue import Catalogue, Shop, bench_cautions, machine_cautions
from letterply.exports import (
    JobLine,
    JobStock,
    Label,
    LabelFaces,
    Overview,
    Pick,
    Template,
    glue_up_pdf,
    job_sheet_pdf,
    labels_pdf,
    templates_pdf,
    time_words,
)
from letterply.lettering import FontLibrary
from letterply.orders.intake.model import OrderLine
from letterply.orders.pipeline.answers import LineAnswer, SheetAnswer
from letterply.orders.pipeline.job_sheets import ShownSheets, job_sheet, share_words, stock_words
from letterply.orders.pipeline.layer_file import layer_from
from letterply.orders.pipeline.outcome import Outcome, as_sentence
from letterply.orders.pipeline.parts import line_parts
from letterply.stacks import Layer
from letterply.storage import Vault
from letterply.units import (
    counted,
    format_exact,
    format_mm,
    format_sides,
)

__all__ = ["Shown", "document_paths", "make_document", "pictures_in"]

_JOB_SHEET, _LABELS = "job-sheet.pdf", "labels.pdf"

_IN_JOB_SHEET = 40
"""Lines whose glue-up pages are in the job sheet itself; more go to files of their own."""

_A_FILE = 100
"""Glue-up pages, or templates, in one file."""

_THUMBS = 12
"""Lines whose picture is on the first page."""

_SORT = (
    "Cut the parts free, clean their edges, and lay the parts of each line of the order together "
    "by their labels: line.copy.letter.layer."
)
_GLUE = "Glue up each line as its page shows, bottom layer first. Try the fit before there is glue."
_FINISH = "See the page of each line that has one: what to do with it, and what to mind."

_T = TypeVar("_T")

_Line = tuple[OrderLine, LineAnswer]
_Design = tuple[list[OrderLine], LineAnswer]


class Shown(ShownSheets, Protocol):
    """Gives pictures, as PNG."""

    def line(self, made: LineAnswer, *, exploded: bool) -> bytes:
        """Return the picture of a line, its layers apart or together."""


def document_paths(outcome: Outcome) -> tuple[str, ...]:
    """Return the paths of the documents of an order."""
    return (_JOB_SHEET, _LABELS, *_glue_ups(outcome), *_templates(outcome))


def pictures_in(
    path: str, outcome: Outcome
) -> tuple[list[tuple[LineAnswer, bool]], list[SheetAnswer]]:
    """Return of which lines, exploded or not, and of which sheets a document has pictures."""
    apart = _glue_ups(outcome)
    if path in apart:
        return [(made, True) for _, made in apart[path]], []
    if path != _JOB_SHEET:
        return [], []
    thumbs = [(made, False) for _, made in outcome.made[:_THUMBS]]
    pages = [] if apart else [(made, True) for _, made in _with_page(outcome)]
    return [*thumbs, *pages], outcome.planned


def make_document(
    path: str,
    outcome: Outcome,
    shown: Shown,
    vault: Vault,
    catalogue: Catalogue,
    shop: Shop,
    library: FontLibrary,
) -> bytes:
    """Return a document of an order.

    Args:
        path: which, of `document_paths`.
        outcome: what came of the order.
        shown: gives the pictures, see `pictures_in`.
        vault: has the layers.
        catalogue: for names.
        shop: for set-ups.
        library: fonts of the lettering, for names that the face of labels cannot set.

    """
    faces = LabelFaces(library)
    title, made = outcome.order.title, outcome.made
    places = {row.mark: row.sheet for row in outcome.rows if row.sheet is not None}

    # Where all lines are of one recipe, its name tells the bench nothing.
    several = len({line.recipe_name for line, _ in made}) > 1

    def pages(lines: Sequence[_Line]) -> Iterator[JobLine]:
        return (
            _job_line(line, m, places, shown, catalogue, shop, line.recipe_name if several else "")
            for line, m in lines
        )

    apart = _glue_ups(outcome)
    if path in apart:
        return glue_up_pdf(title, pages(apart[path]), faces)
    if path == _JOB_SHEET:
        return job_sheet_pdf(
            _overview(outcome, shown, catalogue, shop),
            [job_sheet(s, shown, catalogue, shop) for s in outcome.planned],
            (*machine_cautions(shop.machine), *shop.cautions),
            () if apart else pages(_with_page(outcome)),
            faces,
        )
    if path == _LABELS:
        return labels_pdf(
            title,
            [Pick(s.number, stock_words(s, catalogue), s.marks) for s in outcome.planned],
            [
                Label(line.number, line.text, line.reference, line.quantity, _marks(line, m))
                for line, m in made
            ],
            faces,
        )
    designs = _templates(outcome)[path]
    return templates_pdf(title, (_template(mine, m, vault) for mine, m in designs), faces)


def _glue_ups(outcome: Outcome) -> dict[str, list[_Line]]:
    """Return the lines whose glue-up pages are in files of their own, by file."""
    shown = _with_page(outcome)
    if len(shown) <= _IN_JOB_SHEET:
        return {}
    return {
        f"glue-up-{lines[0][0].number:04}-{lines[-1][0].number:04}.pdf": lines
        for lines in _chunks(shown)
    }


def _with_page(outcome: Outcome) -> list[_Line]:
    """Return the lines of which there is something to do or to know once they are cut."""
    return [
        (line, made)
        for line, made in outcome.made
        if made.part_count > 1 or made.helpers or line.finishing or made.findings.told
    ]


def _bench(outcome: Outcome) -> tuple[str, ...]:
    """Return what is done once the sheets are cut, step by step."""
    steps = [_SORT]
    if any(made.part_count > 1 for _, made in outcome.made):
        steps.append(_GLUE)
    elif _with_page(outcome):
        steps.append(_FINISH)
    return tuple(steps)


def _templates(outcome: Outcome) -> dict[str, list[_Design]]:
    """Return the designs that have templates, by file."""
    designs = _designs(outcome.made)
    if len(designs) <= _A_FILE:
        return {"templates.pdf": designs} if designs else {}
    return {
        f"templates-{chunk[0][0][0].number:04}-{chunk[-1][0][0].number:04}.pdf": chunk
        for chunk in _chunks(designs)
    }


def _chunks(values: list[_T]) -> Iterator[list[_T]]:
    for start in range(0, len(values), _A_FILE):
        yield values[start : start + _A_FILE]


def _marks(line: OrderLine, made: LineAnswer) -> tuple[str, ...]:
    return tuple(listed.mark for listed in line_parts(line, made))


def _overview(outcome: Outcome, shown: Shown, catalogue: Catalogue, shop: Shop) -> Overview:
    totals, quote, sheets = outcome.totals, outcome.quote, outcome.planned
    facts = (
        ("lines", str(totals.lines)),
        ("copies", str(totals.copies)),
        ("parts", str(totals.parts)),
        ("sheets", str(totals.sheets)),
        ("programs", str(totals.programs)),
        ("time on the machine", time_words(round(outcome.time_s, 1))),
        *(
            (("time at the bench", time_words(60 * quote.hand_minutes)),)
            if quote.hand_minutes
            else ()
        ),
        *((("shop", shop.called),) if shop.called else ()),
    )
    money = quote.currency
    prices = (
        ("material", f"{quote.material:.2f} {money}"),
        ("time on the machine", f"{quote.machine:.2f} {money}"),
        (f"setting up, {quote.set_up_minutes:.0f} min", f"{quote.set_ups:.2f} {money}"),
        *((("work at the bench", f"{quote.hand:.2f} {money}"),) if quote.hand_minutes else ()),
        ("price", f"{quote.total:.2f} {money}"),
        ("parts fill", f"{share_words(quote.used_share)} of the sheets"),
    )
    troubles = [
        f"Line {line.number} ({line.text}) was not made: {why.message}"
        for line, why in outcome.failed
    ]
    troubles += [
        f"The part {r.mark} is not cut: {as_sentence(r.not_placed)}" for r in outcome.unplaced
    ]
    troubles += [
        f"Do not cut sheet {s.number}: its proof did not pass." for s in sheets if not s.passed
    ]
    # What must not be done comes before all else.
    unplanned = dict.fromkeys(outcome.unplanned)
    troubles = [*(f"There is no program: {why}" for why in unplanned), *troubles]
    thumbs = tuple(
        (f"{line.number}  {line.text}", partial(shown.line, m, exploded=False))
        for line, m in outcome.made[:_THUMBS]
    )
    return Overview(
        outcome.order.title,
        outcome.summary(),
        facts,
        prices,
        tuple(_stock_sums(sheets, catalogue)),
        tuple(troubles),
        thumbs,
        _bench(outcome),
    )


def _stock_sums(sheets: Sequence[SheetAnswer], catalogue: Catalogue) -> Iterator[JobStock]:
    by_name: dict[str, list[SheetAnswer]] = {}
    for sheet in sheets:
        by_name.setdefault(stock_words(sheet, catalogue), []).append(sheet)
    for name, mine in sorted(by_name.items()):
        used = sum(s.part_area_mm2 for s in mine)
        blanks = mine[0].of_blanks
        stock = sum(s.stock.area_mm2 for s in mine)
        yield JobStock(
            name,
            sum(len(s.marks) for s in mine) if blanks else len(mine),
            used,
            used if blanks else stock,
            sum(s.stock.price * (len(s.marks) if blanks else 1) for s in mine),
        )


def _job_line(
    line: OrderLine,
    made: LineAnswer,
    places: Mapping[str, int],
    shown: Shown,
    catalogue: Catalogue,
    shop: Shop,
    recipe: str,
) -> JobLine:
    rows = []
    layers: Any = line.recipe["layers"]
    blanks = {spec["name"] for spec in layers if spec["outline"]["kind"] == "blank"}
    for told in line_parts(line, made):
        layer = told.layer
        what = f"{catalogue.material(layer.material).name} {format_mm(layer.thickness_mm)}"
        true = shop.measured.thickness(layer.material, layer.thickness_mm)
        if true is not None and layer.name not in blanks:
            what += f", measured {format_exact(true.measured_mm)}"
        where = str(places.get(told.mark, "–"))
        rows.append((str(told.copy), told.mark, layer.name, what, where))
    size = format_sides(*made.size_mm, times="×")
    copies = counted(line.quantity, "copy", "copies")
    facts = " · ".join(filter(None, [line.reference, copies, size, recipe]))
    return JobLine(
        line.number,
        line.text,
        facts,
        tuple(rows),
        (*_frame_hints(made), *line.finishing),
        tuple(as_sentence(f.why) for f in made.findings.told),
        partial(shown.line, made, exploded=True),
        bench_cautions(
            [catalogue.material(layer.material) for layer in made.layers],
            glued=len(made.layers) > 1,
            finished=bool(line.finishing),
        ),
    )


def _frame_hints(made: LineAnswer) -> Iterator[str]:
    for frame in made.helpers:
        yield (
            f"Lay {frame.name} on the layer below, edge to edge where they meet. Glue the parts "
            "into its openings, and lift it off before the glue has set."
        )


def _designs(made: Sequence[_Line]) -> list[_Design]:
    """Return each design once, with its lines; one of a single part needs no template."""
    found: dict[str, tuple[list[OrderLine], LineAnswer]] = {}
    for line, m in made:
        if m.part_count < 2:
            continue
        key = "/".join(layer.file for layer in m.layers)
        found.setdefault(key, ([], m))[0].append(line)
    return list(found.values())


def _template(lines: list[OrderLine], made: LineAnswer, vault: Vault) -> Template:
    numbers = ", ".join(str(line.number) for line in lines[:20])
    more = ", …" if len(lines) > 20 else ""

    def layers() -> tuple[Layer, ...]:
        return tuple(layer_from(vault.read(la.file)) for la in made.layers)

    names = tuple(
        tuple(part.name.partition(".")[0] for part in layer.parts) for layer in made.layers
    )
    word = "line" if len(lines) == 1 else "lines"
    return Template(lines[0].text, f"{word} {numbers}{more} of the order", layers, names)
