"""Words and drawings in, outlines out.

In: font files, SVG files, pictures, words and how they are set. Out: letters as clean regions in
mm, y up, and drawings as regions; what could not be taken as asked is named.
"""

from letterply.lettering.artwork.describing import artwork_summary, describe_artwork, left_out_words
from letterply.lettering.artwork.library import ARTWORK_PREFIX, ArtworkLibrary, artwork_digest
from letterply.lettering.artwork.model import Artwork
from letterply.lettering.artwork.parser import read_artwork
from letterply.lettering.artwork.setting import (
    ArtworkSize,
    ArtworkSpec,
    SetArtwork,
    line_points,
    set_artwork,
)
from letterply.lettering.fonts.describing import describe
from letterply.lettering.fonts.font import Font
from letterply.lettering.fonts.library import FontEntry, FontLibrary, font_digest, shipped_faces
from letterply.lettering.fonts.loading import load_font
from letterply.lettering.pictures.reading import Picture, is_picture, read_picture
from letterply.lettering.pictures.tracing import Traced, doubts_told, trace_picture, traced_words
from letterply.lettering.setting.baselines import path_points
from letterply.lettering.setting.itemising import missing_in
from letterply.lettering.setting.joins import Miss
from letterply.lettering.setting.legibility import LOWEST_BASELINE_MM, minimum_visual_height
from letterply.lettering.setting.lettering import (
    Letter,
    Lettering,
    measure_lettering,
    set_lettering,
)
from letterply.lettering.setting.shaping import shape_line
from letterply.lettering.setting.spec import Baseline, LetteringSpec, Size

__all__ = [
    "ARTWORK_PREFIX",
    "LOWEST_BASELINE_MM",
    "Artwork",
    "ArtworkLibrary",
    "ArtworkSize",
    "ArtworkSpec",
    "Baseline",
    "Font",
    "FontEntry",
    "FontLibrary",
    "Letter",
    "Lettering",
    "LetteringSpec",
    "Miss",
    "Picture",
    "SetArtwork",
    "Size",
    "Traced",
    "artwork_digest",
    "artwork_summary",
    "describe",
    "describe_artwork",
    "doubts_told",
    "font_digest",
    "is_picture",
    "left_out_words",
    "line_points",
    "load_font",
    "measure_lettering",
    "minimum_visual_height",
    "missing_in",
    "path_points",
    "read_artwork",
    "read_picture",
    "set_artwork",
    "set_lettering",
    "shape_line",
    "shipped_faces",
    "trace_picture",
    "traced_words",
]
