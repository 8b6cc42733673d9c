"""What may cut what: the one place that knows.

A machine, its cutters and a material in; out come the cutters that may do a piece of work, or why
none may. Checks, the planner, the vetting of orders, estimates and papers all ask here, so that
none of them promises what another refuses.

Terms: *work* is an outline (cut through), a pocket, a groove, scribed lines or a drilled hole. Its
depth is what the cutter goes down by, mm. What goes through goes a little deeper than the sheet is
thick, or leaves a skin (`through_depth`). Geometry is left to others: whether a cutter finds room
in a pocket is theirs to measure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from letterply.catalogue.machines import Machine
from letterply.catalogue.measured import is_measured
from letterply.catalogue.model import Beam, Cutter, CutterKind, Material
from letterply.catalogue.shop import Shop
from letterply.findings import Remedy, RemedyAction
from letterply.names import in_sentence
from letterply.requests import HoldDown
from letterply.said import Said, named, say
from letterply.shapes import ROUNDING
from letterply.units import about_mm, format_mm, listed

__all__ = [
    "SKIN_MM",
    "THROUGH_MM",
    "CutterRack",
    "Refusal",
    "Work",
    "pass_depth",
    "through_depth",
    "tip_length",
]

THROUGH_MM = 0.2
"""How far a through cut goes into the spoil board: 0.1 mm to 0.5 mm, common practice, no source."""

SKIN_MM = 0.3
"""Skin left under parts that are not held otherwise; common practice, no source."""

_DRILL_NARROWER_MM = 0.051
"""How much narrower than its hole a drill may be, in diameter."""

_DRILL_WIDER_MM = 0.03
"""And how much wider: less than cutters may cut into the side of a part."""


class Work(StrEnum):
    """What a cutter is asked to do."""

    OUTLINE = "outline"
    POCKET = "pocket"
    GROOVE = "groove"
    SCRIBE = "scribe"
    DRILL = "drill"


_KIND = {
    Work.OUTLINE: CutterKind.FLAT,
    Work.POCKET: CutterKind.FLAT,
    Work.GROOVE: CutterKind.VBIT,
    Work.SCRIBE: CutterKind.DRAG,
    Work.DRILL: CutterKind.DRILL,
}

_BY_BEAM = (Work.OUTLINE, Work.SCRIBE)
"""What a beam does: it cuts right through, or draws on the face."""

_NAME = {
    CutterKind.FLAT: say("end mill"),
    CutterKind.VBIT: say("V-bit"),
    CutterKind.DRAG: say("drag point"),
    CutterKind.DRILL: say("drill"),
    CutterKind.BEAM: say("beam"),
}


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a piece of work is not done.

    Attributes:
        code: that of its finding: `refused` where it must not be done, `depth` where nothing
            reaches deep enough, `uncut` where the rack has nothing that does it.
        why: what is wrong, in a clause that a maker understands.
        remedy: the best way out, in words; see `remedies`.
        measured_mm, limit_mm: depth asked for and the most there is, for `depth`.

    """

    code: str
    why: Said
    remedy: Said
    measured_mm: float | None = None
    limit_mm: float | None = None

    @property
    def remedies(self) -> tuple[Remedy, ...]:
        """The ways out, best first."""
        if self.code == "refused":
            return (
                Remedy(RemedyAction.CHANGE_MATERIAL, self.remedy),
                Remedy(RemedyAction.SWAP_CUTTER, say("cut it with a router")),
            )
        return (Remedy(RemedyAction.SWAP_CUTTER, self.remedy),)


def through_depth(thickness_mm: float, hold_down: HoldDown) -> float:
    """Return how deep a cut goes that frees a part, mm: short of the underside for a skin."""
    if hold_down is HoldDown.BED:
        return thickness_mm
    return thickness_mm + (-SKIN_MM if hold_down is HoldDown.SKIN else THROUGH_MM)


def tip_length(cutter: Cutter) -> float:
    """Return the length of a drill's point, d / (2 tan(q/2)), mm.

    A 3 mm drill of 118 degrees: 0.901291 mm.
    """
    return cutter.diameter_mm / (2 * cutter.half_angle_tan)


def pass_depth(cutter: Cutter, material: Material, working_mm: float) -> float:
    """Return how deep one pass goes with a cutter that works `working_mm` wide, mm."""
    return min(material.pass_depth_factor * working_mm, cutter.cutting_length_mm)


@dataclass(frozen=True, slots=True)
class CutterRack:
    """The cutters of a shop before one material.

    Attributes:
        cutters: what the rack holds.
        material: what is to be cut.
        machine: what moves them; None where none is chosen yet: then router and beam are both
            at hand, and no travel limits the depth.

    """

    cutters: tuple[Cutter, ...]
    material: Material
    machine: Machine | None = None

    @classmethod
    def of(cls, shop: Shop, material: Material) -> CutterRack:
        """Return the rack of a shop."""
        return cls(shop.cutters, material, shop.machine)

    @property
    def by_beam(self) -> bool:
        """Whether a beam is all there is to cut with."""
        if self.machine is not None:
            return self.machine.kind == "beam"
        return bool(self.cutters) and all(c.kind is CutterKind.BEAM for c in self.cutters)

    @property
    def must_not(self) -> Refusal | None:
        """Why the material must not be cut on this machine at all; None when it may be."""
        return self._beam_refusal() if self.by_beam else None

    def able(
        self, work: Work, depth_mm: float = 0.0, *, angle_deg: float | None = None
    ) -> tuple[Cutter, ...]:
        """Return the cutters that may do the work to this depth, smallest first.

        Args:
            work: what is to be done.
            depth_mm: how deep; for a groove where it starts, as its floor goes flat where no bit
                reaches further; for a drill without its point.
            angle_deg: included angle that a groove asks for; None for any.

        """
        meant = self._meant(work, angle_deg)
        return tuple(c for c in meant if self._reaches(c, work, depth_mm))

    def through(self, thickness_mm: float, hold_down: HoldDown) -> tuple[Cutter, ...]:
        """Return the cutters that cut parts out of a sheet, smallest first."""
        found = []
        for cutter in self._meant(Work.OUTLINE, None):
            held = HoldDown.BED if cutter.kind is CutterKind.BEAM else hold_down
            if self._reaches(cutter, Work.OUTLINE, through_depth(thickness_mm, held)):
                found.append(cutter)
        return tuple(found)

    def drill_for(self, diameter_mm: float, depth_mm: float) -> Cutter | None:
        """Return the drill that makes a hole of this size, or None when none does."""
        fitting = (
            c
            for c in self.able(Work.DRILL, depth_mm)
            if -_DRILL_NARROWER_MM < c.diameter_mm - diameter_mm < _DRILL_WIDER_MM
        )
        return min(fitting, key=lambda c: c.key, default=None)

    def refusal(
        self, work: Work, depth_mm: float, what: Said, *, angle_deg: float | None = None
    ) -> Refusal | None:
        """Return why no cutter may do the work; None when one may.

        Args:
            work: what is to be done.
            depth_mm: how deep, as for `able`.
            what: the work in words, `a pocket 4 mm deep`.
            angle_deg: as for `able`.

        """
        if self.able(work, depth_mm, angle_deg=angle_deg):
            return None
        if self.must_not is not None:
            return self.must_not
        if self.by_beam and work not in _BY_BEAM:
            return Refusal(
                "uncut",
                say("a beam machine cuts right through, it cannot make {what}", what=what),
                say("make it on a router, or leave it out"),
            )
        kind = CutterKind.BEAM if self.by_beam else _KIND[work]
        angle = "" if angle_deg is None else say("{angle} degree ", angle=f"{angle_deg:g}")
        name = say("{angle}{name}", angle=angle, name=_NAME[kind])
        there = [c for c in self.cutters if c.kind is kind and _is_of(c, angle_deg)]
        if not there:
            return Refusal(
                "uncut",
                say("the rack has no {name} for {what}", name=name, what=what),
                say("add {an} to the rack", an=_an(name)),
            )
        meant = self._meant(work, angle_deg)
        mine = in_sentence(self.material.name)
        if not meant:
            classes = sorted({str(m) for c in there for m in c.materials})
            return Refusal(
                "uncut",
                say(
                    "no {name} in the rack is meant for {mine}, only for {classes}, so "
                    "none may make {what}",
                    name=name,
                    mine=mine,
                    classes=listed([named(one) for one in classes]),
                    what=what,
                ),
                say(
                    "add {an} for {kind} to the rack",
                    an=_an(name),
                    kind=named(str(self.material.kind)),
                ),
            )
        return self._too_short(meant, work, depth_mm, what, name)

    def through_refusal(self, thickness_mm: float, hold_down: HoldDown) -> Refusal | None:
        """Return why no cutter cuts parts out of a sheet; None when one does."""
        if self.through(thickness_mm, hold_down):
            return None
        depth = through_depth(thickness_mm, HoldDown.BED if self.by_beam else hold_down)
        deep = "" if self.by_beam else say(" {depth} deep", depth=format_mm(depth))
        what = say(
            "a cut{deep} through {thickness} of {material}",
            deep=deep,
            thickness=format_mm(thickness_mm),
            material=in_sentence(self.material.name),
        )
        return self.refusal(Work.OUTLINE, depth, what)

    def hole_refusal(
        self, diameter_mm: float, depth_mm: float, what: Said, *, room_mm: float
    ) -> Refusal | None:
        """Return why no drill or end mill makes a hole through the sheet; None when one does.

        Args:
            diameter_mm: of the hole.
            depth_mm: of a through cut.
            what: the hole in words.
            room_mm: largest end mill that goes in.

        """
        if self.by_beam:
            return self.must_not
        if self.drill_for(diameter_mm, depth_mm) is not None:
            return None
        mills = self.able(Work.POCKET, depth_mm)
        if any(c.diameter_mm <= room_mm + ROUNDING for c in mills):
            return None
        size = format_mm(diameter_mm)
        said = say(
            "for {what} the rack has neither a {size} drill nor an end mill narrow enough",
            what=what,
            size=size,
        )
        return Refusal(
            "uncut",
            said,
            say("add a {size} drill to the rack", size=size),
        )

    def narrow_refusal(self, wide_mm: float, depth_mm: float, what: Said) -> Refusal:
        """Return why no cutter finds room between walls `wide_mm` apart; some reach the floor."""
        smallest = self.able(Work.POCKET, depth_mm)[0]
        return Refusal(
            "uncut",
            say(
                "{what} is {wide} wide, and the smallest cutter that goes so deep is {diameter}",
                what=what,
                wide=about_mm(wide_mm, beside=smallest.diameter_mm),
                diameter=format_mm(smallest.diameter_mm),
            ),
            say(
                "make it wider, or add an end mill under {wide} to the rack", wide=about_mm(wide_mm)
            ),
        )

    def part_refusal(
        self, side_mm: float, thickness_mm: float, hold_down: HoldDown
    ) -> Refusal | None:
        """Return why a part is too small to be cut out; None when it is not.

        `side_mm` is the shorter side of the part.
        """
        through = self.through(thickness_mm, hold_down)
        if self.by_beam or not through or side_mm >= through[0].diameter_mm:
            return None
        return Refusal(
            "uncut",
            say(
                "only {side} across, and the smallest cutter that goes through "
                "{thickness} is {diameter}",
                side=about_mm(side_mm, beside=through[0].diameter_mm),
                thickness=format_mm(thickness_mm),
                diameter=format_mm(through[0].diameter_mm),
            ),
            say(
                "make it larger, or add an end mill under {side} to the rack",
                side=about_mm(side_mm),
            ),
        )

    def _kinds(self, work: Work) -> tuple[CutterKind, ...]:
        if self.machine is None and work is Work.OUTLINE:
            return CutterKind.FLAT, CutterKind.BEAM
        if not self.by_beam:
            return (_KIND[work],)
        return (CutterKind.BEAM,) if work in _BY_BEAM else ()

    def _meant(self, work: Work, angle_deg: float | None) -> tuple[Cutter, ...]:
        """Return the cutters of the right kind that are meant for the material."""
        kinds = self._kinds(work)
        barred = self.material.beam is Beam.REFUSED
        fitting = (
            c
            for c in self.cutters
            if c.kind in kinds
            and (not c.materials or self.material.kind in c.materials)
            and not (barred and c.kind is CutterKind.BEAM)
            and _is_of(c, angle_deg)
        )
        return tuple(sorted(fitting, key=lambda c: (c.diameter_mm, c.key)))

    def _reaches(self, cutter: Cutter, work: Work, depth_mm: float) -> bool:
        if work is Work.DRILL:
            depth_mm += tip_length(cutter)
        if work is Work.GROOVE and cutter.cutting_length_mm <= depth_mm:
            return False  # it would touch the floor that it starts on, no more
        return depth_mm <= self._reach(cutter) + ROUNDING

    def _reach(self, cutter: Cutter) -> float:
        """Return how deep a cutter comes on this machine: by its length, within its travel."""
        if self.machine is None or cutter.kind is CutterKind.BEAM:
            return cutter.cutting_length_mm
        travel = self.machine.z_travel_mm - self.machine.safe_height_mm
        return min(cutter.cutting_length_mm, travel)

    def _too_short(
        self, meant: Sequence[Cutter], work: Work, depth_mm: float, what: Said, name: Said
    ) -> Refusal:
        drilling = work is Work.DRILL
        most = max(self._reach(c) - (tip_length(c) if drilling else 0.0) for c in meant)
        cutter = max(meant, key=lambda c: (c.cutting_length_mm, c.key))
        if self.machine is not None and self._reach(cutter) < cutter.cutting_length_mm:
            return Refusal(
                "depth",
                say(
                    "the machine {machine} goes only {most} deep below its travel height, "
                    "too little for {what}",
                    machine=repr(self.machine.name),
                    most=format_mm(most),
                    what=what,
                ),
                say("take thinner stock"),
                depth_mm,
                most,
            )
        return Refusal(
            "depth",
            say(
                "no {name} in the rack is long enough for {what}: the longest cuts {most} deep",
                name=name,
                what=what,
                most=format_mm(most),
            ),
            say(
                "add {an} that cuts {depth} deep to the rack",
                an=_an(name),
                depth=format_mm(depth_mm),
            ),
            depth_mm,
            most,
        )

    def _beam_refusal(self) -> Refusal | None:
        if self.material.beam is not Beam.REFUSED:
            return None
        return Refusal(
            "refused",
            say(
                "{material} must not be cut by a beam. {beam_reason}",
                material=named(self.material.name),
                beam_reason=named(self.material.beam_reason),
            ),
            say("take a material that a beam may cut"),
        )


_MEASURED_WITHIN_DEG = 5.0
"""A bit that was measured answers to an angle that it misses by no more: it is sold by that."""


def _is_of(cutter: Cutter, angle_deg: float | None) -> bool:
    """Whether a cutter is of the angle that is asked for, or is sold by it."""
    if angle_deg is None or angle_deg == cutter.included_angle_deg:
        return True
    near = abs(angle_deg - cutter.included_angle_deg) <= _MEASURED_WITHIN_DEG
    return near and is_measured(cutter, "included_angle_deg")


def _an(name: Said) -> Said:
    return say("an {name}", name=name) if name[0] in "aeio8" else say("a {name}", name=name)
