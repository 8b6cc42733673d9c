"""A plain writer of programs for one rectangular part, for tests of the proof alone.

It knows rectangles: every path is worked out by hand from corners, radii and half angles, so that
a good program is good by construction. Lines of text are written with four decimals. Each method
adds one operation; options of the methods are the knobs that tests turn to do damage.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field


@dataclass
class Writer:
    """Lines of one program."""

    safe: float = 5.0
    rpm: float = 18000
    feed: float = 900
    plunge: float = 300
    zero: float = 0.0
    scale: float = 1.0
    lines: list[str] = field(default_factory=list)

    def n(self, value: float) -> str:
        """Return a length as it is written, in the units of the program."""
        return f"{value / self.scale:.4f}"

    def start(self, *, units: str = "G21", spindle: bool = True) -> Writer:
        """Write the header and get ready."""
        self.lines += [
            "(avocet rack sign, stock birch plywood)",
            f"G17 {units} G40 G49 G54 G90 G94",
        ]
        self.lines.append(f"G0 Z{self.n(self.safe + self.zero)}")
        if spindle:
            self.lines += [f"S{self.rpm:.0f} M3", "G4 P2"]
        return self

    def end(self) -> str:
        """Write the end and return the text."""
        self.lines += ["M5", "M30"]
        return "\n".join(self.lines) + "\n"

    def rapid(self, x: float, y: float) -> None:
        """Travel in the plane."""
        self.lines.append(f"G0 X{self.n(x)} Y{self.n(y)}")

    def rapid_z(self, z: float) -> None:
        """Travel up or down."""
        self.lines.append(f"G0 Z{self.n(z + self.zero)}")

    def down(self, z: float) -> None:
        """Go down or up at the plunge feed."""
        self.lines.append(f"G1 Z{self.n(z + self.zero)} F{self.n(self.plunge)}")

    def cut(self, x: float, y: float, z: float | None = None) -> None:
        """Cut along a line."""
        height = "" if z is None else f" Z{self.n(z + self.zero)}"
        self.lines.append(f"G1 X{self.n(x)} Y{self.n(y)}{height} F{self.n(self.feed)}")

    def arc(self, x: float, y: float, i: float, j: float, *, cw: bool) -> None:
        """Cut along an arc."""
        word = "G2" if cw else "G3"
        ends = f"X{self.n(x)} Y{self.n(y)} I{self.n(i)} J{self.n(j)}"
        self.lines.append(f"{word} {ends} F{self.n(self.feed)}")

    def lift(self) -> None:
        """Travel up to the safe height."""
        self.rapid_z(self.safe)

    def drill(self, x: float, y: float, depth: float) -> None:
        """Drill one hole."""
        self.rapid(x, y)
        self.down(-depth)
        self.lift()

    def line(self, points: list[tuple[float, float]], depth: float) -> None:
        """Follow points at one depth."""
        self.rapid(*points[0])
        self.down(-depth)
        for point in points[1:]:
            self.cut(*point)
        self.lift()

    def circle(
        self, x: float, y: float, radius: float, depths: list[float], *, cw: bool = False
    ) -> None:
        """Cut round inside a hole, compensated by hand: `radius` is that of the path."""
        self.rapid(x + radius, y)
        for depth in depths:
            self.down(-depth)
            self.arc(x + radius, y, -radius, 0, cw=cw)
        self.lift()

    def pocket(
        self, box: tuple[float, float, float, float], radius: float, depth: float, step: float
    ) -> None:
        """Clear a rectangle to and fro, then go round it."""
        left, low, right, high = box
        left, low, right, high = left + radius, low + radius, right - radius, high - radius
        self.rapid(left, low)
        self.down(-depth)
        rows = max(1, math.ceil((high - low) / step))
        for row in range(rows + 1):
            y = low + (high - low) * row / rows
            ends = (left, right) if row % 2 == 0 else (right, left)
            self.cut(ends[0], y)
            self.cut(ends[1], y)
        for corner in ((left, low), (right, low), (right, high), (left, high), (left, low)):
            self.cut(*corner)
        self.lift()

    def groove(
        self, box: tuple[float, float, float, float], half_tan: float, tip: float = 0.0
    ) -> None:
        """Carve a rectangle, wider than high, along its medial axis."""
        left, low, right, high = box
        r = (high - low) / 2
        y = (low + high) / 2
        deep = -(r - tip / 2) / half_tan
        t = tip / 2
        self.rapid(left + t, low + t)
        self.down(0)
        self.cut(left + r, y, deep)
        self.cut(left + t, high - t, 0)
        self.cut(left + r, y, deep)
        self.cut(right - r, y, deep)
        self.cut(right - t, high - t, 0)
        self.cut(right - r, y, deep)
        self.cut(right - t, low + t, 0)
        self.lift()

    def profile(
        self,
        box: tuple[float, float, float, float],
        radius: float,
        depths: list[float],
        *,
        tab_height: float = 0.0,
        tab_at: tuple[str, ...] = (),
        tab_path: float = 0.0,
        thickness: float = 0.0,
    ) -> None:
        """Go round outside a rectangle, arcs at its corners, clockwise from the lower left.

        A tab lies in the middle of each side that `tab_at` names; `tab_path` is the length over
        which the path is raised, the tab itself is shorter by the cutter's diameter.
        """
        left, low, right, high = box
        r = radius
        middle_x, middle_y = (left + right) / 2, (low + high) / 2
        sides = {
            "left": ((left - r, low), (left - r, high), (left - r, middle_y)),
            "top": ((left, high + r), (right, high + r), (middle_x, high + r)),
            "right": ((right + r, high), (right + r, low), (right + r, middle_y)),
            "bottom": ((right, low - r), (left, low - r), (middle_x, low - r)),
        }
        turns = {
            "left": (left, high + r, r, 0.0),
            "top": (right + r, high, 0.0, -r),
            "right": (right, low - r, -r, 0.0),
            "bottom": (left - r, low, 0.0, r),
        }
        self.rapid(left - r, low)
        for depth in depths:
            self.down(-depth)
            for name, (a, b, m) in sides.items():
                if name in tab_at and depth > thickness - tab_height:
                    length = math.dist(a, b)
                    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
                    half = tab_path / 2
                    self.cut(m[0] - ux * half, m[1] - uy * half)
                    self.rise_to(-(thickness - tab_height))
                    self.cut(m[0] + ux * half, m[1] + uy * half)
                    self.down(-depth)
                self.cut(*b)
                self.arc(*turns[name], cw=True)
        self.lift()

    def rise_to(self, z: float) -> None:
        """Rise over a tab, at feed."""
        self.down(z)
