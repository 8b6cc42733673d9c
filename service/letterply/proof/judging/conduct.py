"""Moves, cutters and machine in, what is wrong with the way the cutter moves out.

Heights of travel are judged in `letterply.proof.judging.travel`,
the load on the cutter in `letterply.proof.judging.load`, cuts in the waste in
`letterply.proof.judging.straying`; all else about the parts, elsewhere.
"""

from __future__ import annotations

import math

import numpy as np
import shapely

from letterply.catalogue import CutterKind
from letterply.findings import Severity
from letterply.proof.judging.load import Load
from letterply.proof.judging.reporting import BITE_MM, Judge
from letterply.proof.judging.straying import Straying
from letterply.proof.judging.target import Target
from letterply.proof.judging.travel import EDGE_MM, Travel
from letterply.proof.model import Fault, Setup
from letterply.proof.reading.toolpath import POWER_SHARE, TOP_OF_TRAVEL_MM, Toolpath
from letterply.proof.removal.swept import Bites
from letterply.requests import BeamPower
from letterply.shapes import LEAST_DIVISOR
from letterply.sheets import Sheet
from letterply.units import about_mm, format_feed, format_mm

__all__ = ["BITE_MM", "judge_conduct"]

_PLUNGE_BITE_MM = 0.05
_BED_MM = 0.1
_FEED_SLACK = 0.5
_RATE_SHARE = 0.02
"""Slopes are known as well as the chords that stand for them."""
_STEEP = math.tan(math.radians(45))
_UPRIGHT = math.tan(math.radians(87))


def judge_conduct(
    toolpath: Toolpath,
    bites: Bites,
    sheet: Sheet,
    setup: Setup,
    target: Target,
) -> tuple[Fault, ...]:
    """Return what is wrong with the moves of a toolpath.

    Args:
        toolpath: all moves.
        bites: what each segment bit.
        sheet: gives size and thickness of the stock.
        setup: gives the limits of machine, cutters and material.
        target: gives what is asked for.

    """
    judge = _Conduct(toolpath, bites, sheet, setup)
    judge.positions()
    judge.feeds()
    judge.spindle()
    if setup.machine.kind == "beam":
        judge.beam_power(setup.power)
    judge.cutting()
    judge.room()
    travel, load = Travel(toolpath, bites, sheet, setup), Load(toolpath, bites, sheet, setup)
    travel.judge()
    load.judge()
    straying = Straying(toolpath, bites, sheet, setup)
    straying.judge(bites, target)
    return (*judge.faults, *travel.faults, *load.faults, *straying.faults)


class _Conduct(Judge):
    def positions(self) -> None:
        """Find moves that depend on where the machine happened to stand."""
        starts, ends = self.moves.starts, self.moves.ends
        unknown_xy = ~np.isfinite(starts[:, :2]).all(axis=1)
        unknown_end = ~np.isfinite(ends).all(axis=1)
        height = ~np.isfinite(starts[:, 2]) & ~self.beam
        sideways = (ends[:, 0] != starts[:, 0]) | (ends[:, 1] != starts[:, 1])
        both_unknown = np.isnan(ends[:, :2]).all(axis=1) & np.isnan(starts[:, :2]).all(axis=1)
        sideways &= ~both_unknown
        self.report(
            "unknown-position",
            ~self.feed_move & height & sideways,
            lambda i: "The machine travels sideways before the height of the cutter is known",
        )
        with np.errstate(invalid="ignore"):
            low = ends[:, 2] < 0
        blind = (self.feed_move & (unknown_xy | unknown_end | height)) | (unknown_xy & low)
        self.report(
            "unknown-position",
            blind,
            lambda i: "A cut starts from a place that is not known",
        )

    def feeds(self) -> None:
        """Find feeds above the machine's limits."""
        limit = self.machine.max_feed_mm_per_min
        feeds = self.moves.feeds
        self.report(
            "feed",
            self.feed_move & (feeds > limit + _FEED_SLACK),
            lambda i: (
                f"The feed is {format_feed(feeds[i])}, the machine takes {format_feed(limit)} at "
                "most"
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
            self.report(
                "feed",
                mask,
                lambda i: (
                    f"The z axis would have to move at {format_feed(rate[i])}, the machine takes "
                    f"{format_feed(plunge_limit)} at most"
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
            self.report(
                "spindle-off",
                cutting & rotating & ~self.turning,
                lambda i: f"The spindle stands still while {self.named(i)} cuts",
            )
        self.report(
            "spindle-on",
            self.drag & self.turning & self.below() & (machine.kind != "beam"),
            lambda i: f"The spindle turns while {self.named(i)} scribes",
        )
        self.report(
            "spindle-direction",
            rotating & (moves.spindles < 0) & cutting,
            lambda i: f"The spindle turns the wrong way (M4) while {self.named(i)} cuts",
        )
        low, high = machine.spindle_min_rpm, machine.spindle_max_rpm
        running = rotating & self.turning & cutting
        wrong = (moves.rpms < low - _FEED_SLACK) | (moves.rpms > high + _FEED_SLACK)
        self.report(
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
        self.report(
            "beam-on", lit & ~self.feed_move, lambda i: "The beam is on while the machine travels"
        )
        full, rpms = self.machine.power_full, self.moves.rpms
        own = () if power is None else (power.cut_percent, power.scribe_percent)
        wanted = [full * percent / 100 for percent in own if percent is not None]
        off = np.full(len(self.moves), math.inf)
        for level in wanted:
            off = np.minimum(off, np.abs(rpms - level))
        told = " or ".join(f"S{level:g}" for level in wanted)
        self.report(
            "power",
            lit & self.feed_move & (off > POWER_SHARE * full),
            lambda i: (
                f"The beam cuts at S{rpms[i]:g}, the power you entered is {told}"
                if told
                else f"The beam cuts at S{rpms[i]:g}, and no power was entered for this sheet"
            ),
            unit="",
        )

    def cutting(self) -> None:
        """Find rapid moves in material, plunges, and cuts deeper than the cutter is long."""
        bite = self.bite
        self.report(
            "rapid-in-stock",
            ~self.feed_move & (bite > BITE_MM),
            lambda i: f"The machine travels through material, {about_mm(bite[i])} deep",
            rank=bite,
            limit=0.0,
        )
        sinking = (
            self.of_cutters([not c.can_plunge for c in self.toolpath.cutters]) & self.feed_move
        )
        with np.errstate(invalid="ignore"):
            steep = self.drop > _STEEP * self.plane
        self.report(
            "plunge",
            sinking & steep & (bite > _PLUNGE_BITE_MM),
            lambda i: (
                f"{self.named(i)} goes {about_mm(bite[i])} straight down into material "
                "and cannot plunge"
            ),
            rank=bite,
            limit=0.0,
        )
        lengths = np.array([c.cutting_length_mm for c in self.toolpath.cutters] + [math.inf])
        reach = lengths[self.toolpath.cutter]
        with np.errstate(invalid="ignore"):
            depth = np.nan_to_num(-np.minimum(self.moves.starts[:, 2], self.moves.ends[:, 2]))
        self.report(
            "reach",
            ~self.beam & (depth > reach + BITE_MM) & (bite > BITE_MM),
            lambda i: (
                f"{self.named(i)} cuts {about_mm(depth[i])} deep, but its cutting edges are "
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
        self.report(
            "outside-stock",
            self.feed_move & (out > EDGE_MM),
            lambda i: f"A cut runs {about_mm(out[i])} beyond {what}",
            rank=out,
            limit=EDGE_MM,
        )
        tips = [
            p.tip_length_mm if c.kind is CutterKind.DRILL else 0.0
            for c, p in zip(self.toolpath.cutters, self.toolpath.profiles, strict=True)
        ]
        allowed = self.stock.thickness_mm + self.setup.through_mm + _BED_MM
        limits = np.array([allowed + t for t in tips] + [math.inf])[self.toolpath.cutter]
        with np.errstate(invalid="ignore"):
            depth = np.nan_to_num(-np.minimum(self.moves.starts[:, 2], self.moves.ends[:, 2]))
        into = "the skin that holds the parts" if self.setup.through_mm < 0 else "the bed"
        self.report(
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
                    mine = np.flatnonzero(self.toolpath.program == program)
                    reach = np.abs(self.moves.ends[mine, axis])
                    reach[~(reach < TOP_OF_TRAVEL_MM - 200) & (axis == 2)] = 0.0
                    farthest = int(mine[int(np.argmax(np.nan_to_num(reach)))])
                    self.faults.append(
                        Fault(
                            "outside-machine",
                            Severity.BLOCKER,
                            f"The program travels {about_mm(span)} along {name}, "
                            f"the machine {format_mm(bed[axis])} at most.",
                            program=source.name,
                            line=int(self.moves.lines[farthest]),
                            measured=round(span, 3),
                            limit=bed[axis],
                        )
                    )
