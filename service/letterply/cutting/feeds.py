"""Feeds and speeds: every figure with its reason.

    spindle speed    n = 1000 vc / (pi d)    rev/min, vc m/min, d mm
    feed             F = n z fz              mm/min, z flutes, fz chip load mm
    chip load        fz = F / (n z)          again, when a limit of the machine cuts F or n

Source of the formulas: Machinery's Handbook, speeds and feeds; SME chapter sheet "Useful formulas
for machining". Chip loads, surface speeds and depths of a pass are the material's data, marked
`common practice` there, and so is a speed that such a limit sets: starting values, to be tried on
scrap.
"""

from __future__ import annotations

import math
from dataclasses import replace

from letterply.catalogue import Cutter, CutterKind, Machine, Material, pass_depth
from letterply.cutting.model import IN_CORNERS, Feeds, Reason
from letterply.names import in_sentence
from letterply.requests import BeamPower, OwnFeeds
from letterply.units import counted, decimal_text, format_exact, format_mm, format_speed

__all__ = ["beam_feeds", "choose_feeds", "feed_rate", "spindle_speed"]

_FORMULA = "Machinery's Handbook, speeds and feeds"
_PRACTICE = "common practice, no source"
_REFERENCE_MM = 6.0
_USUAL_RPM = 18_000.0
_PLUNGE_SHARE = 0.4
_DRAG_FEED = 2000.0
_DRAG_PLUNGE = 1000.0
_OUR_START = "a start of our own, within the machine's limit"
_LONG_REACH = 4.0
_BEAM_FEED = 600.0


def spindle_speed(surface_speed_m_per_min: float, diameter_mm: float) -> float:
    """Return the speed at which a cutter's edge runs at the given surface speed, rev/min.

    >>> round(spindle_speed(25, 12), 3)
    663.146

    """
    return 1000 * surface_speed_m_per_min / (math.pi * diameter_mm)


def feed_rate(spindle_rpm: float, flutes: int, chip_load_mm: float) -> float:
    """Return the feed, mm/min.

    >>> round(feed_rate(18000, 2, 0.05), 6)
    1800.0

    """
    return spindle_rpm * flutes * chip_load_mm


def choose_feeds(
    cutter: Cutter,
    material: Material,
    machine: Machine,
    *,
    depth_mm: float,
    corners: bool = False,
    own: OwnFeeds | None = None,
) -> Feeds:
    """Return feeds for a cut of this depth, inside the limits of machine and material.

    `corners` is for a cutter that goes into corners which a larger one left, and is held there on
    more than one side. What the maker gives in `own` takes the place of what is computed, and says
    so.
    """
    feeds = _computed(cutter, material, machine, depth_mm, corners=corners)
    if own is not None:
        feeds = _with_own(feeds, own, cutter)
    if not (cutter.flutes and feeds.spindle_rpm) or cutter.kind is CutterKind.DRILL:
        return feeds
    slower = Reason(
        "corner_feed_mm_per_min",
        feeds.corner_feed_mm_per_min,
        "three tenths slower where it cuts more than usual: in corners of a pocket, along its "
        "first loop, in what is hardly wider than the cutter, and deeper than a pass where it "
        "turns back",
        _PRACTICE,
    )
    sink = max(feeds.plunge_mm_per_min, min(feeds.feed_mm_per_min, machine.max_plunge_mm_per_min))
    through_air = Reason(
        "sink_mm_per_min",
        sink,
        "as the feed, within the machine's limit: down through air, to what is cut already",
        _PRACTICE,
    )
    return replace(feeds, sink_mm_per_min=sink, reasons=(*feeds.reasons, slower, through_air))


def _with_own(computed: Feeds, own: OwnFeeds, cutter: Cutter) -> Feeds:
    given = own.model_dump(by_alias=False, exclude_none=True)
    reasons = [r for r in computed.reasons if r.figure not in given]
    reasons += [
        Reason(
            name,
            value,
            f"your own; letterply would start with {decimal_text(getattr(computed, name), 3)}",
            "the request",
        )
        for name, value in given.items()
    ]
    feeds = replace(computed, **given, reasons=tuple(reasons))
    if cutter.flutes and feeds.spindle_rpm:
        chip = feeds.feed_mm_per_min / (feeds.spindle_rpm * cutter.flutes)
        feeds = replace(feeds, chip_load_mm=chip)
    return feeds


def _computed(
    cutter: Cutter, material: Material, machine: Machine, depth_mm: float, *, corners: bool
) -> Feeds:
    if cutter.kind is CutterKind.DRAG:
        return _drag(machine, depth_mm)
    if cutter.kind is CutterKind.DRILL:
        return _drill(cutter, material, machine)
    if cutter.kind is CutterKind.BEAM:
        raise ValueError("a beam has no feeds but with the maker's own power: see beam_feeds")
    reasons: list[Reason] = []
    rpm = _speed(cutter, material, machine, reasons)
    working = _working_diameter(cutter)
    chip, why = _chip_load(cutter, material, depth_mm, corners=corners)
    feed = feed_rate(rpm, cutter.flutes, chip)
    reasons.append(Reason("chip_load_mm", chip, why, _PRACTICE))
    if feed > machine.max_feed_mm_per_min:
        feed = machine.max_feed_mm_per_min
        chip = feed / (rpm * cutter.flutes)
        reasons.append(
            Reason("chip_load_mm", chip, f"less, as {machine.name} feeds no faster", _FORMULA)
        )
    feed = float(round(feed, -1)) if feed > 100 else float(round(feed))
    reasons.append(
        Reason(
            "feed_mm_per_min",
            feed,
            f"{rpm:.0f} rev/min x {counted(cutter.flutes, 'flute')} x {format_exact(chip)}, "
            "rounded",
            _FORMULA,
        )
    )
    plunge = min(_PLUNGE_SHARE * feed, machine.max_plunge_mm_per_min)
    plunge = float(round(plunge, -1)) if plunge > 100 else float(round(plunge))
    reasons.append(
        Reason(
            "plunge_mm_per_min",
            plunge,
            "two fifths of the feed, within the machine's limit",
            _PRACTICE,
        )
    )
    deep = pass_depth(cutter, material, working)
    reasons.append(
        Reason(
            "depth_per_pass_mm",
            deep,
            f"{decimal_text(material.pass_depth_factor, 2)} x {format_mm(working)}",
            _PRACTICE,
        )
    )
    return Feeds(rpm, feed, plunge, deep, chip, tuple(reasons))


def _chip_load(
    cutter: Cutter, material: Material, depth_mm: float, *, corners: bool
) -> tuple[float, str]:
    """Return the chip load, mm, and the reason for it."""
    working = _working_diameter(cutter)
    chip = sum(material.chip_load_mm) / 2 * working / _REFERENCE_MM
    low, high = (format_exact(v, 4) for v in material.chip_load_mm)
    why = (
        f"midway from {low} to {high} a tooth, as for a cutter of {format_mm(_REFERENCE_MM)}, "
        f"scaled to {format_mm(working)}"
    )
    if depth_mm > _LONG_REACH * cutter.diameter_mm:
        chip *= 0.7
        why += "; three tenths less for a long reach"
    if corners:
        chip *= IN_CORNERS
        why += "; three tenths less in corners, which hold the cutter on more than one side"
    return chip, why


def _working_diameter(cutter: Cutter) -> float:
    """Return the diameter that stands for the cutter: a V-bit works with its lower part."""
    if cutter.kind is CutterKind.VBIT:
        return min(cutter.diameter_mm, _REFERENCE_MM)
    return cutter.diameter_mm


def _speed(cutter: Cutter, material: Material, machine: Machine, reasons: list[Reason]) -> float:
    limit = spindle_speed(material.max_surface_speed_m_per_min, cutter.diameter_mm)
    rpm = min(_USUAL_RPM, limit)
    if rpm < _USUAL_RPM:
        why = (
            f"{format_speed(material.max_surface_speed_m_per_min)} at the edge of "
            f"{format_mm(cutter.diameter_mm)}: faster, {in_sentence(material.name)} melts or burns"
        )
    else:
        why = "the usual speed for small cutters"
    held = min(max(rpm, machine.spindle_min_rpm), machine.spindle_max_rpm)
    if held != rpm:
        why += f"; held to what {machine.name} turns"
    held = float(round(held, -2))
    reasons.append(Reason("spindle_rpm", held, why, _PRACTICE))
    return held


def _drag(machine: Machine, depth_mm: float) -> Feeds:
    feed = min(_DRAG_FEED, machine.max_feed_mm_per_min)
    plunge = min(_DRAG_PLUNGE, machine.max_plunge_mm_per_min)
    return Feeds(
        0.0,
        feed,
        plunge,
        depth_mm,
        0.0,
        (
            Reason("spindle_rpm", 0.0, "a drag point does not turn", _PRACTICE),
            Reason("feed_mm_per_min", feed, _OUR_START, _PRACTICE),
            Reason("plunge_mm_per_min", plunge, f"half the feed: {_OUR_START}", _PRACTICE),
            Reason("depth_per_pass_mm", depth_mm, "one light pass", _PRACTICE),
        ),
    )


def beam_feeds(machine: Machine, power: BeamPower, *, scribing: bool = False) -> Feeds:
    """Return the feeds of a beam at the maker's own power.

    Scribing keeps the slow start where the maker gives no feed: the feed entered is that of a cut.
    """
    own = None if scribing else power.feed_mm_per_min
    feed = min(_BEAM_FEED, machine.max_feed_mm_per_min) if own is None else own
    percent = power.scribe_percent if scribing else power.cut_percent
    if percent is None:
        raise ValueError("no power is entered for scribing")
    slow = "a slow start: try it on scrap of the same sheet"
    reasons = (
        Reason("power_percent", percent, "your own", "the request"),
        Reason("feed_mm_per_min", feed, slow, _PRACTICE)
        if own is None
        else Reason("feed_mm_per_min", feed, "your own", "the request"),
        Reason("plunge_mm_per_min", feed, "a beam does not plunge", _PRACTICE),
    )
    return Feeds(0.0, feed, feed, 0.0, 0.0, reasons, percent)


def _drill(cutter: Cutter, material: Material, machine: Machine) -> Feeds:
    reasons: list[Reason] = []
    # A drill's edge stays in the hole: a third of the speed that a side-cutting edge bears.
    rpm = spindle_speed(material.max_surface_speed_m_per_min / 3, cutter.diameter_mm)
    rpm = float(
        round(min(max(rpm, machine.spindle_min_rpm), machine.spindle_max_rpm, 12_000.0), -2)
    )
    reasons.append(
        Reason(
            "spindle_rpm", rpm, "a third of the material's surface speed, slow spindle", _PRACTICE
        )
    )
    a_turn = 0.02 * cutter.diameter_mm
    feed = min(rpm * a_turn, machine.max_plunge_mm_per_min)
    feed = float(round(feed, -1))
    reasons.append(
        Reason(
            "plunge_mm_per_min",
            feed,
            f"{format_exact(a_turn)} a turn, a fiftieth of the diameter",
            _PRACTICE,
        )
    )
    reasons.append(
        Reason("depth_per_pass_mm", cutter.diameter_mm, "a peck as deep as wide", _PRACTICE)
    )
    chip = feed / (rpm * cutter.flutes)
    return Feeds(rpm, feed, feed, cutter.diameter_mm, chip, tuple(reasons))
