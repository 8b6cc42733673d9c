"""Widths that the checks tell against those of a judge that knows no axis, over many words.

    .venv/bin/python tests/bench/narrowest.py [WORDS]

Words of seven scripts in twelve fonts at 10 to 200 mm: every place that the checks tell as thin is
measured again between the pieces of the ground round it, and every narrow place that the judge
finds under the limit (`tests/reference/raster_judge.py`) is looked for among what was told. Printed
are a line a font and what was missed.
"""

from __future__ import annotations

import math
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from letterply.catalogue import Material, load_catalogue
from letterply.checks.gaps.gaps import part_axes
from letterply.checks.thin.necks import find_thin_material
from letterply.findings import Finding
from letterply.lettering import FontLibrary, LetteringSpec, Size, set_lettering
from letterply.requests import DEFAULT_RULES
from letterply.shapes import DEFAULT_TOLERANCES
from letterply.stacks import Layer, Part

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "reference"))
from raster_judge import local_width, narrow_places  # noqa: E402

WORDS = tomllib.loads((HERE.parent / "reference" / "words.toml").read_text("utf-8"))
FONTS = {
    "Latn": ("dancing-script", "lobster", "pacifico", "great-vibes", "playfair-display", "oswald",
             "archivo-black", "nunito", "zilla-slab"),
    "Cyrl": ("noto-sans",), "Grek": ("noto-sans",), "Hebr": ("frank-ruhl-libre",),
    "Arab": ("noto-sans-arabic",), "Deva": ("noto-sans-devanagari",), "Thai": ("noto-sans-thai",),
}  # fmt: skip
SIZES = (10.0, 18.0, 32.0, 57.0, 100.0, 200.0)
RATIO = 1.25
"""Both sides of a narrow place are wider by this: the checks ask for less."""
CLOSE_MM = 0.02
THICKNESS_MM = 3.0


@dataclass
class Score:
    """What came of the words of a font."""

    words: int = 0
    told: int = 0
    off: list[float] = field(default_factory=list)
    true: int = 0
    missed: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


def cases(count: int) -> Iterator[tuple[str, str, float]]:
    """Yield font, word and size of so many words, spread over fonts and sizes."""
    pairs = [(font, script) for script, fonts in FONTS.items() for font in fonts]
    for number in range(count):
        font, script = pairs[number % len(pairs)]
        words = WORDS[script]["words"]
        word = words[(number // len(pairs)) % len(words)]
        yield font, word, SIZES[(number + number // len(pairs)) % len(SIZES)]


def thin_places(part: Part, material: Material) -> list[Finding]:
    """Return what the checks tell of one part of a sheet of 3 mm, points of tips left out."""
    layer = Layer("face", material.key, THICKNESS_MM, 0.0, (part,))
    inner, _ = part_axes(part, (), DEFAULT_RULES)
    found = find_thin_material(
        part, inner, layer, material, DEFAULT_RULES, DEFAULT_TOLERANCES.flatten_mm, supported=True
    )
    return [f for f in found if ("tip", False) in f.data]


def judge(font: str, word: str, size: float, score: Score, library: FontLibrary) -> None:
    """Compare one word."""
    spec = LetteringSpec(word, font, Size("cap_height", size))
    lettering = set_lettering(spec, library.load(font), DEFAULT_TOLERANCES)
    score.words += 1
    material = load_catalogue().material("acrylic-cast")
    limit = material.min_web(THICKNESS_MM)
    for number, outline in enumerate(lettering.region.geoms):
        part = Part(f"piece {number}", "face", outline)
        told = thin_places(part, material)
        middles = []
        for finding in told:
            assert finding.where is not None
            assert finding.measured is not None
            at, width = finding.where.anchor, finding.measured
            reach = max(4 * width, float(dict(finding.data)["length_mm"]))
            middles.append((at, width, reach))
            score.told += 1
            exact = local_width(outline, at, width, 0.05 * width)
            if exact is None:
                continue  # the wall of a counter: judged as a whole
            off = width - exact[1]
            score.off.append(abs(off))
            if abs(off) > CLOSE_MM:
                score.wrong.append(f"{word} {size:g} at {at[0]:.2f}, {at[1]:.2f}: {width:.3f}, "
                                   f"is {exact[1]:.3f}")  # fmt: skip
        for narrow in narrow_places(type(lettering.region)([outline]), limit, RATIO):
            score.true += 1
            # Along a stroke of one width the place is anywhere on it.
            near = [w for at, w, reach in middles if math.dist(at, narrow.at) <= reach]
            if not any(w <= narrow.width_mm + CLOSE_MM for w in near):
                score.missed.append(f"{word} {size:g} at {narrow.at[0]:.2f}, {narrow.at[1]:.2f}: "
                                    f"{narrow.width_mm:.3f}, ratio {narrow.ratio:.2f}")  # fmt: skip


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    library = FontLibrary()
    scores: dict[str, Score] = {}
    for font, word, size in cases(count):
        judge(font, word, size, scores.setdefault(font, Score()), library)
    for font, score in scores.items():
        off = np.array(score.off or [0.0])
        print(f"{font:22} {score.words:3} words  told {score.told:4}: median off "
              f"{np.median(off):.4f} mm, most {off.max():.3f}, over {CLOSE_MM} mm "
              f"{len(score.wrong)}; true {score.true:4}, missed {len(score.missed)}")  # fmt: skip
    for name in ("wrong", "missed"):
        for font, score in scores.items():
            for line in getattr(score, name)[:6]:
                print(f"  {name}: {font} {line}")


if __name__ == "__main__":
    main()
