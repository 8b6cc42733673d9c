"""The papers of an order that people read: job sheet, pick list and labels, templates.

What the tasks answered in, a PDF file out. Pictures and layers are read when their page is drawn,
so that a thousand lines need no more memory than one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any, Protocol, TypeVar

from letterply.catalogue import Catalogue, Shop, bench_cautions, machine_cautions, power_for
from letterply.exports import (
    LEAST_ROUND_MM,
    JobLine,
    JobProgram,
    JobSet,
    JobSheet,
    JobStock,
    Label,
    LabelFaces,
    Overview,
    Pick,
    Template,
    glue_up_pdf,
    is_worth_showing,
    job_sheet_pdf,
    labels_pdf,
    templates_pdf,
    time_words,
)
from letterply.lettering import FontLibrary
from letterply.names import in_sentence
from letterply.orders.intake.model import OrderLine
from letterply.orders.pipeline.answers import ComparedSet, LineAnswer, SheetAnswer
from letterply.orders.pipeline.layer_file import layer_from
from letterply.orders.pipeline.layouts import StockFacts
from letterply.orders.pipeline.outcome import Outcome, as_sentence
from letterply.orders.pipeline.parts import line_parts
from letterply.requests import HoldDown
from letterply.sheets import WorkZero
from letterply.stacks import Layer
from letterply.storage import Vault
from letterply.units import (
    about_mm,
    counted,
    decimal_text,
    format_area,
    format_exact,
    format_mm,
    format_sides,
    listed,
)

__all__ = ["Shown", "document_paths", "make_document", "pictures_in"]

_JOB_SHEET, _LABELS = "job-sheet.pdf", "labels.pdf"

_IN_JOB_SHEET = 40
"""Lines whose glue-up pages are in the job sheet itself; more go to files of their own."""

_A_FILE = 100
"""Glue-up pages, or templates, in one file."""

_THUMBS = 12
"""Lines whose picture is on the first page."""

_HOLD = {
    HoldDown.TABS: "Clamp it at its edges. Tabs hold the parts: cut them by hand afterwards.",
    HoldDown.TAPE: "Stick all of it down with double-sided tape.",
    HoldDown.SKIN: "Clamp it at its edges. A thin skin holds the parts: cut it by hand afterwards.",
    HoldDown.BED: "Lay it flat on the bed. Set height and focus by the machine's manual.",
}

_IN_TURN = (
    "Run the programs in this order. After each: wait until the spindle stands still, change the "
    "cutter, zero z again."
)

_SORT = (
    "Cut the parts free, clean their edges, and lay the parts of each line of the order together "
    "by their labels: line.copy.letter.layer."
)
_GLUE = "Glue up each line as its page shows, bottom layer first. Try the fit before there is glue."
_FINISH = "See the page of each line that has one: what to do with it, and what to mind."

_T = TypeVar("_T")

_Line = tuple[OrderLine, LineAnswer]
_Design = tuple[list[OrderLine], LineAnswer]


class Shown(Protocol):
    """Gives pictures, as PNG."""

    def line(self, made: LineAnswer, *, exploded: bool) -> bytes:
        """Return the picture of a line, its layers apart or together."""

    def sheet(self, planned: SheetAnswer) -> bytes:
        """Return the picture of a sheet."""

    def sets(self, planned: SheetAnswer) -> bytes:
        """Return the picture of the sets of cutters compared for a sheet, where there are some."""


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

    def pages(lines: Sequence[_Line]) -> Iterator[JobLine]:
        return (_job_line(line, m, places, shown, catalogue, shop) for line, m in lines)

    apart = _glue_ups(outcome)
    if path in apart:
        return glue_up_pdf(title, pages(apart[path]), faces)
    if path == _JOB_SHEET:
        return job_sheet_pdf(
            _overview(outcome, shown, catalogue, shop),
            [_job_sheet(s, shown, catalogue, shop) for s in outcome.planned],
            (*machine_cautions(shop.machine), *shop.cautions),
            () if apart else pages(_with_page(outcome)),
            faces,
        )
    if path == _LABELS:
        return labels_pdf(
            title,
            [Pick(s.number, _stock_words(s, catalogue), s.marks) for s in outcome.planned],
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
        ("time at the bench", time_words(60 * quote.hand_minutes)),
        *((("shop", shop.called),) if shop.called else ()),
    )
    money = quote.currency
    prices = (
        ("material", f"{quote.material:.2f} {money}"),
        ("time on the machine", f"{quote.machine:.2f} {money}"),
        (f"setting up, {quote.set_up_minutes:.0f} min", f"{quote.set_ups:.2f} {money}"),
        ("work at the bench", f"{quote.hand:.2f} {money}"),
        ("price", f"{quote.total:.2f} {money}"),
        ("parts fill", f"{_share(quote.used_share)} of the sheets"),
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
        by_name.setdefault(_stock_words(sheet, catalogue), []).append(sheet)
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


def _stock_words(sheet: SheetAnswer, catalogue: Catalogue) -> str:
    stock = sheet.stock
    name = catalogue.material(stock.material).name
    if sheet.of_blanks:
        held = f" in {sheet.fixture}" if sheet.fixture else ""
        return f"blanks of {name} {format_mm(stock.thickness_mm)}{held}"
    sides = (stock.width_mm, stock.height_mm)
    size = format_sides(*(sides[::-1] if stock.turned else sides), places=2, times="×")
    offcut = ", offcut" if stock.offcut else ""
    return f"{name} {format_mm(stock.thickness_mm)}, {size}{offcut}"


def _share(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.01 else "less than 1 %"


def _job_sheet(sheet: SheetAnswer, shown: Shown, catalogue: Catalogue, shop: Shop) -> JobSheet:
    facts = [time_words(sheet.time_s), counted(len(sheet.marks), "part")]
    if sheet.of_blanks:
        facts[1] = counted(len(sheet.marks), "blank")
    else:
        facts.append(f"parts fill {_share(sheet.used_share)} of the sheet")
    if sheet.scribed:
        facts.append(f"{counted(len(sheet.scribed), 'label')} scribed")
    return JobSheet(
        number=sheet.number,
        stock=_stock_words(sheet, catalogue),
        set_up=tuple(_set_up(sheet, catalogue, shop)),
        programs=tuple(
            JobProgram(p.name, ", ".join(p.cutters), time_words(p.time_s)) for p in sheet.programs
        ),
        facts=" · ".join(facts),
        proof=sheet.proof,
        passed=sheet.passed,
        cautions=sheet.cautions,
        measured=sheet.measured,
        picture=partial(shown.sheet, sheet),
        compared=tuple(_job_set(one) for one in sheet.compared),
        sets_picture=partial(shown.sets, sheet)
        if is_worth_showing((one.work, one.left_area_mm2) for one in sheet.compared)
        else None,
    )


_WORK = {"outlines": "outlines", "floors": "pockets and floors", "grooves": "grooves"}


def _job_set(one: ComparedSet) -> JobSet:
    stays = "nothing"
    if one.left_area_mm2 >= _LEAST_LEFT_MM2:
        stays = format_area(one.left_area_mm2)
        if one.left_round_mm >= LEAST_ROUND_MM:
            stays += f", {about_mm(one.left_round_mm)} from what it reaches"
    if one.depth_mm is not None:
        stays = f"up to {about_mm(one.depth_mm)} deep"
    cutters = listed([in_sentence(name) for name in one.cutters])
    return JobSet(_WORK[one.work], cutters, time_words(one.time_s), stays, one.chosen)


_LEAST_LEFT_MM2 = 0.05


def _set_up(sheet: SheetAnswer, catalogue: Catalogue, shop: Shop) -> Iterator[str]:
    if sheet.of_blanks:
        yield from _set_up_blanks(sheet)
        return
    stock = sheet.stock
    along = "y" if stock.turned else "x"
    grain = f" and the grain along {along}" if catalogue.material(stock.material).grain else ""
    turned = "good side down" if sheet.from_back else "good side up"
    yield (
        f"Lay the sheet with its {format_mm(stock.width_mm)} side along x{grain}, {turned}. "
        + _HOLD[shop.hold_down]
    )
    if stock.reach_mm is not None:
        width, height = (format_mm(v) for v in stock.reach_mm)
        yield (
            f"The machine does not reach all of the sheet: only {width} × {height}, from its lower "
            "left corner, are used."
        )
    if shop.machine.kind == "beam":
        yield from _set_up_zero(sheet.zero, beam=True)
        yield from _set_up_power(stock, shop)
        return
    if shop.hold_down in (HoldDown.TABS, HoldDown.SKIN):
        edges = " and of its holes" if len(stock.outline_mm) > 1 else ""
        yield f"Put clamps only on the outer {format_mm(stock.margin_mm)} of the sheet{edges}."
    if stock.outline_mm:
        yield (
            f"It is the left-over {stock.key}, not an oblong: lay it as the picture shows it, the "
            "corner of the box round it at zero."
        )
    if stock.keep_clear:
        places = listed([place.words for place in stock.keep_clear])
        yield f"The program keeps clear of these, which must be where you said: {places}."
    yield from _set_up_zero(sheet.zero)
    if len(sheet.programs) > 1:
        yield _IN_TURN


def _set_up_zero(zero: WorkZero, *, beam: bool = False) -> Iterator[str]:
    height = "" if beam else f", z to zero on {zero.face}"
    yield f"Set x and y to zero at {zero.at}{height}. The picture marks the place."
    if zero.why:
        yield f"That is not where you usually set it: {zero.why}."


def _set_up_power(stock: StockFacts, shop: Shop) -> Iterator[str]:
    power = power_for(shop.power, stock.material, stock.thickness_mm)
    if power is None:
        yield "There is no program: enter the power for this sheet in the shop, then order again."
        return
    often = {1: "once", 2: "twice"}.get(power.passes, f"{power.passes} times")
    percent = decimal_text(power.cut_percent, 2)
    yield f"The program cuts at {percent} % of full power, {often} along each cut."


def _set_up_blanks(sheet: SheetAnswer) -> Iterator[str]:
    turned = "front down" if sheet.from_back else "front up"
    if sheet.fixture:
        edge = "left" if sheet.stock.turned else "lower"
        yield f"Fix the fixture {sheet.fixture} to the bed, its {edge} edge along x."
    else:
        edge = "its left edge along" if sheet.stock.turned else "square to"
        yield f"Hold the blank by your own means, {turned}, level and {edge} x."
    yield from _set_up_zero(sheet.zero)
    if sheet.fixture:
        yield f"Tape a blank into each pocket that the picture shows filled, {turned}."
    if len(sheet.programs) > 1:
        yield _IN_TURN
    if sheet.runs > 1:
        yield f"Do this {sheet.runs} times, with new blanks each time."


def _job_line(
    line: OrderLine,
    made: LineAnswer,
    places: Mapping[str, int],
    shown: Shown,
    catalogue: Catalogue,
    shop: Shop,
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
    facts = " · ".join(filter(None, [line.reference, copies, size, line.recipe_name]))
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
