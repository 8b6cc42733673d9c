"""The smallest size at which lettering can be cut: solved from its measures, then confirmed.

The answer is the smallest cap height from which on there is no blocker: every size above it is
free of them too, as far as the measures tell. It is rounded up to `_STEP_MM` with `_ALLOWANCE` on
top for the flattening of curves. Confirmed means that the checks of real outlines (those of
`letterply.checks.run` that depend on size: necks, strokes, closed counters) found no blocker at
the answer, and one a little below what was solved; where they find one at the answer, it is raised
a little first.

A blocker that no size takes away is told apart: a sheet that no cutter goes through. What is left
out: room on stock and machine, which bounds the size from above. Lengths are mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.affinity import scale as scaled

from letterply.checks.gaps.gaps import find_slots, part_axes
from letterply.checks.places import name_glyph_place, name_letter_place
from letterply.checks.survey.measures import (
    REFERENCE_EM_MM,
    REFERENCE_TOLERANCES,
    GlyphMeasures,
    PieceMeasures,
    TextMeasures,
    measure_glyph,
    measure_text,
)
from letterply.checks.survey.weakness import Judge, Terms, WeakSpot
from letterply.checks.thin.necks import find_thin_material
from letterply.findings import Finding, Severity, by_severity
from letterply.lettering import Font, Lettering, LetteringSpec, Size, set_lettering
from letterply.names import sentence
from letterply.requests import HoldDown
from letterply.shapes import (
    DEFAULT_TOLERANCES,
    ROUNDING,
    Region,
    Tolerances,
    flatten_segments,
    nonzero_union,
    normalise,
    polygons,
)
from letterply.stacks import Layer, Part
from letterply.units import about_mm, format_mm

__all__ = [
    "LARGEST_CAP_HEIGHT_MM",
    "Sizing",
    "blockers_of",
    "findings_of",
    "name_spot",
    "size_glyph",
    "size_text",
    "smallest_size",
]

LARGEST_CAP_HEIGHT_MM = 500.0
"""Sizes above are not looked at unless asked for."""

_STEP_MM = 0.1
_ALLOWANCE = 0.005
_BELOW = 0.98
"""Where a blocker must be found for an answer to be the smallest, as a share of it."""

_ATTEMPTS = 4
_RAISE = 0.01
"""Where real outlines still show a blocker, the answer is raised by so much, so many times less
one: a load that grows with the square of a width doubles what flattening does to it."""

_ROUNDS = 5
"""Texts whose shape depends on the size (tracking in mm, curves) are set again so many times."""


@dataclass(frozen=True, slots=True)
class Sizing:
    """The smallest size of a text or glyph.

    Attributes:
        cap_height_mm: the smallest cap height with no blocker that depends on size; None when
            there is none up to the largest.
        governing: what asks for it, in words: `the tail of y, a stroke only 2.1 mm wide`; empty
            when there is no ink.
        spot: the same as a place of the measures, or None.
        width_mm: how wide it is at that size (at the largest where none is small enough), or None.
        load_n: what snaps it at that size, or None where nothing breaks off.
        at_any_size: blockers that no size takes away, in words.
        largest_mm: the largest cap height that was looked at.
        confirmed: whether real outlines bear it out; None when that was not asked for.
        note: what is to be known of it, in words; empty for nothing.

    """

    cap_height_mm: float | None
    governing: str
    spot: WeakSpot | None
    width_mm: float | None
    load_n: float | None
    at_any_size: tuple[str, ...]
    largest_mm: float
    confirmed: bool | None = None
    note: str = ""

    @property
    def summary(self) -> str:
        """The answer in one sentence."""
        if self.cap_height_mm is None:
            said = f"It cannot be cut with capitals of up to {format_mm(self.largest_mm)}"
        elif self.cap_height_mm:
            said = f"It can be cut with capitals of {format_mm(self.cap_height_mm)} or more"
        else:
            said = "It can be cut at any size"
        if self.governing:
            at = "" if self.cap_height_mm is not None else ", even at that size,"
            said += f": what decides{at} is {self.governing}"
        if self.at_any_size:
            why = "; ".join(self.at_any_size)
            said = f"As it is, no size can be cut: {why}. But for that, i{said[1:]}"
        return sentence(said)


def smallest_size(
    measures: GlyphMeasures | TextMeasures,
    judge: Judge,
    *,
    name: str = "",
    largest_mm: float = LARGEST_CAP_HEIGHT_MM,
) -> Sizing:
    """Return the smallest size of a glyph or text from its measures, not confirmed.

    Args:
        measures: of a glyph, or of a text set at the reference em.
        judge: of what it is cut from and with.
        name: what a glyph is called in words; its name in the font when left out.
        largest_mm: cap heights above are not looked at.

    """
    terms = judge.terms
    always = _at_any_size(terms)
    spots = judge.weak_spots(measures.pieces)
    if not spots:
        return Sizing(0.0, "", None, None, None, always, largest_mm)
    worst = spots[0]
    cap_height = _rounded_up(worst.scale * measures.cap_height_mm)
    scale = min(cap_height, largest_mm) / measures.cap_height_mm
    width = worst.width_mm * scale
    return Sizing(
        cap_height_mm=cap_height if cap_height <= largest_mm else None,
        governing=f"{name_spot(measures, worst, name)}, {_what(worst, width)}",
        spot=worst,
        width_mm=width,
        load_n=worst.load_n(terms, scale),
        at_any_size=always,
        largest_mm=largest_mm,
    )


def size_glyph(
    font: Font, glyph: int, terms: Terms, *, name: str = "", largest_mm: float = 500.0
) -> Sizing:
    """Return the smallest size of one glyph, confirmed on its outline at that size.

    Raises:
        FontError: `bad-outline`.

    """
    measures = measure_glyph(font, glyph)

    def outline_at(cap_height_mm: float) -> Region:
        scale = cap_height_mm / font.cap_height
        tolerance = DEFAULT_TOLERANCES.flatten_mm
        contours = [flatten_segments((p * scale, d), tolerance) for p, d in font.outline(glyph)]
        return nonzero_union(contours)

    sizing = smallest_size(measures, Judge(terms), name=name, largest_mm=largest_mm)
    return _confirmed(sizing, outline_at, terms)


def size_text(
    spec: LetteringSpec,
    font: Font,
    terms: Terms,
    *,
    fallback: Sequence[Font] = (),
    largest_mm: float = LARGEST_CAP_HEIGHT_MM,
) -> Sizing:
    """Return the smallest size of a text, confirmed on its outlines at that size.

    The size in `spec` is left out of account. Where tracking, a curve or a join is given in mm,
    the shape depends on the size: the text is then set at the answer, measured and solved again
    until it stays.

    Raises:
        InputError, GeometryError: as `set_lettering`.

    """

    def set_at(kind: Size, tolerances: Tolerances) -> Lettering:
        return set_lettering(replace(spec, size=kind), font, tolerances, fallback=fallback)

    def outline_at(cap_height_mm: float) -> Region:
        return set_at(Size("cap_height", cap_height_mm), DEFAULT_TOLERANCES).region

    judge = Judge(terms)
    lettering = set_at(Size("em", REFERENCE_EM_MM), REFERENCE_TOLERANCES)
    sizing = smallest_size(measure_text(lettering), judge, largest_mm=largest_mm)
    for _ in range(_ROUNDS):
        tried = sizing.cap_height_mm
        if not tried:
            break
        as_set = set_at(Size("cap_height", tried), DEFAULT_TOLERANCES)
        if not blockers_of(as_set.region, terms):
            break
        again = _enlarged(as_set, REFERENCE_EM_MM / as_set.em_mm)
        sizing = smallest_size(measure_text(again), judge, largest_mm=largest_mm)
        if sizing.cap_height_mm == tried:
            break
    return _confirmed(sizing, outline_at, terms)


def _enlarged(lettering: Lettering, factor: float) -> Lettering:
    """Return lettering scaled about the origin: the shape that it has at its size, larger."""

    def grow(region: Region) -> Region:
        return normalise(scaled(region, factor, factor, origin=(0, 0)))

    letters = tuple(
        replace(x, region=grow(x.region), x_mm=x.x_mm * factor, y_mm=x.y_mm * factor)
        for x in lettering.letters
    )
    return replace(
        lettering,
        region=grow(lettering.region),
        letters=letters,
        em_mm=lettering.em_mm * factor,
        cap_height_mm=lettering.cap_height_mm * factor,
        x_height_mm=lettering.x_height_mm * factor,
    )


def _rounded_up(cap_height_mm: float) -> float:
    return _stepped_up(cap_height_mm * (1 + _ALLOWANCE))


def _stepped_up(cap_height_mm: float) -> float:
    return round(math.ceil(cap_height_mm / _STEP_MM - ROUNDING) * _STEP_MM, 6)


def _confirmed(sizing: Sizing, outline_at: Callable[[float], Region], terms: Terms) -> Sizing:
    """Return a sizing with what the checks of real outlines say to it."""
    solved = sizing.cap_height_mm
    if not solved:
        return sizing
    for attempt in range(_ATTEMPTS):
        answer = _stepped_up(solved * (1 + attempt * _RAISE))
        above = blockers_of(outline_at(answer), terms)
        if not above:
            break
    else:
        why = f"at capitals of {format_mm(answer)} the checks still find: {above[0].why}"
        return replace(sizing, confirmed=False, note=why)
    sizing = _at_size(sizing, answer, terms)
    # The step of rounding must not hide the place where the blocker goes.
    below = min(solved * _BELOW, solved - _STEP_MM)
    if below <= 0 or blockers_of(outline_at(below), terms):
        return replace(sizing, confirmed=True)
    return replace(
        sizing,
        confirmed=False,
        note=f"it may be smaller: nothing stands in the way at {format_mm(below)} either",
    )


def _at_size(sizing: Sizing, answer: float, terms: Terms) -> Sizing:
    """Return a sizing at another size, a little above the one that was solved."""
    solved, spot = sizing.cap_height_mm, sizing.spot
    if solved is None or spot is None or answer == solved:
        return sizing
    if answer > sizing.largest_mm:
        return replace(sizing, cap_height_mm=None)
    scale = answer / solved * (sizing.width_mm or 0.0) / spot.width_mm if spot.width_mm else 0.0
    return replace(
        sizing,
        cap_height_mm=answer,
        width_mm=spot.width_mm * scale,
        load_n=spot.load_n(terms, scale) if scale else None,
    )


def blockers_of(region: Region, terms: Terms) -> tuple[Finding, ...]:
    """Return the blockers that depend on size in one layer of an outline, worst first."""
    return tuple(f for f in findings_of(region, terms) if f.severity is Severity.BLOCKER)


def findings_of(region: Region, terms: Terms) -> tuple[Finding, ...]:
    """Return the necks, strokes and slots in one layer of an outline, worst first."""
    cutter = terms.cutter
    rack = () if cutter is None else (cutter,)
    tolerance = DEFAULT_TOLERANCES.flatten_mm
    found: list[Finding] = []
    for number, outline in enumerate(polygons(region), start=1):
        part = Part(f"piece {number}", "face", shapely.orient_polygons(outline))
        layer = Layer("face", terms.material.key, terms.thickness_mm, 0.0, (part,))
        inner, outer = part_axes(part, rack, terms.rules)
        found += find_thin_material(
            part, inner, layer, terms.material, terms.rules, tolerance, supported=terms.supported
        )
        found += find_slots(part, outer, rack, terms.rules, tolerance)
    return by_severity(found)


def _at_any_size(terms: Terms) -> tuple[str, ...]:
    found: list[str] = []
    if terms.cutter is None:
        refusal = terms.rack.through_refusal(terms.thickness_mm, HoldDown.TABS)
        if refusal is not None:
            found.append(refusal.why)
    return tuple(found)


def name_spot(measures: GlyphMeasures | TextMeasures, spot: WeakSpot, name: str = "") -> str:
    """Return a place of the measures in words, with its letter."""
    if isinstance(measures, TextMeasures):
        letters = measures.lettering.letters
        if spot.kind == "whole":
            on = "".join(letters[i].text for i in measures.letters_on[spot.piece])
            return f"all of {on}"
        return name_letter_place(letters, spot.at, spot.width_mm, measures.cap_height_mm, spot.kind)
    pieces: Sequence[PieceMeasures] = measures.pieces
    counters = sum(len(p.counters) for p in pieces)
    return name_glyph_place(
        name or measures.name,
        spot.at,
        measures.region.bounds,
        measures.cap_height_mm,
        spot.kind,
        counters,
    )


def _what(spot: WeakSpot, width_mm: float) -> str:
    wide = f"{about_mm(width_mm)} wide"
    return {
        "neck": f"a stroke only {wide}",
        "stroke": f"a free end only {wide}",
        "whole": f"thin throughout, {wide} at its weakest",
        "counter": f"{wide}, which a smaller size would close",
    }[spot.kind]
