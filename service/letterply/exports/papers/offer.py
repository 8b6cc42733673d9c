"""What a customer is offered, on paper, and on a job sheet what the customer replied.

Values in, PDF out. Text of people is drawn as text, whatever it says; words without an end are
broken where the page ends.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from letterply.exports.papers.pdf_drawing import A4_MM
from letterply.exports.papers.pdf_page import Document
from letterply.exports.primitives.captions import QUIET
from letterply.exports.primitives.label_faces import LabelFaces

__all__ = ["OfferPaper", "OfferPiece", "SaidOnPaper", "job_sheet_with_replies", "offer_pdf"]

_LONGEST_WORD = 34
"""Signs of a word beyond which it is broken: fewer than a line holds, in wide letters too."""

_ALONE_MM, _AMONG_MM = 150.0, 92.0
"""Height of a picture on a page of its own, and of one among others."""


@dataclass(frozen=True, slots=True)
class OfferPiece:
    """One piece: title, lines of facts below it, a picture when it is needed."""

    title: str
    facts: tuple[str, ...]
    picture: Callable[[], bytes]


@dataclass(frozen=True, slots=True)
class OfferPaper:
    """An offer in words.

    Attributes:
        title: what it is called.
        maker: who offers it, in words; may be empty.
        price: with its currency.
        until: how long it holds.
        note: what else the maker says; may be empty.
        version: of what is shown.
        pieces: what is shown.
        replies: what was replied, a line each.
        page_word: what stands before the number of a page.

    """

    title: str
    maker: str
    price: str
    until: str
    note: str
    version: str
    pieces: tuple[OfferPiece, ...]
    replies: tuple[str, ...]
    page_word: str = "page"


@dataclass(frozen=True, slots=True)
class SaidOnPaper:
    """What a customer said, for the job sheet.

    Attributes:
        said: in a sentence, with the name and the time.
        text: the customer's own words; may be empty.
        offer: what of the order it is to, in a short sentence.
        about: which offer it was, at what price, which version.
        stale: what has changed since; empty where nothing has.
        is_yes: True for a yes.

    """

    said: str
    text: str
    offer: str
    about: str
    stale: str
    is_yes: bool


def offer_pdf(paper: OfferPaper, faces: LabelFaces | None = None) -> bytes:
    """Return an offer as a document: pictures first, then what they cost."""
    document = Document(_broken(paper.title), faces=faces, page_word=paper.page_word)
    document.page()
    document.heading(_broken(paper.title), 8.0, _broken(paper.maker))
    high = _ALONE_MM if len(paper.pieces) == 1 else _AMONG_MM
    for piece in paper.pieces:
        document.need(high + 22)
        _, drawn = document.picture(
            piece.picture(), document.margin_mm, document.y_mm, document.width_mm, high, photo=True
        )
        document.y_mm += drawn + 2
        if len(paper.pieces) > 1 or piece.title != paper.title:
            document.paragraph(_broken(piece.title), size_mm=4.2, bold=True)
        for fact in piece.facts:
            document.paragraph(_broken(fact))
        document.y_mm += 4
    document.need(30)
    document.paragraph(paper.price, size_mm=6.0, bold=True)
    document.y_mm += 2
    _lines(document, paper.note)
    document.paragraph(paper.until)
    for reply in paper.replies:
        _lines(document, reply, bold=True)
    document.y_mm += 2
    document.paragraph(paper.version, size_mm=2.8, colour=QUIET)
    return document.finish()


def job_sheet_with_replies(
    job_sheet: bytes, title: str, said: Sequence[SaidOnPaper], faces: LabelFaces | None = None
) -> bytes:
    """Return a job sheet with what customers said: told at the top, in full on pages at its end.

    Same values, same bytes.
    """
    # Taken in here: most processes never do this.
    from pypdf import PdfReader, PdfWriter

    given = PdfReader(io.BytesIO(job_sheet))
    written = PdfWriter(clone_from=given)
    first = len(given.pages)
    more = PdfReader(io.BytesIO(_pages(title, said, first, faces)))
    for page in more.pages:
        written.add_page(page)
    stamp = PdfReader(io.BytesIO(_stamp(said, first + 1, faces)))
    written.pages[0].merge_page(stamp.pages[0])
    out = io.BytesIO()
    written.write(out)
    return out.getvalue()


def _pages(title: str, said: Sequence[SaidOnPaper], before: int, faces: LabelFaces | None) -> bytes:
    named = f"{_broken(title)}: job sheet"
    document = Document(named, faces=faces, pages_before=before)
    document.page()
    document.heading("What the customer says", 6.5)
    for one in said:
        document.need(24)
        document.paragraph(_broken(one.said), size_mm=4.2, bold=True)
        _lines(document, one.text, indent_mm=4)
        document.paragraph(_broken(one.about), colour=QUIET)
        if one.stale:
            document.y_mm += 1.5
            document.caution((_broken(one.stale),))
        document.y_mm += 4
    return document.finish()


def _stamp(said: Sequence[SaidOnPaper], page: int, faces: LabelFaces | None) -> bytes:
    """Return a page that is empty but for a line in its upper margin."""
    document = Document("", faces=faces)
    document.page(A4_MM, foot=False)
    # A yes to a part is no yes to the rest: only replies to one offer are told here.
    latest = said[-1]
    words = f"{latest.said} {latest.offer}"
    words += " It has changed since." * bool(latest.stale)
    line = document.wrapped(f"{_broken(words)} See page {page}.", 3.4, document.width_mm)
    if len(line) > 1 or any(one.about != latest.about for one in said):
        line = [f"The customer has replied. See page {page}."]
    document.text(line[0], document.margin_mm, 10.0, 3.4, bold=True)
    return document.finish()


def _lines(document: Document, text: str, *, indent_mm: float = 0.0, bold: bool = False) -> None:
    for line in text.split("\n"):
        document.paragraph(_broken(line), indent_mm=indent_mm, bold=bold)
    document.y_mm += 1.5 * bool(text)


def _broken(text: str) -> str:
    """Return text whose words all find room on a line."""
    return " ".join(piece for word in text.split() for piece in _pieces(word))


def _pieces(word: str) -> Iterator[str]:
    for start in range(0, len(word), _LONGEST_WORD):
        yield word[start : start + _LONGEST_WORD]
