"""Paths at the levels that part the stock: at the underside, and at the height of a tab.

The *underside* is where a cut is through (with a skin: where the skin begins); a tab counts as
one when it stands above the underside by half its height at least.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import Cutter, CutterKind
from letterply.proof.model import Setup
from letterply.proof.reading.moves import Boxed
from letterply.proof.reading.toolpath import Toolpath
from letterply.proof.removal.exact import Sweep, through_sweeps
from letterply.requests import HoldDown
from letterply.shapes import ROUNDING

__all__ = ["Levels", "able_cutters"]

_SKIN_MM = 0.02
_PLAIN_TAB_MM = 0.4
_SKIM_MM = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Paths at the underside and at the height of a tab, and how parts are held.

    Attributes:
        through: paths at the underside.
        held: paths at the height of a tab.
        cuts: all cuts below the face.
        stays, radii: (m,), stay and radius of the cutter of each cut.
        hold_down: how parts are held.
        underside_mm: height of the `through` level.
        held_mm: height of the `held` level, negative below the face.
        tab_top_mm: how high a tab may stand, negative below the face; infinite where not known.
        finest_mm: diameter of the narrowest cutter that could cut through, infinite when none.
        detail_mm: how deep an inside corner may stay round that it gets into.

    """

    through: tuple[Sweep, ...]
    held: tuple[Sweep, ...]
    cuts: Boxed
    stays: NDArray[np.int64]
    radii: NDArray[np.float64]
    hold_down: HoldDown
    underside_mm: float
    held_mm: float
    tab_top_mm: float
    finest_mm: float
    detail_mm: float

    @classmethod
    def of(
        cls,
        toolpath: Toolpath,
        setup: Setup,
        thickness_mm: float,
    ) -> Levels:
        """Collect the paths of a course at both levels."""
        through_mm = setup.through_mm
        under = -thickness_mm
        if through_mm < 0:
            under = -(thickness_mm + through_mm) + _SKIN_MM
        rise, top = 0.0, math.inf
        if setup.hold_down is HoldDown.TABS:
            height = _PLAIN_TAB_MM if setup.tab_height_mm is None else setup.tab_height_mm
            rise = min(height / 2, thickness_mm / 2)
            if setup.tab_height_mm is not None:
                top = under + setup.tab_height_mm
        through = through_sweeps(toolpath, under)
        held = through if rise == 0 else through_sweeps(toolpath, under + rise, through)
        able = able_cutters(setup, thickness_mm + through_mm)
        s = toolpath.segments
        deep = np.minimum(s.starts[:, 2], s.ends[:, 2]) < -_SKIM_MM
        return cls(
            through=through,
            held=held,
            cuts=Boxed.of(s.take(deep)),
            stays=toolpath.stays[deep],
            radii=toolpath.radii()[deep],
            hold_down=setup.hold_down,
            underside_mm=under,
            held_mm=under + rise,
            tab_top_mm=top,
            finest_mm=able[0].diameter_mm if able else math.inf,
            detail_mm=setup.detail_mm,
        )


def able_cutters(setup: Setup, depth_mm: float) -> tuple[Cutter, ...]:
    """Return what of the rack cuts flat floors or outlines so deep, narrowest first."""
    machine, material = setup.machine, setup.material
    beam = machine.kind == "beam"
    travel = machine.z_travel_mm - machine.safe_height_mm
    found = [
        c
        for c in setup.cutters.values()
        if c.kind is (CutterKind.BEAM if beam else CutterKind.FLAT)
        and (beam or depth_mm <= min(c.cutting_length_mm, travel) + ROUNDING)
        and (material is None or not c.materials or material.kind in c.materials)
    ]
    return tuple(sorted(found, key=lambda c: (c.diameter_mm, c.key)))
