"""Whether a word has the same pieces and counters at every size.

    .venv/bin/python tests/bench/continuity.py [SIZES]

A word or two in each of twelve fonts at 200 sizes from 10 to 200 mm: printed are pieces, counters
and misses between letters of each, and from which size on. They may grow with the size, where a gap
or counter passes the smallest feature that a region has, and never shrink.
"""

from __future__ import annotations

import itertools
import sys

import numpy as np

from letterply.lettering import FontLibrary, LetteringSpec, Size, set_lettering
from letterply.shapes import DEFAULT_TOLERANCES

FONTS = ("dancing-script", "lobster", "pacifico", "great-vibes", "playfair-display", "oswald",
         "archivo-black", "nunito", "zilla-slab", "noto-sans", "frank-ruhl-libre",
         "atkinson-hyperlegible")  # fmt: skip
WORDS = ("Turnstone", "Oystercatcher")

Shape = tuple[int, int, int]


def shapes(font: str, word: str, sizes: np.ndarray, library: FontLibrary) -> list[Shape]:
    """Return pieces, counters and misses of a word at each size."""
    found = []
    for size in sizes.tolist():
        spec = LetteringSpec(word, font, Size("cap_height", size))
        lettering = set_lettering(spec, library.load(font), DEFAULT_TOLERANCES)
        pieces = lettering.region.geoms
        counters = sum(len(piece.interiors) for piece in pieces)
        found.append((len(pieces), counters, len(lettering.misses)))
    return found


def main() -> None:
    """Print a line for every font and word."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    sizes, library = np.geomspace(10.0, 200.0, count), FontLibrary()
    for font, word in itertools.product(FONTS, WORDS):
        found = shapes(font, word, sizes, library)
        runs = [(sizes[0], found[0])]
        runs += [
            (s, b) for s, (a, b) in zip(sizes[1:], itertools.pairwise(found), strict=True) if a != b
        ]
        back = sum(b[0] < a[0] or b[1] < a[1] for a, b in itertools.pairwise(found))
        told = "; ".join(f"{p} pieces, {c} counters, {m} misses from {s:.1f} mm"
                         for s, (p, c, m) in runs)  # fmt: skip
        print(f"{font:22} {word:14} {told}{f'; {back} TIMES FEWER' if back else ''}")


if __name__ == "__main__":
    main()
