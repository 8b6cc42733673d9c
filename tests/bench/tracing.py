"""How true traced letters are: 30 letters of five fonts as FreeType draws them, 25 mm high.

    .venv/bin/python tests/bench/tracing.py

For 150 and 300 dpi; with soft edges, two tones, and soft edges with noise (standard deviation 0.1
of white to black): distance of the traced outline from the true one in pixels: mean, 95 of 100,
largest.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from lettering.pictures.letters import distances, outline_of, rendered
from letterply.lettering import Picture, trace_picture
from letterply.requests import TraceWish

FACES = ("playfair-display", "dancing-script", "archivo-black", "zilla-slab", "pacifico")
LETTERS = "Rag&8q"


def main():
    noise = np.random.default_rng(5)
    print("| dpi | picture | mean | 95 of 100 | largest | its median | pixels that agree |")
    print("|---|---|---|---|---|---|---|")
    for dpi, px in ((150, 148), (300, 295)):
        for kind in ("soft edges", "two tones", "noise"):
            rows = []
            for face in FACES:
                for letter in LETTERS:
                    dark, truth = rendered(face, letter, px)
                    if kind == "two tones":
                        dark = (dark > 0.5).astype(float)
                    if kind == "noise":
                        dark = np.clip(dark + noise.normal(0, 0.1, dark.shape), 0, 1)
                    found = trace_picture(Picture(dark.astype(np.float32), None), TraceWish())
                    agree = found.facts["pixels_agree"]
                    rows.append((*distances(outline_of(found.svg), truth), agree))
            largest, most_of, mean, agree = np.array(rows).T
            print(
                f"| {dpi} | {kind} | {mean.mean():.2f} | {most_of.mean():.2f} "
                f"| {largest.max():.1f} | {np.median(largest):.1f} | {100 * agree.mean():.1f} % |"
            )


if __name__ == "__main__":
    main()
