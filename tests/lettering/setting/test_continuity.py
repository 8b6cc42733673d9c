"""The same words are the same at every size: no piece, counter or join comes and goes."""

import numpy as np
import pytest

from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.shapes.tolerances import DEFAULT_TOLERANCES

FONTS = ("dancing-script", "lobster", "pacifico", "great-vibes", "playfair-display", "oswald",
         "archivo-black", "nunito", "zilla-slab", "noto-sans", "frank-ruhl-libre",
         "atkinson-hyperlegible")  # fmt: skip


@pytest.mark.parametrize("font", FONTS)
def test_a_word_has_the_same_pieces_and_counters_at_every_size(font):
    face = FontLibrary().load(font)
    seen = set()
    for size in np.geomspace(10, 200, 20).tolist():
        spec = LetteringSpec("Oystercatcher", font, Size("cap_height", size))
        lettering = set_lettering(spec, face, DEFAULT_TOLERANCES)
        pieces = lettering.region.geoms
        counters = sum(len(piece.interiors) for piece in pieces)
        seen.add((len(pieces), counters, len(lettering.misses)))
    assert len(seen) == 1
