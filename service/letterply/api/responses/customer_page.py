"""The customer's page as HTML: values in, text out. Whatever anybody wrote is escaped text in it.

What the page says itself is `Words`, in the language of who reads it.
"""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

from letterply.errors import InputError
from letterply.offers import (
    ENGLISH,
    LANGUAGES,
    MOST_NAME,
    MOST_TEXT,
    Offer,
    Piece,
    Reply,
    ReplyKind,
    Words,
    short_version,
)

__all__ = ["closed_page", "offer_page"]

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


def offer_page(
    offer: Offer,
    words: Words = ENGLISH,
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
    until = "" if offer.yes else _p("until", words.until.format(day=words.last_day(offer.ends_at)))
    form = "" if offer.yes else _form(words, given or {}, wrong)
    return _page(
        words,
        offer.title,
        f'<header>{maker}<h1>{escape(offer.title)}</h1></header>{pieces}<section class="terms">'
        f'<p class="price"><span class="label">{words.price}</span> '
        f"<b>{escape(words.price_of(offer.price, offer.currency))}</b></p>"
        f'{note}{until}<p><a href="offer.pdf?lang={words.language}">{words.paper}</a></p></section>'
        f"{_replies(offer, words)}{form}<footer>"
        f"<p>{words.version.format(version=short_version(offer.version))}. {words.holder}</p>"
        f"{_languages(words)}</footer>",
        failed=wrong is not None,
    )


def closed_page(code: str, offer: Offer | None = None, words: Words = ENGLISH) -> str:
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
        kept = _p("kept", words.kept.format(said=name, moment=words.moment_of(offer.yes.given_at)))
    stays = code in ("offer-agreed", "too-many-replies", "too-many-requests", "service-busy")
    back = f'<p><a href="./?lang={words.language}">{words.back}</a></p>' if stays else ""
    return _page(words, said, f"<h1>{said}</h1>{kept}{back}")


def _languages(words: Words) -> str:
    """Return the way to the same page in each other language."""
    others = (other for other in LANGUAGES if other.language != words.language)
    links = (
        f'<a href="?lang={other.language}" hreflang="{other.language}" lang="{other.language}">'
        f"{other.own_name}</a>"
        for other in others
    )
    return f"<p>{', '.join(links)}</p>"


def _page(words: Words, title: str, body: str, *, failed: bool = False) -> str:
    mark = "⚠ " if failed else ""
    return (
        f'<!doctype html><html lang="{words.language}"><head><meta charset="utf-8">'
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
    rows = [(words.size, words.size_of(piece)), (words.materials, words.materials_of(piece))]
    if piece.quantity > 1:
        rows.append((words.number, words.pieces.format(count=piece.quantity)))
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
    return f"<li>{who}, {words.moment_of(reply.given_at)}{text}</li>"


def _form(words: Words, given: Mapping[str, str], wrong: InputError | None) -> str:
    found = wrong.data["mistakes"] if wrong else []
    mistakes = {m["field"]: words.mistake(m["field"], m["code"]) for m in found}
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
