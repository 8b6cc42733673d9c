"""Choice of cutters: for a profile, the pair that loses no detail in the least time.

Every flat cutter of the rack that reaches through is measured on every outline: how long it takes
and how deep its corners stay round. The *detail* cutter is the largest that loses no more than is
seen; the *main* cutter may be larger still, when cutting the corners again with the detail cutter
costs less than it saves. All mm, s.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from letterply.catalogue import Cutter, Machine, Material
from letterply.cutting.feeds import choose_feeds
from letterply.cutting.model import Feeds
from letterply.cutting.profile.profiles import clearance
from letterply.names import in_sentence
from letterply.shapes import (
    EMPTY,
    ROUNDING,
    Region,
    Tolerances,
    deepest_leftover,
    leftover,
    surroundings,
)
from letterply.units import about_mm

__all__ = ["DETAIL_MM", "ProfileChoice", "choose_profile_cutters", "leftover_of"]

DETAIL_MM = 0.25
"""Depth left round in a corner that nobody sees at arm's length; common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class ProfileChoice:
    """Which cutters cut the outlines of a sheet.

    Attributes:
        main: cuts every outline.
        detail: cuts again what `main` leaves; None when it leaves nothing that is seen.
        lefts: outline number -> what `main` leaves of its surroundings, in the outline's frame,
            where it is deep enough to be seen.
        compared: for each pair that came into question its time and the depth it loses.
        reason: in words.

    """

    main: Cutter
    detail: Cutter | None
    lefts: dict[int, Region]
    compared: tuple[tuple[str, float, float], ...]
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    cutter: Cutter
    feeds: Feeds
    time_s: float
    depth_mm: float
    lefts: tuple[Region, ...]


def choose_profile_cutters(
    outlines: Sequence[Polygon],
    counts: Sequence[int],
    cutters: Sequence[Cutter],
    material: Material,
    machine: Machine,
    depth_mm: float,
    tolerances: Tolerances,
) -> ProfileChoice | None:
    """Return the cutters for outlines that occur `counts` times each; None with no cutter."""
    if not cutters or not outlines:
        return None
    margin = max(c.radius_mm for c in cutters)
    around = [surroundings(outline, margin) for outline in outlines]
    measured = [
        _measure(
            c,
            choose_feeds(c, material, machine, depth_mm=depth_mm),
            tuple(zip(outlines, counts, around, strict=True)),
            depth_mm,
            tolerances,
        )
        for c in cutters
    ]
    good = [m for m in measured if m.depth_mm <= DETAIL_MM]
    finest = max(good, key=lambda m: m.cutter.diameter_mm) if good else measured[0]
    compared: list[tuple[str, float, float]] = []
    best: tuple[float, _Measured] | None = None
    for m in measured:
        if m.cutter.diameter_mm < finest.cutter.diameter_mm:
            continue
        alone = m is finest
        time = m.time_s
        name = m.cutter.key
        if not alone:
            time += _rest_time(m, finest, counts, depth_mm) + machine.tool_change_s
            name = f"{m.cutter.key} + {finest.cutter.key}"
        compared.append((name, round(time, 1), round(finest.depth_mm, 3)))
        if best is None or time < best[0]:
            best = time, m
    assert best is not None  # `finest` itself is always compared
    main = best[1]
    lefts = {k: left for k, left in enumerate(main.lefts) if not left.is_empty}
    if main is finest:
        reason = (
            f"The {in_sentence(main.cutter.name)} cuts everything: inside corners stay round by "
            f"{about_mm(main.depth_mm)} at most"
        )
        return ProfileChoice(main.cutter, None, lefts, tuple(compared), reason)
    reason = (
        f"The {in_sentence(finest.cutter.name)} first cuts the corners that the "
        f"{in_sentence(main.cutter.name)} does not reach, then that one cuts the outlines: "
        f"{_minutes(best[0])} instead of {_minutes(finest.time_s)} with the small one alone"
    )
    return ProfileChoice(main.cutter, finest.cutter, lefts, tuple(compared), reason)


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"


def _measure(
    cutter: Cutter,
    feeds: Feeds,
    pieces: Sequence[tuple[Polygon, int, Region]],
    depth_mm: float,
    tolerances: Tolerances,
) -> _Measured:
    """Return what a cutter takes and leaves of outlines, so many of each, with the space round."""
    lefts: list[Region] = []
    worst = 0.0
    length = 0.0
    for outline, count, space in pieces:
        left = _left_by(cutter, space, tolerances)
        depth, _ = deepest_leftover(left, space)
        worst = max(worst, depth)
        lefts.append(left if depth > DETAIL_MM / 2 else EMPTY)
        length += count * (outline.length + 2 * math.pi * cutter.radius_mm)
    passes = math.ceil(depth_mm / feeds.depth_per_pass_mm - ROUNDING)
    return _Measured(
        cutter, feeds, 60 * length * passes / feeds.feed_mm_per_min, worst, tuple(lefts)
    )


def _left_by(cutter: Cutter, space: Region, tolerances: Tolerances) -> Region:
    # Paths keep a tolerance away from the part: what is that narrow is left, too.
    return leftover(space, cutter.radius_mm + clearance(tolerances), tolerances.offset_mm)


def leftover_of(outline: Polygon, cutter: Cutter, tolerances: Tolerances) -> Region:
    """Return what a cutter leaves of the space round an outline and in its holes."""
    return _left_by(cutter, surroundings(outline, cutter.radius_mm), tolerances)


def _rest_time(main: _Measured, detail: _Measured, counts: Sequence[int], depth_mm: float) -> float:
    """Return about how long the detail cutter takes for what the main cutter leaves."""
    lengths = np.array([shapely.length(left) for left in main.lefts])
    pieces = np.array([len(left.geoms) for left in main.lefts])
    along = lengths / 2 + pieces * 4 * detail.cutter.radius_mm
    passes = math.ceil(depth_mm / detail.feeds.depth_per_pass_mm - ROUNDING) + 1
    cutting = float((along * np.array(counts)).sum()) * passes
    lifting = float((pieces * np.array(counts)).sum()) * 3.0
    return 60 * cutting / detail.feeds.feed_mm_per_min + lifting
