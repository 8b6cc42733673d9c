"""Offers in words for customers: dates, sizes, prices, what was replied. No technical detail."""

from __future__ import annotations

from datetime import UTC, datetime

from letterply.offers.model import Offer, Piece, Reply, ReplyKind
from letterply.units import format_mm, format_sides, listed, speaking

__all__ = [
    "about",
    "day_words",
    "lines_words",
    "moment_of",
    "moment_words",
    "price_words",
    "said",
    "short_version",
    "size_words",
]

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def day_words(moment: str) -> str:
    """Return the day of an instant.

    >>> day_words("2031-05-04T09:30:00.000Z")
    '4 May 2031'

    """
    day = moment_of(moment)
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def moment_words(moment: str) -> str:
    """Return an instant to the minute.

    >>> moment_words("2031-05-04T09:30:00.000Z")
    '4 May 2031, 09:30 UTC'

    """
    return f"{day_words(moment)}, {moment_of(moment):%H:%M} UTC"


def price_words(price: float, currency: str) -> str:
    """Return a price.

    >>> price_words(1234.5, "EUR")
    '1,234.50 EUR'

    """
    return f"{price:,.2f} {currency}"


def short_version(version: str) -> str:
    """Return a version as people compare it: its first eight signs."""
    return version[:8]


def size_words(piece: Piece) -> tuple[str, str]:
    """Return width and height, and thickness, in the units that it was offered in."""
    with speaking(piece.units):
        size = format_sides(*piece.size_mm[:2], times="×")
        return size, format_mm(piece.size_mm[2])


def said(reply: Reply) -> str:
    """Return who said what, and when, in a sentence."""
    what = "Yes from" if reply.kind is ReplyKind.YES else "A wish from"
    return f"{what} {reply.name}, {moment_words(reply.given_at)}."


def moment_of(moment: str) -> datetime:
    """Return an instant as it is written, in UTC."""
    return datetime.fromisoformat(moment).astimezone(UTC)


def about(offer: Offer, *, earlier: bool = False) -> str:
    """Return which offer of an order it is: title, lines, price, version."""
    price = price_words(offer.price, offer.currency)
    of = " of the order that this one revises" if earlier else ""
    return (
        f"Offered as “{offer.title}” for {price}: {lines_words(offer)}{of}, version "
        f"{short_version(offer.version)}."
    )


def lines_words(offer: Offer) -> str:
    """Return which lines of an order are offered."""
    numbers = [piece.line for piece in offer.pieces]
    if len(numbers) == 1:
        return f"line {numbers[0]}"
    if numbers == list(range(numbers[0], numbers[-1] + 1)):
        return f"lines {numbers[0]} to {numbers[-1]}"
    return f"lines {listed([str(number) for number in numbers])}"
