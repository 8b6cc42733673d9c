"""Look-alikes: parts that can be glued turned, face down or in each other's place.

A part is at risk when it seems to fit, its outline within a tolerance of its place, and the
result is not the wanted one. A part that maps onto itself so closely that nobody sees it is
harmless, and so is one that its dowels or the lines on it let lie in one way only. Limits are
common practice, no source. All mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from shapely.affinity import affine_transform

from letterply.checks.worked import Lie, compare_work, dowel_shift, hides_work
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.shapes.likeness import Fit, Likeness, find_fits, misfit_mm
from letterply.shapes.regions import as_region
from letterply.stacks.model import Layer, Part, Stack
from letterply.units import format_mm

__all__ = ["DEFAULT_LOOK_ALIKE_RULES", "LookAlikeRules", "find_look_alikes"]

_MOST_TOLD = 2
"""Ways that a sentence tells; the data hold them all."""


@dataclass(frozen=True, slots=True)
class LookAlikeRules:
    """Limits of the check, common practice, no source.

    Attributes:
        tolerance_mm: an outline that misses its place by no more than this seems to fit.
        harmless_mm: a part that lies this close to where it belongs is right.
        visible_mm: a step at an edge from which on it is seen, and felt.
        dowel_slack_mm: how far a dowel hole may be off and the dowel still goes in.

    """

    tolerance_mm: float = 0.5
    harmless_mm: float = 0.1
    visible_mm: float = 0.25
    dowel_slack_mm: float = 0.2

    def __post_init__(self) -> None:
        if not 0 < self.harmless_mm <= self.tolerance_mm:
            raise ValueError("harmless_mm lies above 0 and not above tolerance_mm")
        if self.visible_mm < 0 or self.dowel_slack_mm < 0:
            raise ValueError("visible_mm and dowel_slack_mm are not negative")


DEFAULT_LOOK_ALIKE_RULES = LookAlikeRules()


@dataclass(frozen=True, slots=True)
class _Kind:
    """Parts of one outline, lying the same way up."""

    shape: Likeness
    members: tuple[tuple[Part, Likeness], ...]


@dataclass(frozen=True, slots=True)
class _Risk:
    """One way in which a part goes wrong."""

    severity: Severity
    way: str
    effect: str
    misfit_mm: float


def find_look_alikes(
    stack: Stack, rules: LookAlikeRules = DEFAULT_LOOK_ALIKE_RULES
) -> tuple[Finding, ...]:
    """Return the parts of a stack that can be glued turned, face down or swapped, unnoticed.

    A stack of one layer is not glued and has none. Parts of the bottom layer lie under the
    others and are only told where hidden work would come to lie astray.
    """
    if len(stack.layers) < 2:
        return ()
    found: list[Finding] = []
    for number, layer in enumerate(stack.layers):
        below = stack.layers[number - 1] if number else None
        # Under the others only work that is not seen matters: turning plain parts of the bottom
        # layer is turning what lies on them, which is told there.
        told = [p for p in layer.parts if below is not None or hides_work(p)]
        kinds = _kinds(told)
        for kind in kinds:
            found.extend(_own_ways(kind, layer, below, rules))
        for first, second in combinations(range(len(kinds)), 2):
            found.extend(_swaps(kinds[first], kinds[second], layer, below, rules))
        for kind in kinds:
            found.extend(_swaps(kind, kind, layer, below, rules))
    return tuple(found)


def _kinds(parts: Sequence[Part]) -> list[_Kind]:
    """Return the parts, those of one outline together, in the order given."""
    kinds: list[_Kind] = []
    for part in parts:
        shape = Likeness(as_region(part.outline))
        corners = shape.index.starts
        for k, kind in enumerate(kinds):
            known = kind.shape.index.starts
            if known.shape == corners.shape and np.allclose(known, corners, rtol=0, atol=1e-3):
                kinds[k] = _Kind(kind.shape, (*kind.members, (part, shape)))
                break
        else:
            kinds.append(_Kind(shape, ((part, shape),)))
    return kinds


def _own_ways(
    kind: _Kind, layer: Layer, below: Layer | None, rules: LookAlikeRules
) -> list[Finding]:
    """Return a finding for the parts of one outline that go wrong in the same ways."""
    ways = _ways(kind.shape, rules)
    groups: dict[tuple[_Risk, ...], list[Part]] = {}
    for part, shape in kind.members:
        risks = tuple(
            risk
            for fit in ways
            if (risk := _risk(part, part, shape, shape, fit, below, rules)) is not None
            and (below is not None or risk.effect)
        )
        if risks:
            groups.setdefault(risks, []).append(part)
    return [_own_finding(parts, risks, layer, rules) for risks, parts in groups.items()]


def _ways(shape: Likeness, rules: LookAlikeRules) -> list[Fit]:
    """Return the ways, other than the right one, in which a part seems to fit its own place."""
    if shape.wobble_mm <= rules.tolerance_mm:
        # Nothing tells its angle: the worst turn stands for all.
        turns = [(misfit_mm(shape, shape, t), t) for t in np.arange(15.0, 360.0, 15.0).tolist()]
        miss, turn = max(turns, key=lambda pair: (round(pair[0], 4), pair[1] == 180.0))
        return [Fit(turn, False, 0.0, 0.0, miss)]
    turned = [f for f in find_fits(shape, shape, rules.tolerance_mm) if not _upright(f)]
    return [*turned, *find_fits(shape, shape, rules.tolerance_mm, flipped=True)]


def _upright(fit: Fit) -> bool:
    return not fit.flipped and abs((fit.turn_deg + 180) % 360 - 180) < 1.5


def _risk(
    piece: Part,
    place: Part,
    shape: Likeness,
    where: Likeness,
    fit: Fit,
    below: Layer | None,
    rules: LookAlikeRules,
) -> _Risk | None:
    """Return what goes wrong with a piece laid in a place, or None when it cannot or need not."""
    fit = _seated(piece, place, shape, where, fit, rules)
    if fit.misfit_mm > rules.tolerance_mm:
        return None
    matrix = fit.matrix(shape.centroid, where.centroid)
    work = compare_work(
        piece, place, matrix, rules.tolerance_mm, rules.dowel_slack_mm, flipped=fit.flipped
    )
    if work.lie is Lie.KEYED or _lines_show(piece, place, matrix, below):
        return None
    if work.lie is Lie.ASTRAY:
        off = f" {format_mm(work.off_mm)} off" if work.off_mm is not None else ""
        effect = f"{work.what} would lie {'underneath' if fit.flipped else f'astray{off}'}"
        return _Risk(Severity.CAUTION, _way(fit), effect, round(fit.misfit_mm, 4))
    if fit.misfit_mm <= rules.harmless_mm:
        return None
    severity = Severity.CAUTION if fit.misfit_mm > rules.visible_mm else Severity.NOTE
    return _Risk(severity, _way(fit), "", round(fit.misfit_mm, 4))


def _seated(
    piece: Part, place: Part, shape: Likeness, where: Likeness, fit: Fit, rules: LookAlikeRules
) -> Fit:
    """Return the fit as the dowels hold it."""
    matrix = fit.matrix(shape.centroid, where.centroid)
    reach = rules.tolerance_mm + rules.dowel_slack_mm
    x, y = dowel_shift(piece, place, matrix, reach)
    if x == 0 and y == 0:
        return fit
    at = fit.dx_mm + x, fit.dy_mm + y
    miss = misfit_mm(shape, where, fit.turn_deg, flipped=fit.flipped, shift_mm=at)
    return Fit(fit.turn_deg, fit.flipped, *at, miss)


def _lines_show(
    piece: Part,
    place: Part,
    matrix: tuple[float, float, float, float, float, float],
    below: Layer | None,
) -> bool:
    """Whether placement lines that the right part covers come out from under this one."""
    if below is None:
        return False
    lines = [
        line
        for part in below.parts
        for scribe in part.scribes
        if scribe.purpose == "placement"
        for line in scribe.lines
        if place.outline.covers(line)
    ]
    if not lines:
        return False
    moved = shapely.buffer(affine_transform(piece.outline, matrix), 1e-3)
    return not bool(shapely.covers(moved, shapely.MultiLineString(lines)))


def _way(fit: Fit) -> str:
    quarter = 90 * round(fit.turn_deg / 90)
    near = abs(fit.turn_deg - quarter) < 2  # as a maker would say it
    turn = (quarter if near else round(fit.turn_deg)) % 360
    if not fit.flipped:
        return f"turned by {turn}°" if turn else "upright"
    if turn == 0:
        return "face down, left for right"
    return "face down, top for bottom" if turn == 180 else f"face down and turned by {turn}°"


def _swaps(
    first: _Kind, second: _Kind, layer: Layer, below: Layer | None, rules: LookAlikeRules
) -> list[Finding]:
    """Return findings for parts that seem to fit in each other's place."""
    same = first is second
    if same and len(first.members) < 2:
        return []
    ways = [
        fit
        for flipped in (False, True)
        for fit in find_fits(first.shape, second.shape, rules.tolerance_mm, flipped=flipped)
    ]
    if not ways:
        return []
    ways.sort(key=lambda f: (round(f.misfit_mm, 3), f.flipped, f.turn_deg))
    pairs = (
        list(combinations(first.members, 2))
        if same
        else [(a, b) for a in first.members for b in second.members]
    )
    groups: dict[_Risk, list[tuple[Part, Part]]] = {}
    for (a, shape), (b, where) in pairs:
        risk = _swap_risk(a, b, shape, where, ways, below, rules)
        if risk is not None and (below is not None or risk.effect):
            groups.setdefault(risk, []).append((a, b))
    return [_swap_finding(found, risk, layer, rules) for risk, found in groups.items()]


def _swap_risk(
    a: Part,
    b: Part,
    shape: Likeness,
    where: Likeness,
    ways: Sequence[Fit],
    below: Layer | None,
    rules: LookAlikeRules,
) -> _Risk | None:
    """Return what goes wrong in the closest way in which two parts can be swapped."""
    for fit in ways:
        seated = _seated(a, b, shape, where, fit, rules)
        matrix = seated.matrix(shape.centroid, where.centroid)
        work = compare_work(
            a, b, matrix, rules.tolerance_mm, rules.dowel_slack_mm, flipped=fit.flipped
        )
        if work.lie is not Lie.KEYED:
            return _risk(a, b, shape, where, fit, below, rules)
    return None


def _own_finding(
    parts: Sequence[Part], risks: Sequence[_Risk], layer: Layer, rules: LookAlikeRules
) -> Finding:
    worst = min(risks, key=lambda r: (r.severity is not Severity.CAUTION, r.misfit_mm))
    first = sorted(risks, key=lambda r: r is not worst)[:_MOST_TOLD]
    told = "; ".join(
        f"{r.way} it seems to fit, {format_mm(r.misfit_mm)} off"
        + (f", but {r.effect}" if r.effect else "")
        for r in first
    )
    if len(risks) > len(first):
        told += f"; and so in {len(risks) - len(first)} more"
    at = parts[0].outline.representative_point()
    return _finding(
        worst,
        f"{_named(parts)}: {told}",
        layer,
        parts,
        Place("point", ((float(at.x), float(at.y)),)),
        rules,
        tuple((r.way, r.misfit_mm) for r in risks),
    )


def _swap_finding(
    pairs: Sequence[tuple[Part, Part]], risk: _Risk, layer: Layer, rules: LookAlikeRules
) -> Finding:
    a, b = pairs[0]
    parts = tuple(dict.fromkeys(part for pair in pairs for part in pair))
    start, end = (p.outline.representative_point() for p in (a, b))
    why = (
        f"{a.name} and {b.name} can be swapped: {risk.way} each seems to fit the other's place, "
        f"{format_mm(risk.misfit_mm)} off" + (f", but {risk.effect}" if risk.effect else "")
    )
    if len(pairs) > 1:
        why += f"; so can {len(pairs) - 1} more pair{'s' * (len(pairs) > 2)}"
    where = Place("segment", ((float(start.x), float(start.y)), (float(end.x), float(end.y))))
    return _finding(risk, why, layer, parts, where, rules, ((risk.way, risk.misfit_mm),))


def _finding(
    worst: _Risk,
    why: str,
    layer: Layer,
    parts: Sequence[Part],
    where: Place,
    rules: LookAlikeRules,
    ways: tuple[tuple[str, float], ...],
) -> Finding:
    pinned = any(h.purpose == "dowel" for part in parts for h in part.holes)
    key = (
        Remedy(RemedyAction.ADD_KEY, "move one dowel off the middle: it then fits one way", "dowel")
        if pinned
        else Remedy(RemedyAction.ADD_KEY, "align with dowels, which fit one way only", "dowels")
    )
    return Finding(
        code="look-alike",
        severity=worst.severity,
        layer=layer.name,
        part=parts[0].name,
        where=where,
        measured=worst.misfit_mm,
        limit=rules.tolerance_mm,
        why=why,
        remedies=(
            Remedy(RemedyAction.ADD_MARK, "mark its back: its name, and which way is up", "mark"),
            key,
        ),
        data=(
            ("parts", [p.name for p in parts]),
            ("ways", [{"way": way, "misfit_mm": miss} for way, miss in ways]),
        ),
    )


def _named(parts: Sequence[Part]) -> str:
    names = [p.name for p in parts]
    if len(names) > 3:
        return f"{', '.join(names[:3])} and {len(names) - 3} more"
    return " and ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else names[0]
