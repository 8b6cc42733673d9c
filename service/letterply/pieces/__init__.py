"""Test pieces: a maker cuts one, measures it, types the numbers, and later plans are truer.

In: what is to be tried, in which shop. Out: a `Piece`, whose recipe is cut like any other, and
what its readings tell, with their uncertainty.
"""

from letterply.pieces.design import design_piece, shop_for, tell_readings
from letterply.pieces.feeds import feeds_of
from letterply.pieces.model import Change, Piece, ReadAt, Rung, Told
from letterply.pieces.readings import Instrument, read_readings

__all__ = [
    "Change",
    "Instrument",
    "Piece",
    "ReadAt",
    "Rung",
    "Told",
    "design_piece",
    "feeds_of",
    "read_readings",
    "shop_for",
    "tell_readings",
]
