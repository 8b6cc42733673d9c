"""What a customer is shown before it is cut, and the customer's yes or wish.

In: what was checked, planned or ordered, a price, an end. Out: an offer behind a link that nobody
can guess, the replies to it, the same on paper; on the job sheet of an order, what was replied.
"""

from letterply.offers.customer_words import ENGLISH, LANGUAGES, Words
from letterply.offers.model import (
    MOST_NAME,
    MOST_TEXT,
    Offer,
    OfferState,
    Piece,
    Reply,
    ReplyKind,
)
from letterply.offers.service import OfferService, OrderOffer
from letterply.offers.sources import version_of_result
from letterply.offers.words import short_version

__all__ = [
    "ENGLISH",
    "LANGUAGES",
    "MOST_NAME",
    "MOST_TEXT",
    "Offer",
    "OfferService",
    "OfferState",
    "OrderOffer",
    "Piece",
    "Reply",
    "ReplyKind",
    "Words",
    "short_version",
    "version_of_result",
]
