"""The customer's page as HTML: values in, text out. Whatever anybody wrote is escaped text in it.

What the page says itself is in one catalogue, `Words`, so that it can be said in another language.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from html import escape

from letterply.errors import InputError
from letterply.offers import (
    MOST_NAME,
    MOST_TEXT,
    Offer,
    Piece,
    Reply,
    ReplyKind,
    facts_of,
    last_day,
    moment_words,
    price_words,
    short_version,
)

__all__ = ["Words", "closed_page", "offer_page", "words_in"]


@dataclass(frozen=True, slots=True)
class Words:
    """What the page says; braces stand for what is put in."""

    made_by: str = "From {maker}"
    seen: str = "{title}, seen from the front"
    size: str = "Size"
    materials: str = "Made of"
    number: str = "How many"
    price: str = "Price"
    until: str = "You can reply until the end of {day} (UTC)."
    paper: str = "Take it along on paper (PDF)"
    ask: str = "Shall it be made?"
    name: str = "Your name"
    yes: str = "Yes, make it as it is shown here"
    wish: str = "I wish for something else"
    text: str = "What should be different, or anything to add"
    final: str = "A yes is final for what is shown on this page: it is made from it."
    send: str = "Send the reply"
    said_yes: str = "Yes from {name}"
    said_wish: str = "A wish from {name}"
    thanks_yes: str = "Thank you. The maker has your yes, and makes what is shown here."
    thanks_wish: str = (
        "Thank you. The maker has your wish, and may send you another page. You can reply again "
        "here, too."
    )
    wrong: str = "The reply was not sent. Please put this right first:"
    version: str = "Version {version}"
    holder: str = "Whoever has the address of this page can see it and reply to it."
    gone_ended: str = "This offer has ended. Ask its maker for a new one."
    gone_withdrawn: str = "The maker has taken this offer back. Ask for a new one."
    gone_agreed: str = "There is a yes to this offer already, and a yes is final."
    gone_replies: str = "There are many wishes here already. Talk to the maker."
    gone_fast: str = "That was a little too often. Wait a minute and load the page again."
    gone_form: str = "This reply could not be read. Go back and send it from the page."
    gone_busy: str = "This page cannot be shown just now. Load it again in a minute."
    gone: str = "There is no offer at this address. Perhaps a piece of the link is missing."
    kept: str = "Kept with the maker: {said}, {moment}."
    back: str = "Back to the offer"


_ENGLISH = Words()
_TEST = Words(**{f.name: f"⟦{getattr(_ENGLISH, f.name)}⟧" for f in fields(Words)})
_GONE = {
    "offer-ended": "gone_ended",
    "offer-withdrawn": "gone_withdrawn",
    "offer-agreed": "gone_agreed",
    "too-many-replies": "gone_replies",
    "too-many-requests": "gone_fast",
    "unsupported-media-type": "gone_form",
    "body-too-large": "gone_form",
    "service-busy": "gone_busy",
}


def words_in(language: str | None) -> Words:
    """Return the catalogue of a language; `test` brackets all of it, to find what is not in it."""
    return _TEST if language == "test" else _ENGLISH


def offer_page(
    offer: Offer,
    words: Words = _ENGLISH,
    given: Mapping[str, str] | None = None,
    wrong: InputError | None = None,
) -> str:
    """Return the page of an offer.

    Args:
        offer: what is shown.
        words: what the page says itself.
        given: a reply that does not hold, to be put right, and
        wrong: what is the matter with it.

    """
    pieces = "".join(_piece(p, n, offer, words) for n, p in enumerate(offer.pieces, start=1))
    note = "".join(f"<p>{escape(line)}</p>" for line in offer.note.split("\n") if line)
    maker = _p("maker", words.made_by.format(maker=escape(offer.maker))) if offer.maker else ""
    until = "" if offer.yes else _p("until", words.until.format(day=last_day(offer.ends_at)))
    form = "" if offer.yes else _form(words, given or {}, wrong)
    return _page(
        offer.title,
        f'<header>{maker}<h1>{escape(offer.title)}</h1></header>{pieces}<section class="terms">'
        f'<p class="price"><span class="label">{words.price}</span> '
        f"<b>{escape(price_words(offer.price, offer.currency))}</b></p>"
        f'{note}{until}<p><a href="offer.pdf">{words.paper}</a></p></section>'
        f"{_replies(offer, words)}{form}<footer>"
        f"<p>{words.version.format(version=short_version(offer.version))}. {words.holder}</p>"
        "</footer>",
        failed=wrong is not None,
    )


def closed_page(code: str, offer: Offer | None = None, words: Words = _ENGLISH) -> str:
    """Return the page for what is shown no more, or never was.

    Args:
        code: why.
        offer: what was there: nothing is told of it but that there was a yes.
        words: what the page says itself.

    """
    said = getattr(words, _GONE.get(code, "gone"))
    kept = ""
    if offer is not None and offer.yes is not None:
        name = words.said_yes.format(name=escape(offer.yes.name))
        kept = _p("kept", words.kept.format(said=name, moment=moment_words(offer.yes.given_at)))
    stays = code in ("offer-agreed", "too-many-replies", "too-many-requests", "service-busy")
    back = f'<p><a href="./">{words.back}</a></p>' if stays else ""
    return _page(said, f"<h1>{said}</h1>{kept}{back}")


def _page(title: str, body: str, *, failed: bool = False) -> str:
    mark = "⚠ " if failed else ""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark"><meta name="robots" content="noindex">'
        f"<title>{mark}{escape(title)}</title>"
        '<link rel="icon" type="image/svg+xml" href="/offer/icon.svg">'
        '<link rel="stylesheet" href="/offer/style.css"></head>'
        f"<body><main>{body}</main></body></html>\n"
    )


def _p(kind: str, text: str) -> str:
    return f'<p class="{kind}">{text}</p>'


def _piece(piece: Piece, number: int, offer: Offer, words: Words) -> str:
    alone = len(offer.pieces) == 1 and piece.title == offer.title
    title = "" if alone else f"<h2>{escape(piece.title)}</h2>"
    size, materials, *rest = facts_of(piece)
    rows = [(words.size, size), (words.materials, materials)]
    rows += [(words.number, count) for count in rest]
    facts = "".join(f"<div><dt>{name}</dt><dd>{escape(text)}</dd></div>" for name, text in rows)
    alt = escape(words.seen.format(title=piece.title))
    lazy = ' loading="lazy"' if number > 2 else ""
    return (
        f'<article>{title}<img src="picture-{number}.png" alt="{alt}"{lazy}>'
        f"<dl>{facts}</dl></article>"
    )


def _replies(offer: Offer, words: Words) -> str:
    if not offer.replies:
        return ""
    yes = offer.yes is not None
    thanks = words.thanks_yes if yes else words.thanks_wish
    told = "".join(_reply(r, words) for r in offer.replies)
    kind = "agreed" if yes else "wished"
    return f'<section class="replies {kind}"><h2>{thanks}</h2><ul>{told}</ul></section>'


def _reply(reply: Reply, words: Words) -> str:
    form = words.said_yes if reply.kind is ReplyKind.YES else words.said_wish
    lines = "<br>".join(escape(line) for line in reply.text.split("\n"))
    text = f"<q>{lines}</q>" if reply.text else ""
    who = form.format(name=f"<b>{escape(reply.name)}</b>")
    return f"<li>{who}, {moment_words(reply.given_at)}{text}</li>"


def _form(words: Words, given: Mapping[str, str], wrong: InputError | None) -> str:
    mistakes = {m["field"]: m["message"] for m in wrong.data["mistakes"]} if wrong else {}
    listed = "".join(
        f'<li id="wrong-{field}"><a href="#{field}">{escape(message)}</a></li>'
        for field, message in mistakes.items()
    )
    alert = f'<div role="alert" class="wrong"><p>{words.wrong}</p><ul>{listed}</ul></div>'

    def said(field: str) -> str:
        wrong = f' aria-invalid="true" aria-describedby="wrong-{field}"'
        return wrong if field in mistakes else ""

    def choice(kind: str, label: str, at: str = "") -> str:
        on = " checked" if given.get("kind") == kind else ""
        return (
            f'<label><input type="radio" name="kind" value="{kind}" required{on}{at}>'
            f"<span>{label}</span></label>"
        )

    first = ' id="kind"'
    return (
        f'<section class="reply"><h2 id="ask">{words.ask}</h2>{alert if wrong else ""}'
        f'<form method="post"><fieldset><legend class="unseen">{words.ask}</legend>'
        f"{choice('yes', words.yes, first)}{choice('wish', words.wish)}</fieldset>"
        f'<label for="text">{words.text}</label>'
        f'<textarea id="text" name="text" rows="3" maxlength="{MOST_TEXT}"{said("text")}>'
        f"\n{escape(given.get('text', ''))}</textarea>"
        f'<label for="name">{words.name}</label>'
        f'<input id="name" name="name" autocomplete="name" required maxlength="{MOST_NAME}"'
        f' value="{escape(given.get("name", ""))}"{said("name")}>'
        f'<p class="final">{words.final}</p><button>{words.send}</button></form></section>'
    )
