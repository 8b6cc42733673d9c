"""What a feature works into a layer is watched: how much is drawn, and what a blank does not bear.

Nothing goes through a blank, and nothing leaves its safe area.
"""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from letterply.errors import GeometryError, InputError
from letterply.requests import Feature
from letterply.said import say
from letterply.shapes import Tolerances
from letterply.stacks.draft import LayerDraft
from letterply.stacks.features.edges import Drawn
from letterply.stacks.outlines.plates import hole_region
from letterply.units import format_sides

__all__ = ["FeatureWatch"]

_SLACK_MM = 0.02
"""Rounding that is no leaving of a safe area."""


class FeatureWatch:
    """Remembers how a draft is worked before a feature, and tells what the feature adds."""

    def __init__(self, draft: LayerDraft, feature: Feature) -> None:
        self.draft = draft
        self._feature = feature
        self._through = draft.through
        self._counts = (
            len(draft.holes), len(draft.pockets), len(draft.grooves), len(draft.scribes),
            len(draft.stencils),
        )  # fmt: skip

    def drawn(self, tolerances: Tolerances) -> list[Drawn]:
        """Return what has come since, as it was drawn."""
        draft = self.draft
        holes, pockets, grooves, scribes, stencils = self._counts
        kind = self._feature.kind
        words = kind.endswith("lettering") or getattr(self._feature, "lettering", None) is not None
        found = [
            Drawn(
                say("hole"),
                hole_region(h.x_mm, h.y_mm, h.diameter_mm, tolerances.flatten_mm),
                through=h.depth_mm is None,
                words=False,
            )
            for h in draft.holes[holes:]
        ]
        found += [
            Drawn(
                say("pocket") if p.purpose == "keyhole" else say("recess"), p.region, False, words
            )
            for p in draft.pockets[pockets:]
        ]
        found += [Drawn(say("groove"), g.region, False, words) for g in draft.grooves[grooves:]]
        found += [
            Drawn(say("scribed line"), shapely.MultiLineString(list(s.lines)), False, words)
            for s in draft.scribes[scribes:]
        ]
        cuts: list[BaseGeometry] = [region for region, _ in draft.stencils[stencils:]]
        if draft.through is not self._through:
            cuts.append(shapely.difference(draft.through, self._through))
        return found + [Drawn(say("cut"), cut, True, words) for cut in cuts]

    def judge(self, field: str, tolerances: Tolerances) -> None:
        """Judge what has come since; a layer that is cut from stock is always right.

        Raises:
            InputError: `blank-not-cut`.
            GeometryError: `outside-safe-area`.

        """
        draft = self.draft
        if draft.safe is None:
            return
        drawn = self.drawn(tolerances)
        if any(d.through for d in drawn):
            raise InputError(
                "A blank is only worked, it cannot be cut through.",
                code="blank-not-cut",
                field=field,
                expected="a depth less than its thickness, or a plate in place of the blank",
            )
        safe = shapely.buffer(draft.safe, _SLACK_MM)
        shapely.prepare(safe)
        for area in (d.geometry for d in drawn):
            if safe.covers(area):
                continue
            at = shapely.difference(area, safe).representative_point()
            raise GeometryError(
                f"Work on the blank would leave its safe area, at "
                f"{format_sides(at.x, at.y, times=',')}.",
                code="outside-safe-area",
                field=field,
                expected="a smaller size, another place, size fit_blank, or a smaller safe_margin",
            )
