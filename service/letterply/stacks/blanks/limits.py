"""What is worked into a blank is watched: nothing goes through, nothing leaves its safe area."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from letterply.errors import GeometryError, InputError
from letterply.shapes import Tolerances
from letterply.stacks.draft import LayerDraft
from letterply.stacks.outlines.plates import hole_region

__all__ = ["BlankWatch"]

_SLACK_MM = 0.02
"""Rounding that is no leaving of a safe area."""


class BlankWatch:
    """Remembers how a draft is worked before a feature, and judges what the feature adds."""

    def __init__(self, draft: LayerDraft) -> None:
        self.draft = draft
        self._through = draft.through, len(draft.stencils)
        self._worked = self._counts()

    def _counts(self) -> tuple[int, int, int, int]:
        d = self.draft
        return len(d.holes), len(d.pockets), len(d.grooves), len(d.scribes)

    def judge(self, field: str, tolerances: Tolerances) -> None:
        """Judge what has come since; a layer that is cut from stock is always right.

        Raises:
            InputError: `blank-not-cut`.
            GeometryError: `outside-safe-area`.

        """
        draft = self.draft
        if draft.safe is None:
            return
        holes, pockets, grooves, scribes = self._worked
        through, stencils = self._through
        cut = draft.through is not through or len(draft.stencils) > stencils
        if cut or any(h.depth_mm is None for h in draft.holes[holes:]):
            raise InputError(
                "A blank is worked and not cut through.",
                code="blank-not-cut",
                field=field,
                expected="a depth less than its thickness, or a plate in place of the blank",
            )
        worked: list[BaseGeometry] = [
            hole_region(h.x_mm, h.y_mm, h.diameter_mm, tolerances.flatten_mm)
            for h in draft.holes[holes:]
        ]
        worked += [p.region for p in draft.pockets[pockets:]]
        worked += [g.region for g in draft.grooves[grooves:]]
        worked += [line for s in draft.scribes[scribes:] for line in s.lines]
        safe = shapely.buffer(draft.safe, _SLACK_MM)
        shapely.prepare(safe)
        for area in worked:
            if safe.covers(area):
                continue
            at = shapely.difference(area, safe).representative_point()
            raise GeometryError(
                f"Work on the blank would leave its safe area, at {at.x:.1f}, {at.y:.1f} mm.",
                code="outside-safe-area",
                field=field,
                expected="a smaller size, another place, size fit_blank, or a smaller safe_margin",
            )
