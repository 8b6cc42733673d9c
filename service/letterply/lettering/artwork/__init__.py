"""Artwork in, regions out: SVG drawings read safely, painted shapes turned into areas to cut."""

from letterply.lettering.artwork.describing import describe_artwork, left_out_words
from letterply.lettering.artwork.drawing import draw, room_px
from letterply.lettering.artwork.model import PX_MM, ROOM, Artwork, ArtworkError, LeftOut
from letterply.lettering.artwork.reading import read_artwork
from letterply.lettering.artwork.setting import (
    ArtworkSize,
    ArtworkSpec,
    SetArtwork,
    ink_px,
    line_points,
    set_artwork,
)
from letterply.lettering.artwork.shelf import ARTWORK_PREFIX, ArtworkShelf, artwork_digest

__all__ = [
    "ARTWORK_PREFIX",
    "PX_MM",
    "ROOM",
    "Artwork",
    "ArtworkError",
    "ArtworkShelf",
    "ArtworkSize",
    "ArtworkSpec",
    "LeftOut",
    "SetArtwork",
    "artwork_digest",
    "describe_artwork",
    "draw",
    "ink_px",
    "left_out_words",
    "line_points",
    "read_artwork",
    "room_px",
    "set_artwork",
]
