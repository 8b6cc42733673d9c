"""Glyph outlines out of a font, strictly, as segment tables in font units.

Our pen draws through fontTools; an open contour, a missing component or a number that is not
finite is a `FontError`: in a cut part a piece left out in silence is a lost piece. Outlines may
overlap and turn either way (fonts break the rule); `letterply.shapes.regions.nonzero_union`
settles what is filled.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from fontTools.pens.basePen import BasePen

from letterply.errors import FontError
from letterply.shapes import SegmentTable

__all__ = ["OutlinePen", "glyph_outline"]

_MAX_SEGMENTS = 50_000
"""Segments a glyph: real ones have at most a few thousand."""

_MAX_COMPONENTS = 2_000
"""Components a glyph, nested ones counted: glyphs that call each other grow without end."""


class OutlinePen(BasePen):  # type: ignore[misc]
    """Collects closed contours; components are drawn in place."""

    skipMissingComponents = False  # noqa: N815 - the name is fontTools'

    def __init__(self, glyph_set: Any) -> None:
        super().__init__(glyph_set)
        self.contours: list[list[tuple[int, tuple[tuple[float, float], ...]]]] = []
        self._start: tuple[float, float] | None = None
        self._count = 0
        self._components = 0

    def addComponent(self, glyphName: str, transformation: Any) -> None:  # noqa: N802, N803
        """Draw a component in place; raises `FontError` when there are too many."""
        self._components += 1
        if self._components > _MAX_COMPONENTS:
            raise FontError(
                f"A glyph has more than {_MAX_COMPONENTS} components.",
                code="font-too-complex",
                expected="outlines of fewer components",
            )
        super().addComponent(glyphName, transformation)

    def _moveTo(self, pt: tuple[float, float]) -> None:  # noqa: N802
        if self._start is not None:
            raise _open_contour()
        self._start = pt
        self.contours.append([])

    def _add(self, degree: int, *points: tuple[float, float]) -> None:
        self._count += 1
        if self._count > _MAX_SEGMENTS:
            raise FontError(
                f"A glyph has more than {_MAX_SEGMENTS} segments.",
                code="font-too-complex",
                expected="outlines of fewer segments",
            )
        self.contours[-1].append((degree, (self._getCurrentPoint(), *points)))

    def _lineTo(self, pt: tuple[float, float]) -> None:  # noqa: N802
        self._add(1, pt)

    def _qCurveToOne(  # noqa: N802
        self, pt1: tuple[float, float], pt2: tuple[float, float]
    ) -> None:
        self._add(2, pt1, pt2)

    def _curveToOne(  # noqa: N802
        self, pt1: tuple[float, float], pt2: tuple[float, float], pt3: tuple[float, float]
    ) -> None:
        self._add(3, pt1, pt2, pt3)

    def _closePath(self) -> None:  # noqa: N802
        if self._start is not None and self._getCurrentPoint() != self._start:
            self._add(1, self._start)
        self._start = None

    def _endPath(self) -> None:  # noqa: N802
        raise _open_contour()

    def tables(self) -> tuple[SegmentTable, ...]:
        """Return the contours drawn so far, each as a segment table in font units."""
        out: list[SegmentTable] = []
        for contour in self.contours:
            if not contour:
                continue
            points = np.zeros((len(contour), 4, 2))
            for row, (_, controls) in enumerate(contour):
                points[row, : len(controls)] = controls
            if not np.isfinite(points).all():
                raise FontError(
                    "A glyph has a coordinate that is not a finite number.", code="bad-outline"
                )
            out.append((points, np.array([d for d, _ in contour], dtype=np.int8)))
        return tuple(out)


def glyph_outline(glyph_set: Any, name: str) -> tuple[SegmentTable, ...]:
    """Return the contours of one glyph in font units; empty for a space.

    Raises:
        FontError: `bad-outline` when the glyph cannot be drawn as closed contours.

    """
    pen = OutlinePen(glyph_set)
    try:
        glyph_set[name].draw(pen)
        return pen.tables()
    except FontError:
        raise
    except Exception as exc:  # broken tables make fontTools raise errors of any kind
        raise FontError(
            f"The outline of glyph {name!r} cannot be read ({type(exc).__name__}).",
            code="bad-outline",
            expected="a font with whole outlines",
        ) from exc


def _open_contour() -> FontError:
    return FontError(
        "A glyph has an open contour, which encloses nothing to cut.",
        code="bad-outline",
        expected="closed contours",
    )
