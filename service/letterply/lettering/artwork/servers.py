"""Gradients and patterns by their opacity: what of them paints, not how.

Any paint is material, so a gradient counts where it is opaque at all (SVG 2, chapter 14).
"""

from __future__ import annotations

from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import Bounds
from letterply.lettering.artwork.scene import ContextPaint, Scene, ServerPaint
from letterply.lettering.artwork.values import length

__all__ = ["BOXED", "IGNORED", "SERVERS", "in_box", "server_paint"]

SERVERS = frozenset({"linearGradient", "radialGradient", "pattern"})
BOXED = "objectBoundingBox"
_GRADIENTS = SERVERS - {"pattern"}
_MOST_LINKS = 32

IGNORED = ServerPaint("ignored")
"""A server that is fitted to a box without extent: as if it were not there (SVG 2, 8.10)."""


def _chain(server: Element, scene: Scene) -> list[Element]:
    """Return a server and the templates behind it (SVG 2, 14.2.1)."""
    found = [server]
    kinds = _GRADIENTS if server.tag in _GRADIENTS else frozenset({"pattern"})
    while len(found) < _MOST_LINKS and found[-1].href:
        target = scene.named(found[-1].href[1:]) if found[-1].href.startswith("#") else None
        if target is None or target.tag not in kinds or target in found:
            scene.notes.add("reference without target", found[-1].place)
            break
        found.append(target)
    return found


def _given(chain: list[Element], name: str, usual: str) -> str:
    return next((e.attributes[name] for e in chain if name in e.attributes), usual).strip()


def server_paint(server: Element, scene: Scene, box: Bounds | None) -> ContextPaint:
    """Return what a gradient or pattern paints; `box` is that of the painted shape's outline."""
    chain = _chain(server, scene)
    if server.tag == "pattern":
        return _pattern(chain, box)
    stops = next((s for e in chain if (s := scene.stops(e))), ())
    if not stops:
        return None
    if len(stops) > 1:
        if _given(chain, "gradientUnits", BOXED) != "userSpaceOnUse" and not in_box(box):
            return IGNORED
        if not _is_point(chain):
            return ServerPaint("gradient") if any(s.alpha > 0 for s in stops) else None
    # One stop, or a gradient without extent: all of the last colour.
    return stops[-1] if stops[-1].alpha > 0 else None


def in_box(box: Bounds | None) -> bool:
    """Whether a box has an extent in both directions: else what is fitted to it is left out."""
    return box is not None and box[2] > box[0] and box[3] > box[1]


def _is_point(chain: list[Element]) -> bool:
    """Whether both ends of a linear gradient, or the circle of a radial one, are a point."""
    if chain[0].tag == "linearGradient":
        ends = [
            length(_given(chain, name, usual), 1.0)
            for name, usual in (("x1", "0%"), ("x2", "100%"), ("y1", "0%"), ("y2", "0%"))
        ]
        return ends[0] == ends[1] and ends[2] == ends[3]
    return length(_given(chain, "r", "50%"), 1.0) == 0


def _pattern(chain: list[Element], box: Bounds | None) -> ServerPaint | None:
    sides = [length(_given(chain, side, "0"), 1.0) for side in ("width", "height")]
    if any(side is None or side <= 0 for side in sides):
        return None
    if not any(e.children for e in chain):
        return None
    if _given(chain, "patternUnits", BOXED) != "userSpaceOnUse" and not in_box(box):
        return IGNORED
    return ServerPaint("pattern")
