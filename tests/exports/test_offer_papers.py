"""Offers and replies on paper: read back by another program (PDFium), hostile text among it."""

import io

import pypdfium2
from PIL import Image

from letterply.exports import (
    OfferPaper,
    OfferPiece,
    SaidOnPaper,
    job_sheet_with_replies,
    offer_pdf,
)
from letterply.exports.papers.pdf_page import Document

HOSTILE = "<b>Ada</b> &lt; /JavaScript (app.alert(1)) ) Tj \\ %PDF"


def picture():
    out = io.BytesIO()
    Image.new("RGB", (300, 200), "#0072B2").save(out, "PNG")
    return out.getvalue()


def paper(**more):
    facts = {
        "title": "Knot tag",
        "maker": "From The boathouse",
        "price": "40.00 EUR",
        "until": "Open until 18 May 2031.",
        "note": "Painted.\nReady in May.",
        "version": "version 1a2b3c4d",
        "pieces": (OfferPiece("Knot tag", ("50 × 30 mm", "MDF, 6 mm"), picture),),
        "replies": (),
    }
    return OfferPaper(**(facts | more))


def job_sheet(pages=2):
    document = Document("Tags: job sheet")
    for number in range(pages):
        document.page()
        document.heading(f"Sheet {number + 1}")
    return document.finish()


def said(**more):
    facts = {
        "said": "Yes from Ada Plover, 5 May 2031, 10:00 UTC.",
        "text": "Thank you.",
        "offer": "For line 1.",
        "about": "Offered as “Knot tag”, version 1a2b3c4d.",
        "stale": "",
        "is_yes": True,
    }
    return SaidOnPaper(**(facts | more))


def words(pdf):
    with pypdfium2.PdfDocument(pdf) as document:
        return [page.get_textpage().get_text_range() for page in document]


def test_an_offer_is_on_one_page_with_all_that_it_says():
    made = offer_pdf(paper())
    (page,) = words(made)
    for line in (
        "Knot tag",
        "From The boathouse",
        "50 × 30 mm",
        "MDF, 6 mm",
        "40.00 EUR",
        "Painted.",
        "Ready in May.",
        "Open until 18 May 2031.",
        "version 1a2b3c4d",
    ):
        assert line in page
    assert page.count("Knot tag") == 2  # heading and foot: the piece is not named once more
    assert offer_pdf(paper()) == made


def test_many_pieces_go_on_over_pages_each_with_its_name():
    pieces = tuple(OfferPiece(f"Tag {n}", ("50 × 30 mm",), picture) for n in range(1, 8))
    pages = words(offer_pdf(paper(pieces=pieces)))
    assert len(pages) > 2
    for number in range(1, 8):
        assert sum(f"Tag {number}" in page for page in pages) == 1
    assert "40.00 EUR" in pages[-1]


def test_hostile_text_is_drawn_as_text_within_the_page():
    endless = "W" * 2000
    made = offer_pdf(paper(title=HOSTILE, maker=HOSTILE, note=f"{HOSTILE}\n{endless}"))
    with pypdfium2.PdfDocument(made) as document:
        for page in document:
            text = page.get_textpage()
            for at in range(text.count_rects()):
                left, low, right, high = text.get_rect(at)
                assert left >= 0
                assert right <= page.get_width()
                assert low >= 0
                assert high <= page.get_height()
    assert HOSTILE in " ".join(words(made)).replace("\r\n", " ")
    assert b"/JavaScript" not in made.replace(b"/JavaScript \\(app", b"")


def test_replies_follow_the_job_sheet_and_are_told_on_its_first_page():
    replies = [said(is_yes=False, said="A wish."), said()]
    made = job_sheet_with_replies(job_sheet(), "Tags", replies)
    first, second, last = words(made)
    assert "Yes from Ada Plover, 5 May 2031, 10:00 UTC. For line 1. See page 3." in first
    assert "Sheet 1" in first
    assert "Sheet 2" in second
    assert "Yes from" not in second
    for line in ("What the customer says", "Thank you.", "A wish.", "page 3"):
        assert line in last
    assert made == job_sheet_with_replies(job_sheet(), "Tags", replies)


def test_a_yes_to_something_else_is_not_told_as_a_yes_to_this():
    stale = said(stale="Changed since it was shown: Knot tag.")
    first, _, last = words(job_sheet_with_replies(job_sheet(), "Tags", [stale]))
    assert "It has changed since. See page 3." in first
    assert "Changed since it was shown: Knot tag." in last


def test_a_yes_to_a_part_is_not_told_as_a_yes_to_all():
    both = [said(), said(said="A wish.", offer="For line 2.", about="another", is_yes=False)]
    first, *_, last = words(job_sheet_with_replies(job_sheet(), "Tags", both))
    assert "The customer has replied. See page 3." in first
    assert "Yes from" not in first
    assert "Yes from" in last


def test_a_name_that_is_too_long_for_the_margin_is_told_on_the_last_page_alone():
    long = said(said=f"Yes from {'W' * 80}, 5 May 2031, 10:00 UTC.")
    first, *_, last = words(job_sheet_with_replies(job_sheet(), "Tags", [long]))
    assert "The customer has replied. See page 3." in first
    assert "WWWW" in last
