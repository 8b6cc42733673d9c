"""Limits that the checks hold measures against, where the catalogue has none.

Every figure here is a rule of thumb (common practice, no source) unless its line names one; a
caller may override any of them.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["DEFAULT_RULES", "CheckRules"]


@dataclass(frozen=True, slots=True)
class CheckRules:
    """Limits of the checks.

    Attributes:
        safety_factor: the snap load divided by this is what a neck may be trusted with.
        handling_load_n: load that a part must stand while it is peeled off, sanded and glued.
        supported_load_n: the same for a part that is glued flat onto a layer below.
        neck_ratio: a thin place longer than this many limits is a stroke, a shorter one a neck.
        tip_angle_deg: walls that meet at less than this are a tip, at more a plain corner.
        crumb_mm: shorter side below which a part is too small for tabs.
        lost_mm: depth left uncut in a corner above which it is a caution, not a note.
        floor_mm: material that must stay under a groove or pocket.
        overhang_mm: how far an upper layer may stand out over the one below without mention.

    """

    safety_factor: float = 2.0
    handling_load_n: float = 2.0
    supported_load_n: float = 0.5
    neck_ratio: float = 3.0
    tip_angle_deg: float = 40.0
    crumb_mm: float = 15.0
    lost_mm: float = 0.5
    floor_mm: float = 0.8
    overhang_mm: float = 0.5

    def __post_init__(self) -> None:
        if self.safety_factor < 1 or self.neck_ratio <= 0:
            raise ValueError("safety_factor is at least 1 and neck_ratio above 0")
        if not 0 < self.tip_angle_deg < 180:
            raise ValueError("tip_angle_deg lies between 0 and 180")
        lengths = (self.crumb_mm, self.lost_mm, self.floor_mm, self.overhang_mm)
        if min(self.handling_load_n, self.supported_load_n, *lengths) < 0:
            raise ValueError("loads and lengths are not negative")


DEFAULT_RULES = CheckRules()
