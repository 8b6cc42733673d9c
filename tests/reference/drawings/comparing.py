"""A drawing as we fill it, held against resvg, an independent renderer; and what was noted.

A pixel counts as painted where resvg covers at least half of it; a pixel's middle is looked up in
our region. The two are the same where every pixel that differs lies with its middle within
`NEAR_PX` of our outline. All paint counts, white too.

    python -m reference.drawings.comparing FOLDER
    python -m reference.drawings.comparing generated EACH [SEED]

(with `tests` on the path) go through every SVG file of a folder, and through EACH generated
drawings of every family.
"""

from __future__ import annotations

import io
import math
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import resvg_py
import shapely
from pebble import ProcessPool
from PIL import Image

from letterply.errors import InputError
from letterply.lettering.artwork.drawing import draw
from letterply.lettering.artwork.parser import read_artwork
from letterply.lettering.fonts.font import Font
from letterply.shapes import Region
from reference.drawings.generating import drawings

__all__ = ["NEAR_PX", "Verdict", "compare"]

NEAR_PX = 0.35
_SIDE_PX = 300.0
_TOLERANCE_PX = 0.01
_SECONDS = 60

BY_THE_TEXT = {
    "776297-marker-on-non-path-elements.svg": "SVG 2, 10.3: the last arc of a circle closes it, so "
    "that the vertex behind it is the last one; resvg has one more",
}
"""Files of public suites that resvg takes otherwise than the text, each with the reason."""

Kind = Literal["same", "noted", "silent", "refused", "unrendered", "by the text"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What came of a drawing.

    Attributes:
        kind: `same`; `noted`, it differs and something was noted; `silent`, it differs and nothing
            was; `refused`, with the error's code in `detail`; `unrendered`, by resvg;
            `by the text`, it differs and the text is on our side.
        notes: what was noted.
        detail: in words.

    """

    kind: Kind
    notes: tuple[str, ...] = ()
    detail: str = ""


def compare(
    data: bytes,
    plain: bytes | None = None,
    font: Font | None = None,
    file: str = "",
    recorded: bytes = b"",
) -> Verdict:
    """Return how our region of a drawing stands to what resvg paints.

    `plain` is the same drawing in words that resvg takes by the text of SVG 2, if it must have
    others; `file` is that of `font`; `recorded` is a picture of it that came with it, of another
    renderer: what is as recorded is the same too.
    """
    refused = ""
    notes: tuple[str, ...] = ()
    try:
        artwork = read_artwork("case", data, font)
        notes = tuple(n.what for n in artwork.left_out)
    except InputError as exc:
        refused = exc.code
        if refused != "artwork-empty":
            return Verdict("refused", (), refused)
        notes = tuple(exc.data.get("left_out", ()))
    try:
        theirs, zoom = _rendered(data if plain is None else plain, file)
    except (ValueError, RuntimeError) as exc:  # UTF-8 that is none is a ValueError too
        return Verdict("unrendered", notes, str(exc)[:80])
    if refused:
        if theirs.any():
            return Verdict("noted" if notes else "silent", notes, "we refuse it as empty")
        return Verdict("same", notes, "empty")
    try:
        region = draw(artwork, zoom, _TOLERANCE_PX, ground="")
        far, count = _mismatch(region, theirs)
        if far <= NEAR_PX:
            return Verdict("same", notes)
        if recorded and artwork.size_px is not None:
            painted = _opaque(recorded)
            zoom = painted.shape[1] / artwork.size_px[0]
            other, _ = _mismatch(draw(artwork, zoom, _TOLERANCE_PX, ground=""), painted)
            if other <= NEAR_PX:
                return Verdict("same", notes, "as recorded")
    except InputError as exc:
        return Verdict("refused", (), exc.code)
    return Verdict("noted" if notes else "silent", notes, f"{count} pixels, up to {far:.2f} px off")


def _mismatch(region: Region, painted: np.ndarray) -> tuple[float, int]:
    """Return how far the farthest pixel that differs lies from our outline, and their number."""
    rows, columns = painted.shape
    x, y = np.meshgrid(np.arange(columns) + 0.5, -(np.arange(rows) + 0.5))
    shapely.prepare(region)
    differ = shapely.contains_xy(region, x, y) != painted
    if not differ.any():
        return 0.0, 0
    points = shapely.points(x[differ], y[differ])
    far = math.inf if region.is_empty else float(shapely.distance(region.boundary, points).max())
    return far, int(differ.sum())


def _opaque(png: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGBA"))[:, :, 3] >= 128


def _rendered(data: bytes, file: str) -> tuple[np.ndarray, float]:
    """Return which pixels resvg paints, (rows, columns) bool, top row first, and pixels a px."""
    zoom = 1
    while True:
        png = resvg_py.svg_to_bytes(
            svg_string=data.decode("utf-8-sig"), zoom=zoom, dpi=96, languages=["en"],
            skip_system_fonts=True, font_files=[file] if file else None,
            shape_rendering="geometric_precision", text_rendering="geometric_precision",
        )  # fmt: skip
        alpha = np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGBA"))[:, :, 3]
        if zoom > 1 or max(alpha.shape) > _SIDE_PX / 2:
            return alpha >= 128, float(zoom)
        zoom = min(8, math.ceil(_SIDE_PX / max(alpha.shape)))


def main(arguments: list[str]) -> int:
    """Compare what is asked for; tell what differs in silence, and the counts."""
    if arguments[0] == "generated":
        made = drawings(*(int(a) for a in arguments[1:]))
        jobs = ((str(d), (d.svg.encode(), d.plain.encode())) for d in made)
    else:
        folder = Path(arguments[0])
        jobs = ((str(p.relative_to(folder)), _of(p)) for p in sorted(folder.rglob("*.svg")))
    counts: Counter[str] = Counter()
    idle: Counter[str] = Counter()
    # Some files of suites keep a renderer busy for hours: each has a time of its own.
    with ProcessPool(max_workers=1) as pool:
        for name, given in jobs:
            try:
                verdict = pool.schedule(compare, given, timeout=_SECONDS).result()
            except TimeoutError:
                verdict = Verdict("unrendered", (), f"not within {_SECONDS} s")
            reason = BY_THE_TEXT.get(Path(name).name)
            if verdict.kind == "silent" and reason:
                verdict = Verdict("by the text", verdict.notes, reason)
            counts[verdict.kind] += 1
            if verdict.kind == "same" and verdict.notes:
                counts["same and noted"] += 1
                idle.update(verdict.notes)
            if verdict.detail == "as recorded":
                counts["same as recorded"] += 1
            print(
                verdict.kind, name, ", ".join(verdict.notes), verdict.detail, sep="\t", flush=True
            )
    print("noted though the same:", *(f"{what}: {n}" for what, n in idle.most_common()))
    print(*(f"{kind}: {n}" for kind, n in sorted(counts.items())), sep=", ")
    return 1 if counts["silent"] else 0


def _of(path: Path) -> tuple[bytes, None, None, str, bytes]:
    """Return what to compare of a file: itself, and the picture that was recorded of it."""
    picture = path.with_name(f"{path.stem}-ref.png")
    return path.read_bytes(), None, None, "", picture.read_bytes() if picture.exists() else b""


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
