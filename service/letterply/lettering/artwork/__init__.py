"""Artwork in, regions out: SVG drawings read safely, painted shapes turned into areas to cut."""

from letterply.lettering.artwork.drawing import draw, room_px
from letterply.lettering.artwork.model import PX_MM, ROOM, Artwork, ArtworkError, LeftOut
from letterply.lettering.artwork.reading import read_artwork

__all__ = [
    "PX_MM",
    "ROOM",
    "Artwork",
    "ArtworkError",
    "LeftOut",
    "draw",
    "read_artwork",
    "room_px",
]
