"""Tracing: how dark each pixel is in, outlines as an SVG drawing out, and how true they are.

The outline is where the picture crosses the middle between ink and paper, found between pixels
(marching squares of `contourpy`): the grey of an edge says where in the pixel it lies. Between
corners it is a smoothing spline (`scipy.interpolate.splprep`), so that a letter cut ten times as
large as it was drawn shows no steps.
"""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import resvg_py
import scipy
import shapely
from contourpy import contour_generator
from numpy.typing import NDArray
from PIL import Image
from shapely import LinearRing, MultiLineString, Polygon

from letterply.errors import InputError
from letterply.lettering.pictures.reading import Picture
from letterply.requests import TraceWish
from letterply.units import MM_PER_INCH, about_mm, format_mm, spoken

__all__ = ["Traced", "doubts_told", "trace_picture", "traced_words"]

Floats = NDArray[np.float64]

_CLEAN_PX, _ROUGH_PX = 0.25, 0.7
"""Smoothing where none is wished: of pictures with soft edges, and of those with hard edges or
noise. Chosen by the distances that `tests/bench/tracing.py` prints."""
_LEAST_CONTRAST = 0.15
"""Between ink and paper, of white to black; common practice, no source."""
_NOISY = 0.05
"""Standard deviation of what is even, of white to black; common practice, no source."""
_LEAST_HEIGHT_PX = 200
"""Height of letters below which a picture is told to be coarse; common practice, no source."""
_SOFT_SHARE = 0.2
"""Share of the pixels along edges that are grey where a picture is called soft."""
_CORNER_DEG, _CORNER_PX = 45.0, 3.0
"""A turn of so much within so many pixels to either side is a corner."""
_STRAY_PX = 0.12
"""How far the spline may stray from what was found, root mean square, beside the smoothing."""
_KEPT_PX = 0.02
"""Points that lie nearer than this to the line of their neighbours are left out."""
_MOST_OUTLINES = 5000
_PX_AN_INCH = 96.0
"""Of a picture that does not say (CSS Values and Units, absolute lengths)."""


@dataclass(frozen=True, slots=True)
class Traced:
    """A traced picture.

    Attributes:
        svg: the outlines as a drawing, one path; pixels of the picture as user units.
        facts: what was found out and how true it is, as plain JSON values.

    """

    svg: str
    facts: dict[str, Any]


def trace_picture(picture: Picture, wish: TraceWish) -> Traced:
    """Return the outlines of the ink in a picture.

    Raises:
        InputError: `picture-empty`, no ink that stands out from the paper;
            `picture-too-noisy`, more outlines than a drawing may have.

    """
    dark, light_ink = _ink_dark(picture.dark, wish.ink)
    level, contrast = _level(dark, wish.threshold)
    noise = _noise(dark, level, contrast)
    smoothing = wish.smoothing_px
    if smoothing is None:
        soft = _softness(dark, level, contrast) >= _SOFT_SHARE
        smoothing = _CLEAN_PX if soft and noise < _NOISY else _ROUGH_PX
    blurred = scipy.ndimage.gaussian_filter(dark, smoothing) if smoothing else dark
    found = _outlines(blurred, level)
    kept = _without_specks(found, wish.speck_px)
    if not kept:
        raise _empty("nothing in it is larger than a speck")
    stray = _STRAY_PX + smoothing / 10
    smooth = [_smoothed(ring, stray) for ring in kept]
    height = float(np.ptp(np.vstack(kept)[:, 1]))
    rows, columns = dark.shape
    mm = MM_PER_INCH / (picture.dpi or _PX_AN_INCH)
    facts = {
        "width_px": columns,
        "height_px": rows,
        "ink": "light" if light_ink else "dark",
        "threshold": round(1 - level if light_ink else level, 3),
        "smoothing_px": smoothing,
        "speck_px": wish.speck_px,
        "specks_left_out": len(found) - len(kept),
        "pixels_agree": round(_agreeing(dark > level, smooth), 5),
        "largest_distance_px": round(_distance(dark, level, smooth, wish.speck_px), 2),
        "noise": round(noise, 3),
        "drawn_height_px": round(height, 1),
        "doubts": _doubts(noise, contrast, len(found) - len(kept), len(kept)),
    }
    return Traced(_svg(smooth, columns, rows, mm, "mm"), facts)


def doubts_told(facts: Mapping[str, Any]) -> list[str]:
    """Return what to doubt of a traced drawing, in the units that are spoken."""
    height = facts.get("drawn_height_px", _LEAST_HEIGHT_PX)
    told = list(facts["doubts"])
    if height < _LEAST_HEIGHT_PX:
        high = 4 * MM_PER_INCH if spoken() == "inch" else 100.0
        told.insert(
            0,
            f"The drawing is only {height:.0f} pixels high: cut {format_mm(high)} high, a pixel "
            f"is {about_mm(high / height)}. Scan it finer for larger letters.",
        )
    return told


def traced_words(facts: Mapping[str, Any]) -> str:
    """Return how true a traced drawing is, in one sentence."""
    return (
        f"Traced from {facts['width_px']} x {facts['height_px']} pixels: "
        f"{100 * facts['pixels_agree']:.1f} % of them agree, and no edge is over "
        f"{facts['largest_distance_px']:.1f} pixels off."
    )


def _ink_dark(dark: NDArray[np.float32], ink: str) -> tuple[Floats, bool]:
    """Return the picture with its ink dark, and whether it was light: paper is at the edges."""
    edge = np.concatenate([dark[0], dark[-1], dark[:, 0], dark[:, -1]])
    light = ink == "light" or (ink == "auto" and float(np.median(edge)) > 0.5)
    return (1.0 - dark if light else dark).astype(np.float64), light


def _level(dark: Floats, threshold: float | None) -> tuple[float, float]:
    """Return the middle between paper and ink, and how far apart they are.

    They are parted so that the spread within both is least (N. Otsu, A Threshold Selection Method
    from Gray-Level Histograms, IEEE Trans. SMC 9(1), 1979; from memory), then told by their
    medians.
    """
    counts, edges = np.histogram(dark, bins=256, range=(0.0, 1.0))
    middles = (edges[1:] + edges[:-1]) / 2
    weight = np.cumsum(counts)
    total = np.cumsum(counts * middles)
    rest = weight[-1] - weight
    with np.errstate(divide="ignore", invalid="ignore"):
        apart = weight * rest * (total / weight - (total[-1] - total) / rest) ** 2
    cut = float(middles[int(np.argmax(np.nan_to_num(apart)))])
    if not (dark > cut).any() or not (dark <= cut).any():
        raise _empty("it is of one tone")
    paper, ink = float(np.median(dark[dark <= cut])), float(np.median(dark[dark > cut]))
    if ink - paper < _LEAST_CONTRAST:
        raise _empty("its ink hardly stands out from the paper")
    level = (paper + ink) / 2 if threshold is None else threshold
    if not (dark > level).any():
        raise _empty("nothing in it is so dark")
    return level, ink - paper


def _softness(dark: Floats, level: float, contrast: float) -> float:
    """Return the share of the pixels along edges that are neither ink nor paper."""
    ink = dark > level
    edge = scipy.ndimage.binary_dilation(ink) & ~scipy.ndimage.binary_erosion(ink)
    between = np.abs(dark - level) < 0.45 * contrast
    return int((edge & between).sum()) / max(1, int(edge.sum()))


def _noise(dark: Floats, level: float, contrast: float) -> float:
    """Return the standard deviation of what should be even, over the contrast.

    From the difference of each pixel to the mean of four neighbours, away from edges; its median
    times 1.4826 is the standard deviation of normal noise, times the root of 1 + 1/4.
    """
    ink = dark > level
    shrunk = scipy.ndimage.binary_erosion(ink, iterations=3)
    even = shrunk | ~scipy.ndimage.binary_dilation(ink, iterations=3)
    beside = np.array([[0, 1, 0], [1, 0, 1], [0, 1, 0]]) / 4
    around = scipy.ndimage.convolve(dark, beside, mode="nearest")
    apart = np.abs(dark - around)[even]
    if not apart.size:
        return 0.0
    return float(np.median(apart)) * 1.4826 / math.sqrt(1.25) / contrast


def _outlines(dark: Floats, level: float) -> list[Floats]:
    """Return closed outlines, n x 2, in pixels from the picture's upper left corner, y down."""
    framed = np.pad(dark, 1, constant_values=min(0.0, level - 1.0))
    rows, columns = framed.shape
    lines = contour_generator(
        x=np.arange(columns) - 0.5, y=np.arange(rows) - 0.5, z=framed, line_type="Separate"
    ).lines(level)
    found = [np.asarray(line, dtype=np.float64) for line in lines if len(line) > 3]
    if len(found) > _MOST_OUTLINES:
        raise InputError(
            f"The picture has {len(found)} separate spots.",
            code="picture-too-noisy",
            field="artwork",
            expected="an even page and dark ink; or more smoothing",
        )
    return found


def _without_specks(rings: Sequence[Floats], speck_px: float) -> list[Floats]:
    return [ring for ring in rings if Polygon(ring).area > speck_px**2]


def _smoothed(ring: Floats, stray: float) -> Floats:
    """Return an outline as splines between its corners."""
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))))
    count = max(8, int(along[-1]))
    at = np.linspace(0.0, along[-1], count, endpoint=False)
    even = np.column_stack([np.interp(at, along, ring[:, axis]) for axis in (0, 1)])
    corners = _corners(even)
    if not len(corners):
        pieces = [_spline(np.vstack((even, even[:1])), stray, closed=True)]
    else:
        ends = [*corners[1:], corners[0] + count]
        pieces = [
            _spline(even[np.arange(start, end + 1) % count], stray, closed=False)
            for start, end in zip(corners, ends, strict=True)
        ]
    points = LinearRing(np.vstack(pieces)).simplify(_KEPT_PX)
    return shapely.get_coordinates(points)


def _corners(points: Floats) -> list[int]:
    """Return where a closed line of points a pixel apart turns sharply."""
    reach = min(int(_CORNER_PX), len(points) // 4)
    before, after = points - np.roll(points, reach, 0), np.roll(points, -reach, 0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.abs(np.degrees(np.arctan2(cross, (before * after).sum(axis=1))))
    most = scipy.ndimage.maximum_filter1d(turn, 2 * reach + 1, mode="wrap")
    sharp = np.flatnonzero((turn >= most) & (turn > _CORNER_DEG))
    return [int(i) for n, i in enumerate(sharp) if n == 0 or i - sharp[n - 1] > 1]


def _spline(points: Floats, stray: float, *, closed: bool) -> Floats:
    if len(points) < 5:
        return points
    fitted: Any = scipy.interpolate.splprep(points.T, s=len(points) * stray**2, per=closed, k=3)[0]
    at = np.linspace(0.0, 1.0, 2 * len(points))
    return np.column_stack(scipy.interpolate.splev(at, fitted))


def _distance(dark: Floats, level: float, smooth: Sequence[Floats], speck_px: float) -> float:
    """Return how far the edge of the pixels as they are lies from the outlines, specks aside."""
    raw = _without_specks(_outlines(dark, level), speck_px)
    if not raw:
        return 0.0
    points = shapely.points(np.vstack(raw))
    return float(shapely.distance(points, MultiLineString(list(smooth))).max())


def _agreeing(ink: NDArray[np.bool_], rings: Sequence[Floats]) -> float:
    """Return the share of pixels that a general renderer's picture of the outlines has as ink."""
    rows, columns = ink.shape
    drawn = resvg_py.svg_to_bytes(
        svg_string=_svg(rings, columns, rows, 1.0, "px"), skip_system_fonts=True
    )
    inside = np.asarray(Image.open(io.BytesIO(bytes(drawn))).convert("RGBA"))[..., 3] > 127
    return float((inside == ink).mean())


def _doubts(noise: float, contrast: float, specks: int, kept: int) -> list[str]:
    told = []
    if noise >= _NOISY or specks > 10 * kept + 20:
        told.append("The picture is noisy: look at the edges, or scan it on an even white page.")
    if contrast < 2 * _LEAST_CONTRAST:
        told.append("The ink is pale: look at thin strokes, or draw them darker.")
    return told


def _svg(rings: Sequence[Floats], columns: int, rows: int, scale: float, unit: str) -> str:
    path = "".join(f"M{' '.join(f'{x:.2f},{y:.2f}' for x, y in ring[:-1])}Z" for ring in rings)
    size = f'width="{columns * scale:.4f}{unit}" height="{rows * scale:.4f}{unit}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {columns} {rows}">'
        f'<path fill-rule="evenodd" d="{path}"/></svg>'
    )


def _empty(why: str) -> InputError:
    return InputError(
        f"There is nothing to trace in the picture: {why}.",
        code="picture-empty",
        field="artwork",
        expected="dark ink on a light page, or light on dark",
    )
