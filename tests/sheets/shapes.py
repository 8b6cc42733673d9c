"""Letter-like shapes and what to place, for the tests of this room."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon, box
from shapely.affinity import scale, translate

from letterply.catalogue.model import Stock
from letterply.sheets.nesting import ToPlace
from letterply.stacks.model import Part


def letter(kind: str, size_mm: float) -> Polygon:
    """Return a blocky letter, `size_mm` high, away from the origin."""
    stem = box(0, 0, 0.2, 1)
    bar = box(0, 0, 0.6, 0.2)
    shapes = {
        "L": stem | bar,
        "T": translate(stem, 0.25) | translate(box(0, 0, 0.7, 0.2), 0, 0.8),
        "O": shapely.Point(0.4, 0.5).buffer(0.5) - shapely.Point(0.4, 0.5).buffer(0.3),
        "C": shapely.Point(0.4, 0.5).buffer(0.5)
        - shapely.Point(0.4, 0.5).buffer(0.3)
        - box(0.5, 0.3, 1, 0.7),
        "V": Polygon([(0, 1), (0.35, 0), (0.45, 0), (0.8, 1), (0.6, 1), (0.4, 0.3), (0.2, 1)]),
        "I": stem,
    }
    shape = scale(shapes[kind], size_mm, size_mm, origin=(0, 0))
    return translate(shape, 17.3, -4.2)


def letters(count: int, *, seed: int, low_mm: float = 25, high_mm: float = 70) -> list[Polygon]:
    rng = np.random.default_rng(seed)
    kinds = rng.choice(list("LTOCVI"), count)
    sizes = rng.uniform(low_mm, high_mm, count)
    return [letter(str(kind), float(size)) for kind, size in zip(kinds, sizes, strict=True)]


def to_place(outlines: list[Polygon], **more: object) -> list[ToPlace]:
    facts = {"material": "mdf", "thickness_mm": 6.0} | more
    return [
        ToPlace(f"1.face.{n:03}", 1, Part(f"face.{n:03}", "face", outline), **facts)
        for n, outline in enumerate(outlines)
    ]


def sheet(key: str, width: float, height: float, count: int = 9, **more: object) -> Stock:
    facts = {"material": "mdf", "thickness_mm": 6.0} | more
    return Stock(key, width_mm=width, height_mm=height, count=count, **facts)
