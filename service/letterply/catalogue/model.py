"""What a shop has: materials, cutters, machines and stock, as frozen values.

Terms: a *material* is a kind of sheet with its data; a *cutter* is what removes it; a *machine*
moves the cutter; *stock* is a size of sheet on the rack, with a count. A value that exists is
usable: impossible figures raise `ValueError`. Where the data come from is in `Source`; reading
the files is `letterply.catalogue.loading`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TypeVar

import shapely
from shapely import Polygon

from letterply.catalogue.figures import require_positive
from letterply.catalogue.kept_clear import KeptClear
from letterply.catalogue.machines import Machine
from letterply.catalogue.outlines import (
    Rings,
    check_rings,
    gone_of,
    outline_of,
    quarter_turned,
)
from letterply.errors import InputError, UnknownName
from letterply.shapes import SAME_MM
from letterply.sources import OWN, Source, Strength

_T = TypeVar("_T")

__all__ = [
    "Beam",
    "Catalogue",
    "Cutter",
    "CutterKind",
    "Material",
    "MaterialClass",
    "Stock",
    "Strength",
]


class MaterialClass(StrEnum):
    """Classes that behave alike under a cutter."""

    SOFTWOOD = "softwood"
    HARDWOOD = "hardwood"
    PLYWOOD = "plywood"
    FIBREBOARD = "fibreboard"
    ACRYLIC = "acrylic"
    PLASTIC = "plastic"
    METAL = "metal"


class Beam(StrEnum):
    """Whether a material may be cut by a beam."""

    ALLOWED = "allowed"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Material:
    """A kind of sheet.

    Attributes:
        key: stable name, lower case with hyphens.
        name: for people.
        kind: how it behaves under a cutter.
        density_kg_per_m3: density.
        bending_strength_mpa: modulus of rupture; for wood along the grain.
        bending_strength_across_mpa: strength of short grain (tension perpendicular to grain for
            solid wood); equal to `bending_strength_mpa` where the sheet has no grain.
        elastic_modulus_mpa: stiffness in bending.
        thermal_expansion_per_k: linear expansion; None where humidity governs.
        moisture_change_percent: how far the size changes over a year indoors, percent across
            the grain; 0 for plastics and metals.
        grain: True when parts may only be turned by 0 or 180 degrees.
        min_web_factor: least safe width as a multiple of the thickness.
        min_web_mm: and never less than this.
        chip_load_mm: chip load a tooth for a 6 mm cutter, low and high.
        pass_depth_factor: depth of a pass as a multiple of the cutter's diameter.
        max_surface_speed_m_per_min: speed above which it melts or burns.
        beam: whether a beam may cut it.
        beam_reason: why not, empty when allowed.
        colour: sRGB colour for pictures, `#rrggbb`.
        thicknesses_mm: thicknesses it is sold in.
        cautions: a shop's own sentences about it, told beside those of its kind.
        strengths: bending strengths by thickness, thinnest first, where they differ; thicker
            sheets have `bending_strength_mpa` and `bending_strength_across_mpa`.
        sources: name of the attribute -> where its value is from.

    """

    key: str
    name: str
    kind: MaterialClass
    density_kg_per_m3: float
    bending_strength_mpa: float
    bending_strength_across_mpa: float
    elastic_modulus_mpa: float
    thermal_expansion_per_k: float | None
    moisture_change_percent: float
    grain: bool
    min_web_factor: float
    min_web_mm: float
    chip_load_mm: tuple[float, float]
    pass_depth_factor: float
    max_surface_speed_m_per_min: float
    beam: Beam
    beam_reason: str
    colour: str
    thicknesses_mm: tuple[float, ...]
    cautions: tuple[str, ...] = ()
    strengths: tuple[Strength, ...] = ()
    sources: Mapping[str, Source] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        positive = (
            "density_kg_per_m3",
            "bending_strength_mpa",
            "bending_strength_across_mpa",
            "elastic_modulus_mpa",
            "min_web_factor",
            "min_web_mm",
            "pass_depth_factor",
            "max_surface_speed_m_per_min",
        )
        require_positive(self, positive)
        low, high = self.chip_load_mm
        if not 0 < low <= high:
            raise ValueError(
                f"{self.key}: a chip load goes from small to large, not {self.chip_load_mm}"
            )
        limits = [s.up_to_mm for s in self.strengths]
        if limits != sorted(set(limits)):
            raise ValueError(f"{self.key}: strengths go from thin to thick")
        if (self.beam is Beam.REFUSED) != bool(self.beam_reason):
            raise ValueError(f"{self.key}: a refused beam needs a reason, an allowed one none")

    def with_figures(self, own: Mapping[str, float]) -> Material:
        """Return the material with figures of a shop's own.

        Raises:
            ValueError: a figure that cannot be.

        """
        sources = {**self.sources, **dict.fromkeys(own, OWN)}
        strong = any(name.startswith("bending_strength") for name in own)
        strengths = () if strong else self.strengths
        return replace(self, sources=sources, strengths=strengths, **own)  # type: ignore[arg-type]

    def min_web(self, thickness_mm: float) -> float:
        """Return the least safe width of a web or stroke in a sheet of this thickness, mm."""
        return max(self.min_web_mm, self.min_web_factor * thickness_mm)

    def weakest_mpa(self, thickness_mm: float) -> float:
        """Return the bending strength of such a sheet in its weakest direction, MPa."""
        for strength in self.strengths:
            if thickness_mm <= strength.up_to_mm + SAME_MM:
                return min(strength.along_mpa, strength.across_mpa)
        return min(self.bending_strength_mpa, self.bending_strength_across_mpa)


class CutterKind(StrEnum):
    """What a cutter does."""

    FLAT = "flat"
    BALL = "ball"
    VBIT = "vbit"
    DRAG = "drag"
    DRILL = "drill"
    BEAM = "beam"


@dataclass(frozen=True, slots=True)
class Cutter:
    """A cutter that can cut.

    Attributes:
        key: stable name.
        name: for people.
        kind: what it does.
        diameter_mm: cutting diameter; for a V-bit the largest, for a beam the kerf, for a drag
            point the width of its line.
        flutes: number of cutting edges, 0 for drag point and beam.
        cutting_length_mm: how deep it can reach.
        included_angle_deg: V-bit, drag point and drill: angle of the tip; 0 otherwise.
        tip_diameter_mm: flat of the tip of a V-bit; 0 otherwise.
        can_plunge: whether it may go straight down into stock.
        materials: keys of material classes it is meant for; empty for all.
        sources: name of the attribute -> where its value is from.

    """

    key: str
    name: str
    kind: CutterKind
    diameter_mm: float
    flutes: int
    cutting_length_mm: float
    included_angle_deg: float = 0.0
    tip_diameter_mm: float = 0.0
    can_plunge: bool = True
    materials: tuple[MaterialClass, ...] = ()
    sources: Mapping[str, Source] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        require_positive(self, ("diameter_mm", "cutting_length_mm"))
        if self.diameter_mm > 150 or self.cutting_length_mm > 300:
            raise ValueError(f"{self.key}: no cutter of this size fits a small router")
        pointed = self.kind in (CutterKind.VBIT, CutterKind.DRAG, CutterKind.DRILL)
        if pointed and not 0 < self.included_angle_deg < 180:
            raise ValueError(
                f"{self.key}: {self.included_angle_deg} is not between 0 and 180 degrees"
            )
        if not 0 <= self.tip_diameter_mm < self.diameter_mm:
            raise ValueError(f"{self.key}: tip {self.tip_diameter_mm} must be less than diameter")
        rotating = self.kind not in (CutterKind.DRAG, CutterKind.BEAM)
        if rotating != (self.flutes >= 1):
            raise ValueError(f"{self.key}: {self.flutes} flutes do not suit a {self.kind}")

    @property
    def radius_mm(self) -> float:
        """Half the diameter."""
        return self.diameter_mm / 2

    @property
    def half_angle_tan(self) -> float:
        """Tangent of half the included angle: radius gained a unit of depth."""
        return math.tan(math.radians(self.included_angle_deg / 2))

    def radius_at(self, depth_mm: float) -> float:
        """Return the cutter's radius at the stock's face when its tip is `depth_mm` below."""
        if self.kind is CutterKind.VBIT or self.kind is CutterKind.DRAG:
            grown = self.tip_diameter_mm / 2 + max(depth_mm, 0.0) * self.half_angle_tan
            return min(grown, self.radius_mm)
        return self.radius_mm


_NOT_GIVEN = {"given": False}
"""Marks what no table of the catalogue says: it follows from the machine."""


@dataclass(frozen=True, slots=True)
class Stock:
    """A size of sheet on the rack.

    Attributes:
        key: stable name.
        material: key of its material.
        thickness_mm: nominal thickness.
        width_mm: size along x (along the grain where there is one).
        height_mm: size along y.
        count: how many there are.
        margin_mm: strip along the edges that is kept free for clamps.
        price: price of a sheet in the shop's currency; 0 when not known.
        offcut: True for a left-over, used before whole sheets.
        sources: name of the attribute -> where its value is from.
        turned: True when it lies on the bed turned by a quarter, its height along the x of the
            machine (`letterply.catalogue.lying`); on a `Sheet` width and height are those that it
            has as it lies there, so that its grain then runs along y.
        reach_mm: how far along width and height parts may lie, from the corner that lies at that
            of the bed; None where the machine reaches all of it.
        beside_mm: how far a cutter comes beside a part, its own width and its way in; parts keep
            as far from the margin and from what is kept clear.
        keep_clear: places that cutters and low travel keep out of, in the sheet's own frame, on
            each of them.
        outline_mm: rings of an irregular sheet, its edge first, then its holes, in its own frame;
            width and height are those of the box round it. Empty for an oblong.

    """

    key: str
    material: str
    thickness_mm: float
    width_mm: float
    height_mm: float
    count: int
    margin_mm: float = 8.0
    price: float = 0.0
    offcut: bool = False
    sources: Mapping[str, Source] = field(default_factory=dict, hash=False)
    turned: bool = field(default=False, metadata=_NOT_GIVEN)
    reach_mm: tuple[float, float] | None = field(default=None, metadata=_NOT_GIVEN)
    beside_mm: float = field(default=0.0, metadata=_NOT_GIVEN)
    keep_clear: tuple[KeptClear, ...] = ()
    outline_mm: Rings = field(default=(), metadata=_NOT_GIVEN)

    def __post_init__(self) -> None:
        require_positive(self, ("thickness_mm", "width_mm", "height_mm"))
        if self.count < 0 or self.margin_mm < 0 or self.price < 0:
            raise ValueError(f"{self.key}: count, margin and price must not be negative")
        if 2 * self.margin_mm >= min(self.width_mm, self.height_mm):
            raise ValueError(f"{self.key}: the margins leave nothing of the sheet")
        for place in self.keep_clear:
            left, low, _, _ = place.area.bounds
            if left >= self.width_mm or low >= self.height_mm:
                raise ValueError(f"{self.key}: {place.words}, lies beside the sheet")
        if self.outline_mm:
            check_rings(self.outline_mm, self.width_mm, self.height_mm, self.key)

    @property
    def material_area(self) -> Polygon:
        """Where there is material: its outline, or all of an oblong."""
        if self.outline_mm:
            return outline_of(self.outline_mm)
        return shapely.box(0.0, 0.0, self.width_mm, self.height_mm)

    @property
    def gone(self) -> tuple[Polygon, ...]:
        """Where the box round an irregular sheet holds no material: beside it, and its holes."""
        return gone_of(self.outline_mm, self.width_mm, self.height_mm)

    @property
    def barred(self) -> tuple[tuple[Polygon, float], ...]:
        """What parts keep from within the box round it, and how far beside what a cutter takes.

        Beside clamps and screws a cutter needs its own room alone; from the edge of an irregular
        sheet and of its holes parts keep its margin as from a straight one.
        """
        places = ((place.area, 0.0) for place in self.keep_clear)
        return *places, *((area, self.margin_mm) for area in self.gone)

    @property
    def edge_mm(self) -> float:
        """How far parts keep from its edges: its margin, and what a cutter takes beside them."""
        return self.margin_mm + self.beside_mm

    @property
    def room_mm(self) -> tuple[float, float]:
        """Width and height of where parts lie: within its edges and the machine's reach."""
        far = self.reach_mm or (math.inf, math.inf)
        width = min(self.width_mm - self.edge_mm, far[0]) - self.edge_mm
        height = min(self.height_mm - self.edge_mm, far[1]) - self.edge_mm
        return max(width, 0.0), max(height, 0.0)

    def as_it_lies(self) -> Stock:
        """Return it as it lies on the bed: width and height exchanged where it is turned."""
        if not self.turned:
            return self
        reach = None if self.reach_mm is None else (self.reach_mm[1], self.reach_mm[0])
        places = tuple(k.quarter_turned(self.height_mm) for k in self.keep_clear)
        return replace(
            self,
            width_mm=self.height_mm,
            height_mm=self.width_mm,
            reach_mm=reach,
            keep_clear=places,
            outline_mm=quarter_turned(self.outline_mm, self.height_mm),
        )


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All of it, by key."""

    materials: Mapping[str, Material]
    cutters: Mapping[str, Cutter]
    machines: Mapping[str, Machine]
    stock: Mapping[str, Stock]

    def material(self, key: str, *, field: str = "material") -> Material:
        """Return the material called `key`.

        Raises:
            UnknownName: `unknown-material`, naming `field`.

        """
        return _look_up("material", self.materials, key, field)

    def cutter(self, key: str, *, field: str = "cutters") -> Cutter:
        """Return the cutter called `key`, or raise `UnknownName` (`unknown-cutter`)."""
        return _look_up("cutter", self.cutters, key, field)

    def machine(self, key: str, *, field: str = "machine") -> Machine:
        """Return the machine called `key`, or raise `UnknownName` (`unknown-machine`)."""
        return _look_up("machine", self.machines, key, field)

    def with_figures(
        self, figures: Mapping[str, Mapping[str, float]], *, field: str = "limits.materials"
    ) -> Catalogue:
        """Return the catalogue with other figures of some materials, attribute -> figure.

        Raises:
            UnknownName: a material that is not there.
            InputError: `out-of-range`, a figure that cannot be.

        """
        changed = dict(self.materials)
        for key, own in figures.items():
            where = f"{field}.{key}"
            try:
                changed[key] = self.material(key, field=where).with_figures(own)
            except ValueError as exc:
                raise InputError(
                    f"A figure of the material {key!r} is out of range.",
                    code="out-of-range",
                    field=where,
                    expected=str(exc),
                ) from exc
        return replace(self, materials=changed) if figures else self


def _look_up(kind: str, library: Mapping[str, _T], key: str, field: str) -> _T:
    try:
        return library[key]
    except (KeyError, TypeError):  # what is no text is no key either
        raise UnknownName(kind, key, tuple(library), field=field) from None
