"""Moves, cutters and machine in, what is wrong with the way the cutter moves out.

Nothing here looks at the parts. A *bite* is how far a segment cut below what it met: whether a
move is in material is measured, not guessed from its height. One fault stands for all moves of a
program with the same trouble: it names the worst and counts the rest.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Cutter, CutterKind, Machine
from letterply.findings import Severity
from letterply.names import in_sentence
from letterply.proof.model import Fault
from letterply.proof.reading.moves import RAPID
from letterply.proof.reading.toolpath import POWER_SHARE, TOP_OF_TRAVEL_MM, Toolpath
from letterply.requests import BeamPower
from letterply.shapes import LEAST_DIVISOR, SAME_MM
from letterply.sheets import Sheet
from letterply.units import about_mm, format_mm

__all__ = ["BITE_MM", "judge_conduct"]

BITE_MM = 0.02
"""Bite from which on a move counts as cutting; below lie rounding and the grain of the field."""

_PLUNGE_BITE_MM = 0.05
_EDGE_MM = 1.0
_BED_MM = 0.1
_FEED_SLACK = 0.5
_RATE_SHARE = 0.02
"""Slopes are known as well as the chords that stand for them."""
_STEEP = math.tan(math.radians(45))
_UPRIGHT = math.tan(math.radians(87))

Where = NDArray[np.bool_]


def judge_conduct(
    toolpath: Toolpath,
    bites: NDArray[np.float64],
    sheet: Sheet,
    machine: Machine,
    *,
    through_mm: float,
    power: BeamPower | None = None,
) -> tuple[Fault, ...]:
    """Return what is wrong with the moves of a toolpath.

    Args:
        toolpath: all moves.
        bites: (m,) float64, mm, bite of each segment.
        sheet: gives size and thickness of the stock.
        machine: gives limits.
        through_mm: how far a through cut goes below the underside; negative for a skin.
        power: the maker's own figures for the sheet under a beam.

    """
    judge = _Judge(toolpath, bites, sheet, machine, through_mm)
    judge.positions()
    judge.feeds()
    judge.spindle()
    if machine.kind == "beam":
        judge.beam_power(power)
    judge.cutting()
    judge.room()
    return tuple(judge.faults)


class _Judge:
    def __init__(
        self,
        toolpath: Toolpath,
        bites: NDArray[np.float64],
        sheet: Sheet,
        machine: Machine,
        through_mm: float,
    ) -> None:
        self.toolpath = toolpath
        self.stock = sheet.stock
        self.blanks: BaseGeometry | None = None
        if sheet.of_blanks:
            self.blanks = shapely.union_all([p.part.outline for p in sheet.parts])
        self.machine = machine
        self.through_mm = through_mm
        self.faults: list[Fault] = []
        self.moves = toolpath.moves
        n = len(self.moves)
        self.bite = np.zeros(n)
        np.maximum.at(self.bite, toolpath.segments.moves, bites)
        kinds = [c.kind for c in toolpath.cutters]
        self.beam = self._is([k is CutterKind.BEAM for k in kinds])
        self.drag = self._is([k is CutterKind.DRAG for k in kinds])
        self.known = toolpath.cutter >= 0
        self.turning = (self.moves.spindles != 0) & (self.moves.rpms > 0)
        self.feed_move = self.moves.kinds != RAPID
        step = self.moves.ends - self.moves.starts
        self.plane = np.hypot(step[:, 0], step[:, 1])
        self.drop = -step[:, 2]

    def _is(self, flags: list[bool]) -> Where:
        table = np.array([*flags, False])
        found: Where = table[self.toolpath.cutter]
        return found

    def _cutter(self, move: int) -> Cutter:
        return self.toolpath.cutters[int(self.toolpath.cutter[move])]

    def _named(self, move: int) -> str:
        return f"the {in_sentence(self._cutter(move).name)}"

    def _report(
        self,
        code: str,
        where: Where,
        text: Callable[[int], str],
        *,
        rank: NDArray[np.float64] | None = None,
        limit: float | None = None,
        unit: str = "mm",
        severity: Severity = Severity.BLOCKER,
    ) -> None:
        """Add one fault a program for the moves in `where`, speaking of the one ranked highest."""
        for program in range(len(self.toolpath.sources)):
            mine = np.flatnonzero(where & (self.toolpath.program == program))
            if not len(mine):
                continue
            worst = int(mine[0] if rank is None else mine[int(np.argmax(rank[mine]))])
            name, line = self.toolpath.line_of(worst)
            more = f", in {len(mine)} places" if len(mine) > 1 else ""
            end = self.moves.ends[worst, :2]
            self.faults.append(
                Fault(
                    code,
                    severity,
                    f"{text(worst)[0].upper()}{text(worst)[1:]}{more}.",
                    program=name,
                    line=line,
                    where=(float(end[0]), float(end[1])) if np.isfinite(end).all() else None,
                    measured=None if rank is None else round(float(rank[worst]), 4),
                    limit=limit,
                    unit=unit,
                )
            )

    def positions(self) -> None:
        """Find moves that depend on where the machine happened to stand."""
        starts, ends = self.moves.starts, self.moves.ends
        unknown_xy = ~np.isfinite(starts[:, :2]).all(axis=1)
        unknown_end = ~np.isfinite(ends).all(axis=1)
        height = ~np.isfinite(starts[:, 2]) & ~self.beam
        sideways = (ends[:, 0] != starts[:, 0]) | (ends[:, 1] != starts[:, 1])
        both_unknown = np.isnan(ends[:, :2]).all(axis=1) & np.isnan(starts[:, :2]).all(axis=1)
        sideways &= ~both_unknown
        self._report(
            "unknown-position",
            ~self.feed_move & height & sideways,
            lambda i: "The machine travels sideways before the height of the cutter is known",
        )
        with np.errstate(invalid="ignore"):
            low = ends[:, 2] < 0
        blind = (self.feed_move & (unknown_xy | unknown_end | height)) | (unknown_xy & low)
        self._report(
            "unknown-position",
            blind,
            lambda i: "A cut starts from a place that is not known",
        )

    def feeds(self) -> None:
        """Find feeds above the machine's limits."""
        limit = self.machine.max_feed_mm_per_min
        feeds = self.moves.feeds
        self._report(
            "feed",
            self.feed_move & (feeds > limit + _FEED_SLACK),
            lambda i: (
                f"The feed is {feeds[i]:.0f} mm/min, the machine takes {limit:.0f} mm/min at most"
            ),
            rank=feeds,
            limit=limit,
            unit="mm/min",
        )
        lengths = np.maximum(self.moves.lengths_mm, LEAST_DIVISOR)
        with np.errstate(invalid="ignore"):
            upright = np.abs(self.drop) > _UPRIGHT * self.plane
            rate = np.nan_to_num(feeds * np.abs(self.drop) / lengths)
        fast = self.feed_move & ~self.beam
        fast &= rate > self.machine.max_plunge_mm_per_min * (1 + _RATE_SHARE)
        plunge_limit = self.machine.max_plunge_mm_per_min
        for mask, severity in (
            (fast & upright, Severity.BLOCKER),
            (fast & ~upright, Severity.CAUTION),
        ):
            self._report(
                "feed",
                mask,
                lambda i: (
                    f"The z axis would have to move at {rate[i]:.0f} mm/min, the machine takes "
                    f"{plunge_limit:.0f} mm/min at most"
                ),
                rank=rate,
                limit=plunge_limit,
                unit="mm/min",
                severity=severity,
            )

    def spindle(self) -> None:
        """Hold the state and speed of the spindle against what cuts."""
        moves, machine = self.moves, self.machine
        rotating = self.known & ~self.drag & ~self.beam
        cutting = self.bite > BITE_MM
        if machine.spindle_off:  # otherwise it is switched by hand
            self._report(
                "spindle-off",
                cutting & rotating & ~self.turning,
                lambda i: f"The spindle stands still while {self._named(i)} cuts",
            )
        self._report(
            "spindle-on",
            self.drag & self.turning & self._below() & (machine.kind != "beam"),
            lambda i: f"The spindle turns while {self._named(i)} scribes",
        )
        self._report(
            "spindle-direction",
            rotating & (moves.spindles < 0) & cutting,
            lambda i: f"The spindle turns the wrong way (M4) while {self._named(i)} cuts",
        )
        low, high = machine.spindle_min_rpm, machine.spindle_max_rpm
        running = rotating & self.turning & cutting
        wrong = (moves.rpms < low - _FEED_SLACK) | (moves.rpms > high + _FEED_SLACK)
        self._report(
            "spindle-speed",
            running & wrong,
            lambda i: (
                f"The spindle speed is {moves.rpms[i]:.0f} rev/min, the machine turns at "
                f"{low:.0f} to {high:.0f} rev/min"
            ),
            rank=moves.rpms,
            limit=high,
            unit="rev/min",
        )

    def beam_power(self, power: BeamPower | None) -> None:
        """Find travel with the beam on, and cuts at another power than the maker's own."""
        lit = self.beam & self.turning
        self._report(
            "beam-on", lit & ~self.feed_move, lambda i: "The beam is on while the machine travels"
        )
        full, rpms = self.machine.power_full, self.moves.rpms
        own = () if power is None else (power.cut_percent, power.scribe_percent)
        wanted = [full * percent / 100 for percent in own if percent is not None]
        off = np.full(len(self.moves), math.inf)
        for level in wanted:
            off = np.minimum(off, np.abs(rpms - level))
        told = " or ".join(f"S{level:g}" for level in wanted)
        self._report(
            "power",
            lit & self.feed_move & (off > POWER_SHARE * full),
            lambda i: (
                f"The beam cuts at S{rpms[i]:g}, the power you entered is {told}"
                if told
                else f"The beam cuts at S{rpms[i]:g}, and no power was entered for this sheet"
            ),
            unit="",
        )

    def _below(self) -> Where:
        with np.errstate(invalid="ignore"):
            below: Where = np.minimum(self.moves.starts[:, 2], self.moves.ends[:, 2]) < -SAME_MM
        return below

    def cutting(self) -> None:
        """Find rapid moves in material, plunges, and cuts deeper than the cutter is long."""
        bite = self.bite
        self._report(
            "rapid-in-stock",
            ~self.feed_move & (bite > BITE_MM),
            lambda i: f"The machine travels through material, {about_mm(bite[i])} deep",
            rank=bite,
            limit=0.0,
        )
        sinking = self._is([not c.can_plunge for c in self.toolpath.cutters]) & self.feed_move
        with np.errstate(invalid="ignore"):
            steep = self.drop > _STEEP * self.plane
        self._report(
            "plunge",
            sinking & steep & (bite > _PLUNGE_BITE_MM),
            lambda i: (
                f"{self._named(i)} goes {about_mm(bite[i])} straight down into material "
                "and cannot plunge"
            ),
            rank=bite,
            limit=0.0,
        )
        lengths = np.array([c.cutting_length_mm for c in self.toolpath.cutters] + [math.inf])
        reach = lengths[self.toolpath.cutter]
        with np.errstate(invalid="ignore"):
            depth = np.nan_to_num(-np.minimum(self.moves.starts[:, 2], self.moves.ends[:, 2]))
        self._report(
            "reach",
            ~self.beam & (depth > reach + BITE_MM) & (bite > BITE_MM),
            lambda i: (
                f"{self._named(i)} cuts {about_mm(depth[i])} deep, but its cutting edges are "
                f"only {format_mm(reach[i])} long"
            ),
            rank=depth,
        )

    def room(self) -> None:
        """Find travel outside machine and stock, and cuts into the bed."""
        self._travel()
        segments = self.toolpath.segments
        under = np.minimum(segments.starts[:, 2], segments.ends[:, 2]) < -BITE_MM
        width, height = self.stock.width_mm, self.stock.height_mm
        xs = np.stack([segments.starts[:, 0], segments.ends[:, 0]])
        ys = np.stack([segments.starts[:, 1], segments.ends[:, 1]])
        dx = np.maximum(np.maximum(-xs, xs - width), 0)
        dy = np.maximum(np.maximum(-ys, ys - height), 0)
        away = np.hypot(dx, dy).max(axis=0) - self.toolpath.radii()
        what = "the edge of the sheet"
        if self.blanks is not None:
            what = "the edge of the blanks"
            ends = [shapely.points(p[:, :2]) for p in (segments.starts, segments.ends)]
            beside = [np.asarray(shapely.distance(self.blanks, p)) for p in ends]
            away = np.maximum(*beside) - self.toolpath.radii()
        out = np.zeros(len(self.moves))
        np.maximum.at(out, segments.moves, np.where(under, away, 0))
        self._report(
            "outside-stock",
            self.feed_move & (out > _EDGE_MM),
            lambda i: f"A cut runs {about_mm(out[i])} beyond {what}",
            rank=out,
            limit=_EDGE_MM,
        )
        tips = [
            p.tip_length_mm if c.kind is CutterKind.DRILL else 0.0
            for c, p in zip(self.toolpath.cutters, self.toolpath.profiles, strict=True)
        ]
        allowed = self.stock.thickness_mm + self.through_mm + _BED_MM
        limits = np.array([allowed + t for t in tips] + [math.inf])[self.toolpath.cutter]
        with np.errstate(invalid="ignore"):
            depth = np.nan_to_num(-np.minimum(self.moves.starts[:, 2], self.moves.ends[:, 2]))
        into = "the skin that holds the parts" if self.through_mm < 0 else "the bed"
        self._report(
            "below-bed",
            ~self.beam & (depth > limits),
            lambda i: (
                f"The cutter goes {about_mm(depth[i])} deep into a sheet of "
                f"{format_mm(self.stock.thickness_mm)}: into {into}"
            ),
            rank=depth,
            limit=allowed,
        )

    def _travel(self) -> None:
        """Compare the travel of each program, from the corner of the stock, with the machine's."""
        points = np.vstack([self.moves.starts, self.moves.ends])
        owner = np.concatenate([self.toolpath.program, self.toolpath.program])
        bed = (*self.machine.bed_mm, self.machine.z_travel_mm)
        for program, source in enumerate(self.toolpath.sources):
            for axis, name in enumerate("xyz"):
                values = points[owner == program, axis]
                values = values[np.isfinite(values) & (values < TOP_OF_TRAVEL_MM - 200)]
                if axis < 2:  # the corner of the stock lies on the bed too
                    values = points[owner == program, axis]
                    values = np.append(values[np.isfinite(values)], 0.0)
                if not len(values):
                    continue
                span = float(values.max() - values.min())
                if span > bed[axis] + BITE_MM:
                    self.faults.append(
                        Fault(
                            "outside-machine",
                            Severity.BLOCKER,
                            f"The program travels {about_mm(span)} along {name}, "
                            f"the machine {format_mm(bed[axis])} at most.",
                            program=source.name,
                            measured=round(span, 3),
                            limit=bed[axis],
                        )
                    )
