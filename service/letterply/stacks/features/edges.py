"""Work that meets an edge of its part: what runs over it, and what is told of it. All mm.

One rule: work on a face that is drawn beyond the part's outline by more than `EDGE_MM` runs over
that edge; what is drawn up to the edge, or ends inside, stays inside. Where it runs over, the
cutter goes on beyond the edge as far as its shape asks: half its greatest width, for then the
tapering end of a groove and the round corners of a pocket lie in the waste and all is as deep at
the edge as it is drawn. Inner edges, of holes and counters, count as the outer one does. Blanks
are left out: what lies beside them is their fixture, and work that leaves their safe area is
refused (`letterply.stacks.blanks.limits`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.names import layer_words
from letterply.said import Said, say
from letterply.shapes import Region, as_region, normalise, polygons
from letterply.units import about_mm, counted, format_area

__all__ = [
    "EDGE_MM",
    "FLAT_REACH_MM",
    "REACH_MM",
    "Drawn",
    "edge_finding",
    "lines_over",
    "region_over",
]

EDGE_MM = 0.05
"""What is drawn beyond an outline by no more than this ends at it: drawings are no finer."""

REACH_MM = 6.5
"""A groove goes no farther beyond an edge: the radius of a V-bit of half an inch, the widest that
small routers usually take (common practice, no source); what is wider has a flat floor."""

FLAT_REACH_MM = 4.0
"""A recess goes no farther: a little more than the radius of an end mill of a quarter inch (common
practice, no source); corners that a wider one leaves are cleared by a smaller one anyway."""

_MORE_MM = 0.3
"""How much farther than half its width work goes, so that its last bit is no matter of rounding."""

_LINE_MM = 1.0
"""How far a scribed line goes beyond an edge."""


def region_over(region: Region, piece: Polygon, most_mm: float = REACH_MM) -> Region | None:
    """Return an area with what is cut of it beyond the edges of a piece; None if it stays inside.

    Args:
        region: as drawn, wherever it lies.
        piece: the part.
        most_mm: how far it goes beyond an edge at most.

    """
    if not shapely.intersects(region, piece) or _grown(piece, EDGE_MM).covers(region):
        return None
    reach = min(_half_width(region, piece) + _MORE_MM, most_mm)
    return normalise(shapely.intersection(region, _grown(piece, reach)))


def lines_over(lines: Sequence[LineString], piece: Polygon) -> BaseGeometry | None:
    """Return an area within which lines are drawn beyond the edges of a piece; None if none are."""
    inside = _grown(piece, EDGE_MM)
    shapely.prepare(inside)
    if all(inside.covers(line) for line in lines if shapely.intersects(line, piece)):
        return None
    return _grown(piece, _LINE_MM)


def _grown(piece: BaseGeometry, by_mm: float) -> BaseGeometry:
    return shapely.buffer(piece, by_mm, quad_segs=8)


@dataclass(frozen=True, slots=True)
class Drawn:
    """What one feature works, as it was drawn.

    Attributes:
        what: a word for it, as `groove`.
        geometry: area or lines, wherever they lie.
        through: whether it is cut through.
        words: whether it is lettering, which nobody wants cut short.

    """

    what: Said
    geometry: BaseGeometry
    through: bool
    words: bool


def edge_finding(layer: str, solid: Region, drawn: Drawn) -> Finding | None:
    """Return what is to be told of work that is drawn beyond a layer's outline; None if none is.

    It says how much lies beyond, how far, and where that is farthest.
    """
    beyond = shapely.difference(drawn.geometry, _grown(solid, EDGE_MM))
    if beyond.is_empty:
        return None
    corners = shapely.get_coordinates(beyond)
    away = np.asarray(shapely.distance(solid, shapely.points(corners)))
    far = int(np.argmax(np.round(away, 6)))
    onto = shapely.shortest_line(solid, shapely.Point(corners[far]))
    x, y = shapely.get_coordinates(onto)[0].tolist()
    flat = not isinstance(drawn.geometry, shapely.MultiLineString)
    whole = drawn.geometry.area if flat else drawn.geometry.length
    lost = beyond.area if flat else beyond.length
    places = len(polygons(beyond)) if flat else len(shapely.get_parts(shapely.line_merge(beyond)))
    amount = say(
        "{amount}, {percent} of it",
        amount=format_area(lost) if flat else about_mm(lost),
        percent=_percent(lost / whole),
    )
    where = say("at {count}", count=counted(places, "place"))
    reach = about_mm(float(away[far]))
    if drawn.through:
        done = say("the cut opens the edge there and ends at it")
    else:
        done = say("it runs over the edge there and ends at it")
        half = _half_width(drawn.geometry, solid) if flat else 0.0
        if drawn.what == "groove" and away[far] < half:
            done += say(
                "; drawn {half} beyond, it would have its full depth at the edge",
                half=about_mm(half),
            )
    grave = drawn.through or drawn.words
    return Finding(
        code="edge",
        severity=Severity.CAUTION if grave else Severity.NOTE,
        layer=layer,
        where=Place("point", ((round(x, 5), round(y, 5)),)),
        measured=round(float(away[far]), 4),
        limit=EDGE_MM,
        why=(
            say(
                "a {what} goes up to {reach} beyond the outline of {layer}, {where} "
                "({amount}): {done}",
                what=drawn.what,
                reach=reach,
                layer=layer_words(layer),
                where=where,
                amount=amount,
                done=done,
            )
        ),
        remedies=(
            Remedy(RemedyAction.MOVE_BY, say("move it inside, if it is to be cut whole")),
            Remedy(RemedyAction.LOWER_SIZE_TO, say("make it smaller, or the layer larger")),
        ),
        data=(("count", places), ("beyond", round(lost, 4)), ("share", round(lost / whole, 4))),
    )


def _half_width(region: BaseGeometry, solid: BaseGeometry) -> float:
    near = as_region(shapely.intersection(region, _grown(solid, REACH_MM)))
    return float(shapely.length(shapely.maximum_inscribed_circle(near, tolerance=0.01)))


def _percent(share: float) -> str:
    return (
        say("less than {figure}", figure="1 %")
        if share < 0.01
        else f"{math.floor(100 * share + 0.5)} %"
    )
