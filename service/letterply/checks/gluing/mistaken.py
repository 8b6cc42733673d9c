"""How a part can be glued where or as it should not, unnoticed: one part, or a pair, judged.

A *kind* is all parts of a layer with one outline and the same work, lying alike: what is true of
one is true of all, and swapping them changes nothing. A *risk* is a way in which a part of a kind
seems to fit its own place, or that of another kind, with a result that is not the wanted one.
All mm.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from letterply.checks.gluing.face_work import Lie, WorkLie, compare_work, dowel_shift
from letterply.findings import Severity
from letterply.requests import LookAlikeRules
from letterply.said import Said, say
from letterply.shapes import Fit, Likeness, as_region, find_fits, misfit_mm
from letterply.stacks import Layer, Part
from letterply.units import about_mm

__all__ = ["Base", "Kind", "Risk", "kinds_of", "own_risks", "swap_risk"]

_SAME_MM = 0.01
"""Outlines and work closer than this are the same: copies of a letter differ by rounding only."""

_UPRIGHT_DEG = 1.5
"""A turn up to this is none: a part laid askew is seen, and is no other way to lay it."""


@dataclass(frozen=True, slots=True)
class Kind:
    """Parts of one outline with the same work, lying alike.

    Attributes:
        shape: the outline of the first one.
        parts: all of them, in the order of the layer.

    """

    shape: Likeness
    parts: tuple[Part, ...]

    @property
    def first(self) -> Part:
        """The part that stands for all."""
        return self.parts[0]


@dataclass(frozen=True, slots=True)
class Base:
    """What the parts of a layer lie on.

    Attributes:
        bottom: whether that is nothing: the layer is the lowest.
        lines: the placement lines on it; None where there are none.
        edges: where it ends.

    """

    bottom: bool
    lines: shapely.STRtree | None
    edges: BaseGeometry

    @classmethod
    def of(cls, below: Layer | None) -> Base:
        """Return what a layer offers to the one that lies on it."""
        if below is None:
            return cls(bottom=True, lines=None, edges=shapely.MultiLineString())
        lines = [
            line
            for part in below.parts
            for scribe in part.scribes
            if scribe.purpose == "placement"
            for line in scribe.lines
        ]
        tree = shapely.STRtree(lines) if lines else None
        return cls(bottom=False, lines=tree, edges=below.footprint.boundary)

    def is_flush(self, part: Part, rules: LookAlikeRules) -> bool:
        """Tell whether a part ends where this ends, so that a shift of its edge is a step.

        On a board, or on a rim that is wider than two tolerances, a shift only makes the rim a
        little narrower.
        """
        return bool(shapely.dwithin(self.edges, part.outline.boundary, 2 * rules.tolerance_mm))


@dataclass(frozen=True, slots=True)
class Risk:
    """One way in which a part goes wrong.

    Attributes:
        severity: caution where it shows, or hides something that matters; otherwise note.
        way: how it lies, in words.
        effect: what would lie wrong beside the outline, in words; empty for nothing.
        misfit_mm: how far its outline is off, there.

    """

    severity: Severity
    way: Said
    effect: Said
    misfit_mm: float


def kinds_of(parts: Iterable[Part]) -> list[Kind]:
    """Return the parts sorted into kinds, in the order of their first one."""
    kinds: list[Kind] = []
    for part in parts:
        shape = Likeness(as_region(part.outline))
        for k, kind in enumerate(kinds):
            if _same_kind(part, shape, kind):
                kinds[k] = replace(kind, parts=(*kind.parts, part))
                break
        else:
            kinds.append(Kind(shape, (part,)))
    return kinds


def _same_kind(part: Part, shape: Likeness, kind: Kind) -> bool:
    corners, known = shape.index.starts, kind.shape.index.starts
    if corners.shape != known.shape or not np.allclose(corners, known, rtol=0, atol=_SAME_MM):
        return False
    stay = Fit(0.0, False, 0.0, 0.0, 0.0).matrix(shape.centroid, kind.shape.centroid)
    work = compare_work(part, kind.first, stay, _SAME_MM, _SAME_MM, flipped=False)
    return work.lie is Lie.ALIKE


def own_risks(kind: Kind, base: Base, rules: LookAlikeRules) -> tuple[Risk, ...]:
    """Return the ways, other than the right one, in which parts of a kind lie wrong in place."""
    found = (_risk(kind, kind, fit, base, rules) for fit in _own_fits(kind.shape, rules))
    return tuple(risk for risk in found if risk is not None)


def _own_fits(shape: Likeness, rules: LookAlikeRules) -> list[Fit]:
    if shape.wobble_mm <= rules.tolerance_mm:
        # Nothing tells its angle: the worst turn stands for all.
        turns = [(misfit_mm(shape, shape, t), t) for t in np.arange(15.0, 360.0, 15.0).tolist()]
        miss, turn = max(turns, key=lambda pair: (round(pair[0], 4), pair[1] == 180.0))
        return [Fit(turn, False, 0.0, 0.0, miss)]
    turned = [
        fit
        for fit in find_fits(shape, shape, rules.tolerance_mm)
        if min(fit.turn_deg, 360 - fit.turn_deg) > _UPRIGHT_DEG
    ]
    return [*turned, *find_fits(shape, shape, rules.tolerance_mm, flipped=True)]


def swap_risk(first: Kind, second: Kind, base: Base, rules: LookAlikeRules) -> Risk | None:
    """Return what goes wrong in the closest way in which parts of two kinds can be swapped."""
    fits = [
        fit
        for flipped in (False, True)
        for fit in find_fits(first.shape, second.shape, rules.tolerance_mm, flipped=flipped)
    ]
    for fit in sorted(fits, key=lambda f: (round(f.misfit_mm, 3), f.flipped, f.turn_deg)):
        seated = _seated(first, second, fit, rules)
        if _work(first, second, seated, rules).lie is not Lie.KEYED:
            return _risk(first, second, fit, base, rules)
    return None


def _risk(piece: Kind, place: Kind, fit: Fit, base: Base, rules: LookAlikeRules) -> Risk | None:
    """Return what goes wrong with a piece laid in a place, or None when it cannot or need not."""
    fit = _seated(piece, place, fit, rules)
    if fit.misfit_mm > rules.tolerance_mm:
        return None
    work = _work(piece, place, fit, rules)
    right = work.lie is Lie.ALIKE and fit.misfit_mm <= rules.harmless_mm
    if right or work.lie is Lie.KEYED or _lines_show(piece, place, fit, base):
        return None
    misfit = round(fit.misfit_mm, 4)
    if work.lie is Lie.ASTRAY:
        off = (
            say("{off} off", off=about_mm(work.off_mm))
            if work.off_mm is not None
            else say("in the wrong place")
        )
        where = say("underneath") if fit.flipped else off
        effect = say("{what} would lie {where}", what=work.what, where=where)
        return Risk(Severity.CAUTION, _way(fit), effect, misfit)
    if base.bottom:
        return None
    shows = fit.misfit_mm > rules.visible_mm and base.is_flush(place.first, rules)
    severity = Severity.CAUTION if shows else Severity.NOTE
    return Risk(severity, _way(fit), Said(""), misfit)


def _work(piece: Kind, place: Kind, fit: Fit, rules: LookAlikeRules) -> WorkLie:
    return compare_work(
        piece.first,
        place.first,
        fit.matrix(piece.shape.centroid, place.shape.centroid),
        rules.tolerance_mm,
        rules.dowel_slack_mm,
        flipped=fit.flipped,
    )


def _seated(piece: Kind, place: Kind, fit: Fit, rules: LookAlikeRules) -> Fit:
    """Return the fit as the dowels hold it."""
    matrix = fit.matrix(piece.shape.centroid, place.shape.centroid)
    reach = rules.tolerance_mm + rules.dowel_slack_mm
    x, y = dowel_shift(piece.first, place.first, matrix, reach)
    if x == 0 and y == 0:
        return fit
    at = fit.dx_mm + x, fit.dy_mm + y
    miss = misfit_mm(piece.shape, place.shape, fit.turn_deg, flipped=fit.flipped, shift_mm=at)
    return Fit(fit.turn_deg, fit.flipped, *at, miss)


def _lines_show(piece: Kind, place: Kind, fit: Fit, base: Base) -> bool:
    """Whether placement lines that the right part covers come out from under this one."""
    if base.lines is None:
        return False
    under = base.lines.geometries[base.lines.query(place.first.outline, predicate="covers")]
    if not len(under):
        return False
    matrix = fit.matrix(piece.shape.centroid, place.shape.centroid)
    moved = shapely.buffer(affine_transform(piece.first.outline, matrix), 1e-3)
    return not bool(np.all(shapely.covers(moved, under)))


def _way(fit: Fit) -> Said:
    """Say how a part lies, as a maker would: within two degrees of a quarter turn is one."""
    quarter = 90 * round(fit.turn_deg / 90)
    turn = (quarter if abs(fit.turn_deg - quarter) < 2 else round(fit.turn_deg)) % 360
    if not fit.flipped:
        return say("turned by {turn}°", turn=turn) if turn else say("upright")
    if turn == 0:
        return say("face down, left for right")
    return (
        say("face down, top for bottom")
        if turn == 180
        else say("face down and turned by {turn}°", turn=turn)
    )
