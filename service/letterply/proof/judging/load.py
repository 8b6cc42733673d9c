"""Moves, material and cutters in, what asks too much of a cutter out.

Limits follow from the material, the cutter and the machine, or are the maker's own figures; never
from the plan. A cutter bears `OVERLOAD` times the usual chip load and the usual depth of a pass:
both are starting values (common practice, no source), and what lies so far above them is a mistake.

    chip load       fz = F / (n z)           mm, F mm/min, n rev/min, z flutes
    surface speed   vc = pi d n / 1000       m/min, d mm

Source of the formulas: Machinery's Handbook, speeds and feeds.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import Cutter, CutterKind, Material, pass_depth, tip_length
from letterply.proof.judging.reporting import BITE_MM, Judge
from letterply.units import about_mm, format_exact, format_feed, format_mm

__all__ = ["OVERLOAD", "Load"]

OVERLOAD = 1.5
"""How many times the usual chip load, surface speed or depth of a pass a cutter bears; common
practice, no source."""

_REFERENCE_MM = 6.0
"""Diameter that chip loads of materials are told for, and the most that a V-bit works with."""

_A_TURN = 0.02
"""What a drill goes down a turn, as a share of its diameter; common practice, no source."""

_USUAL_RPM = 18_000.0
"""Spindle speed of small cutters; common practice, no source."""

_PAUSE_SHARE = 0.999
_FLAT_SHARE = 1.001


class Load(Judge):
    """Judges what moves ask of the cutter; see `letterply.proof.judging.conduct`."""

    def judge(self) -> None:
        """Find overloads, and starts and pauses that harm the cutter or the work."""
        if self.setup.material is not None:
            self._passes(self.setup.material)
            self._chips(self.setup.material)
            self._speeds(self.setup.material)
        self._starts()
        self._pauses()

    def _of_each(self, figure: Callable[[Cutter], float]) -> NDArray[np.float64]:
        """Return a figure of the cutter of each move, (n,); infinite where it is not known."""
        table = np.array([*(figure(c) for c in self.toolpath.cutters), math.inf])
        found: NDArray[np.float64] = table[self.toolpath.cutter]
        return found

    def _passes(self, material: Material) -> None:
        def deepest(cutter: Cutter) -> float:
            if not cutter.flutes:
                return math.inf
            if cutter.kind is CutterKind.DRILL:
                return OVERLOAD * cutter.diameter_mm + tip_length(cutter)
            own = self.setup.feeds.get(cutter.key)
            usual = pass_depth(cutter, material, _working(cutter))
            given = own.depth_per_pass_mm if own is not None else None
            return OVERLOAD * max(usual, given or 0.0)

        most = self._of_each(deepest)
        self.report(
            "deep-pass",
            self.feed_move & (self.core > most + BITE_MM),
            lambda i: (
                f"{self.named(i)} cuts {about_mm(self.core[i])} deep at once, it bears "
                f"{about_mm(most[i])}"
            ),
            rank=np.nan_to_num(self.core / most),
            unit="",
            limit=1.0,
        )

    def _chips(self, material: Material) -> None:
        def thickest(cutter: Cutter) -> float:
            if not cutter.flutes:
                return math.inf
            if cutter.kind is CutterKind.DRILL:
                usual = _A_TURN * cutter.diameter_mm / cutter.flutes
            else:
                usual = material.chip_load_mm[1] * _working(cutter) / _REFERENCE_MM
            own = self.setup.feeds.get(cutter.key)
            if own is not None:  # the other half of a maker's figures is the usual one
                rpm = own.spindle_rpm or self._usual_rpm(cutter, material)
                feed = max(own.feed_mm_per_min or 0.0, own.plunge_mm_per_min or 0.0)
                feed = feed or usual * cutter.flutes * self._usual_rpm(cutter, material)
                usual = max(usual, feed / (rpm * cutter.flutes))
            return OVERLOAD * usual

        most = self._of_each(thickest)
        edges = self._of_each(lambda c: c.flutes or math.inf)
        with np.errstate(divide="ignore", invalid="ignore"):
            chips = np.nan_to_num(self.moves.feeds / (self.moves.rpms * edges), posinf=0.0)
        cutting = self.feed_move & self.turning & (self.bite > BITE_MM)
        self.report(
            "chip-load",
            cutting & (chips > most * _FLAT_SHARE),
            lambda i: (
                f"{self.named(i)} takes {format_exact(chips[i])} a tooth at "
                f"{format_feed(self.moves.feeds[i])} and {self.moves.rpms[i]:.0f} rev/min, it "
                f"bears {format_exact(most[i])}"
            ),
            rank=np.nan_to_num(chips / most),
            unit="",
            limit=1.0,
        )

    def _usual_rpm(self, cutter: Cutter, material: Material) -> float:
        bears = 1000 * material.max_surface_speed_m_per_min / (math.pi * cutter.diameter_mm)
        low, high = self.machine.spindle_min_rpm, self.machine.spindle_max_rpm
        return min(max(min(_USUAL_RPM, bears), low), high)

    def _speeds(self, material: Material) -> None:
        machine = self.machine

        def fastest(cutter: Cutter) -> float:
            if not cutter.flutes:
                return math.inf
            own = self.setup.feeds.get(cutter.key)
            bears = 1000 * material.max_surface_speed_m_per_min / (math.pi * cutter.diameter_mm)
            given = own.spindle_rpm if own is not None else None
            return OVERLOAD * max(bears, machine.spindle_min_rpm, given or 0.0)

        most = self._of_each(fastest)
        self.report(
            "surface-speed",
            self.turning & (self.bite > BITE_MM) & (self.moves.rpms > most * _FLAT_SHARE),
            lambda i: (
                f"{self.named(i)} turns at {self.moves.rpms[i]:.0f} rev/min, its edge bears "
                f"{most[i]:.0f} rev/min in this material"
            ),
            rank=self.moves.rpms,
            unit="rev/min",
        )

    def _starts(self) -> None:
        """Find cuts of a spindle that was not given its time to come up."""
        wanted = self.machine.spin_up_s
        if not wanted:
            return
        early = np.zeros(len(self.moves), dtype=np.bool_)
        paused = np.full(len(self.moves), math.inf)
        cutting = (self.bite > BITE_MM) & ~self.drag & ~self.beam
        for program, reading in enumerate(self.toolpath.readings):
            mine = np.flatnonzero(self.toolpath.program == program)
            firsts = [s.move for s in reading.spindle_starts]
            for number, start in enumerate(reading.spindle_starts):
                stop = firsts[number + 1] if number + 1 < len(firsts) else len(mine)
                bites = mine[start.move : stop][cutting[mine[start.move : stop]]]
                if not len(bites):
                    continue
                first = int(bites[0])
                seconds = sum(
                    p.seconds
                    for p in reading.pauses
                    if p.line >= start.line and p.move <= first - mine[0]
                )
                early[first] = seconds < wanted * _PAUSE_SHARE
                paused[first] = seconds
        self.report(
            "spin-up",
            early,
            lambda i: (
                f"{self.named(i)} cuts {paused[i]:g} s after the spindle was started, it comes up "
                f"in {wanted:g} s"
            ),
            rank=-paused,
            unit="s",
            limit=-wanted,
        )

    def _pauses(self) -> None:
        """Find pauses while a cutter turns in the stock: it rubs and burns there."""
        waiting = np.zeros(len(self.moves), dtype=np.bool_)
        seconds = np.zeros(len(self.moves))
        for program, reading in enumerate(self.toolpath.readings):
            mine = np.flatnonzero(self.toolpath.program == program)
            for pause in reading.pauses:
                if pause.seconds <= 0 or not 0 < pause.move <= len(mine):
                    continue
                before = int(mine[pause.move - 1])
                waiting[before] = True
                seconds[before] += pause.seconds
        with np.errstate(invalid="ignore"):
            deep = self.moves.ends[:, 2] < -BITE_MM
        self.report(
            "pause-in-cut",
            waiting & deep & self.turning & ~self.beam,
            lambda i: (
                f"{self.named(i)} stands still {seconds[i]:g} s while it turns "
                f"{format_mm(round(float(-self.moves.ends[i, 2]), 3))} below the face"
            ),
            rank=seconds,
            unit="s",
            limit=0.0,
        )


def _working(cutter: Cutter) -> float:
    """Return the diameter that stands for the cutter: a V-bit works with its lower part."""
    if cutter.kind is CutterKind.VBIT:
        return min(cutter.diameter_mm, _REFERENCE_MM)
    return cutter.diameter_mm
