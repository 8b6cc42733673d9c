"""What a customer is shown before it is cut, and the customer's yes or wish.

In: what was checked, planned or ordered, a price, an end. Out: an offer behind a link that nobody
can guess, the replies to it, the same on paper; on the job sheet of an order, what was replied.
"""

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
from letterply.offers.words import moment_of, short_version, size_words

__all__ = [
    "MOST_NAME",
    "MOST_TEXT",
    "Offer",
    "OfferService",
    "OfferState",
    "OrderOffer",
    "Piece",
    "Reply",
    "ReplyKind",
    "moment_of",
    "short_version",
    "size_words",
    "version_of_result",
]
