"""Necks and strokes: material thinner than the rule of its material and thickness.

What a thin place means follows from what breaks it: the load that snaps off what hangs on it,
against the load that comes, with a factor of safety. What bears many times that is thin and holds.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from letterply.catalogue import Material
from letterply.checks.places import name_part_place
from letterply.checks.thin.pinches import find_pinches
from letterply.checks.thin.strength import Snap, levers, snap_load, spanned_load
from letterply.checks.thin.zones import Cut, Zone, thin_zones
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity, by_severity
from letterply.names import in_sentence
from letterply.requests import CheckRules
from letterply.said import Said, say
from letterply.shapes import LEAST_DIVISOR, SAME_MM, MedialAxis
from letterply.stacks import Layer, Part
from letterply.units import about_mm, about_newtons, format_mm, times_as_large

__all__ = ["find_thin_material"]

_TIP_SHARE = 0.2
"""A zone with one way out that ends narrower than this share of the limit is a tip."""

_FRAIL_SHARE = 0.25
"""Where nothing is snapped off, less than this share of the limit is too thin all the same."""

_HAIRLINE_SHARE = 1 / 3
"""Less than this share of the limit is to be handled with care, whatever holds it."""

_HAND_MM = 100.0
"""What breaks first does so in a hand: no lever counts for more than one is broad, thumb included;
common practice, no source."""

_NO_LOAD = 1e3
"""Gravity of a place where nothing comes off: after all that breaks."""


@dataclass(frozen=True, slots=True)
class _Terms:
    """What thin places of a part are held against."""

    part: Part
    layer: Layer
    material: Material
    limit_mm: float
    rules: CheckRules
    needed_n: float

    def snap(self, cut: Cut, reach_mm: float) -> Snap:
        # Short grain breaks first, and a letter has some in every direction.
        thickness = self.layer.thickness_mm
        return snap_load(cut.width_mm, thickness, reach_mm, self.material.weakest_mpa(thickness))

    def trusted(self, load_n: float | None) -> float:
        """Return what a place is trusted with over the load that comes; endless if unknown."""
        if load_n is None:
            return math.inf
        return load_n / self.rules.safety_factor / max(self.needed_n, LEAST_DIVISOR)


def find_thin_material(
    part: Part,
    axis: MedialAxis,
    layer: Layer,
    material: Material,
    rules: CheckRules,
    tolerance_mm: float,
    *,
    supported: bool,
) -> tuple[Finding, ...]:
    """Return the thin places of one part, each with the load that snaps it.

    A thin zone is told at its narrowest place, and once more where it breaks first if that is
    elsewhere; so is every pinch in it. `axis` is the part's interior axis, peeled. `supported`
    parts are glued flat onto a layer below and must only stand the handling until then.
    """
    limit = material.min_web(layer.thickness_mm)
    needed = rules.supported_load_n if supported else rules.handling_load_n
    terms = _Terms(part, layer, material, limit, rules, needed)
    found: list[Finding] = []
    told: list[tuple[float, float]] = []
    for zone in thin_zones(axis, limit, tolerance_mm):
        if zone.is_corner(limit, rules.tip_angle_deg):
            continue
        found += _of_zone(zone, terms)
        told.append(zone.at)
    pinches = [p for p in find_pinches(axis, limit) if not p.is_told(told)]
    reaches = dict(levers(part.outline, [p.cut for p in pinches]))
    for pinch in pinches:
        reach = reaches.get(pinch.cut)
        snap = terms.snap(pinch.cut, reach) if reach is not None else None
        frail = snap is None and pinch.cut.width_mm < _FRAIL_SHARE * limit
        found.append(_finding(_ThinPlace(pinch.cut, pinch.at, 0.0, 2, snap, frail=frail), terms))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _ThinPlace:
    """A thin place.

    Attributes:
        cut: the line across it.
        at: its middle.
        length_mm: of the thin zone; 0 for a pinch.
        exits: of the zone.
        snap: what snaps it; None where nothing comes off.
        end: what snaps a free end somewhere along it; None where it is none.
        frail: whether it is too thin whatever it bears.
        weaker: whether the zone breaks before that at another place, which is told by itself.
        tip_mm: of a tip, its mean width; else None.

    """

    cut: Cut
    at: tuple[float, float]
    length_mm: float
    exits: int
    snap: Snap | None
    end: Snap | None = None
    frail: bool = False
    tip_mm: float | None = None
    weaker: bool = False

    @property
    def first(self) -> Snap | None:
        """What snaps it before all else."""
        snaps = [snap for snap in (self.snap, self.end) if snap is not None]
        return min(snaps, key=lambda snap: snap.load_n, default=None)


def _of_zone(zone: Zone, terms: _Terms) -> Iterator[Finding]:
    """Yield a finding for the narrowest place of a zone, and one for where it breaks before that.

    The second only where it is graver: else the zone is told once.
    """
    limit = terms.limit_mm
    narrow = zone.cuts[0]
    if zone.exits == 1 and zone.width_mm < _TIP_SHARE * limit:
        tip = _ThinPlace(narrow, zone.at, zone.length_mm, 1, None, tip_mm=zone.mean_width_mm)
        yield _finding(tip, terms)
        return
    snaps = [(c, terms.snap(c, reach)) for c, reach in levers(terms.part.outline, zone.cuts)]
    own = next((s for c, s in snaps if c.feet == narrow.feet), None)
    cut, weakest = min(snaps, key=lambda pair: pair[1].load_n, default=(narrow, None))
    frail = (weakest is None or not zone.exits) and zone.width_mm < _FRAIL_SHARE * limit
    end = _end_of(zone, terms)
    place = _ThinPlace(narrow, zone.at, zone.length_mm, zone.exits, own, end, frail)
    told = _finding(place, terms)
    if weakest is None:
        yield told
        return
    (x0, y0), (x1, y1) = cut.feet
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    first = _finding(_ThinPlace(cut, middle, zone.length_mm, zone.exits, weakest), terms)
    if by_severity((told, first))[0] is first and first.severity is not told.severity:
        yield _finding(replace(place, weaker=True), terms)
        yield first
    else:
        yield told


def _end_of(zone: Zone, terms: _Terms) -> Snap | None:
    """Return what snaps a free end where it is weakest; a lever reaches to where it is narrowest.

    That is at its tip: nearer to its root it is wider, and has more to bear.
    """
    if zone.exits != 1:
        return None
    snaps: list[Snap] = []
    for cut in zone.along:
        (x0, y0), (x1, y1) = cut.feet
        away = math.dist(zone.at, ((x0 + x1) / 2, (y0 + y1) / 2))
        snaps.append(terms.snap(cut, away + zone.width_mm / 2))
    return min(snaps, key=lambda snap: snap.load_n, default=None)


def _finding(place: _ThinPlace, terms: _Terms) -> Finding:
    layer, rules, limit = terms.layer, terms.rules, terms.limit_mm
    tip = place.tip_mm is not None
    width = place.cut.width_mm if place.tip_mm is None else place.tip_mm
    first = place.first
    load = None if first is None else first.load_n
    if load is None and not tip and place.length_mm:
        strength = terms.material.weakest_mpa(layer.thickness_mm)
        load = spanned_load(width, layer.thickness_mm, place.length_mm, strength)
    severity = _severity(place, terms.trusted(load), terms)
    in_hand = 1.0 if first is None else max(first.reach_mm / _HAND_MM, 1.0)
    neck = place.exits >= 2 and place.length_mm <= rules.neck_ratio * limit
    data: list[tuple[str, object]] = [
        ("length_mm", round(place.length_mm, 3)),
        ("exits", place.exits),
        ("tip", tip),
    ]
    if first is not None:
        data += [
            ("snap_in_plane_n", round(first.in_plane_n, 2)),
            ("snap_out_of_plane_n", round(first.out_of_plane_n, 2)),
            ("lever_mm", round(first.reach_mm, 2)),
            ("safety_factor", rules.safety_factor),
        ]
    return Finding(
        code="neck" if neck else "stroke",
        severity=severity,
        layer=layer.name,
        part=terms.part.name,
        where=Place("point", (place.at,)) if tip else Place("segment", place.cut.feet),
        measured=round(width, 4),
        limit=round(limit, 4),
        why=_why(place, width, load, severity, terms, neck=neck),
        remedies=_remedies(width, limit),
        data=tuple(data),
        gravity=round(min(terms.trusted(load) * in_hand, _NO_LOAD + width / limit), 4),
    )


def _severity(place: _ThinPlace, trusted: float, terms: _Terms) -> Severity:
    if place.tip_mm is not None:
        return Severity.CAUTION
    if place.frail or (place.snap is not None and terms.trusted(place.snap.load_n) < 1):
        return Severity.BLOCKER
    careful = trusted < terms.rules.careful_factor
    hairline = place.cut.width_mm < _HAIRLINE_SHARE * terms.limit_mm
    return Severity.CAUTION if careful or hairline else Severity.NOTE


def _why(
    place: _ThinPlace,
    width: float,
    load: float | None,
    severity: Severity,
    terms: _Terms,
    *,
    neck: bool,
) -> Said:
    limit = terms.limit_mm
    what = say("tip") if place.tip_mm is not None else say("neck") if neck else say("thin stroke")
    long = say(" and {length} long", length=about_mm(place.length_mm)) if place.length_mm else ""
    held = say("at its end") if place.first is not None else say("in its middle")
    if place.tip_mm is not None:
        goes = say("chips easily")
    elif place.weaker:
        goes = say("is narrowest there, and breaks elsewhere first")
    elif load is None:
        goes = say("is held on both sides") if severity is Severity.NOTE else say("may break")
    elif severity is Severity.NOTE:
        goes = say("bears {load} {held}", load=about_newtons(load), held=held)
    else:
        goes = say("breaks at {load} {held}", load=about_newtons(load), held=held)
    told = say(
        "a {what} {width} wide{long} {place} {goes}",
        what=what,
        width=about_mm(width, beside=limit),
        long=long,
        place=name_part_place(terms.part, place.at),
        goes=goes,
    )
    stock = say(
        "{thickness} {material}",
        thickness=format_mm(terms.layer.thickness_mm),
        material=in_sentence(terms.material.name),
    )
    wide = about_mm(limit, beside=width)
    if severity is Severity.NOTE:
        holds = "" if load is None or place.weaker else say(", and strong enough")
        return say(
            "{told}: thinner than the {wide} that are usual for {stock}{holds}",
            told=told,
            wide=wide,
            stock=stock,
            holds=holds,
        )
    return say("{told}: {stock} should be at least {wide} wide", told=told, stock=stock, wide=wide)


def _remedies(width: float, limit: float) -> tuple[Remedy, ...]:
    grow = math.ceil((limit - width) / 2 * 20) / 20
    factor = limit / max(width, SAME_MM)
    remedies = [
        Remedy(
            RemedyAction.GROW_BY,
            say("grow the outline by {by}", by=about_mm(grow)),
            grow,
            "mm",
        )
    ]
    if factor < 4:
        remedies.append(
            Remedy(
                RemedyAction.RAISE_SIZE_TO,
                say("make it {times}", times=times_as_large(factor)),
                round(factor, 3),
                "times",
            )
        )
    remedies.append(Remedy(RemedyAction.CHANGE_FONT, say("take a heavier font or weight")))
    return tuple(remedies)
