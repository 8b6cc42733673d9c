"""A layer while it is being built: a region with work on it, before it falls into parts."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import NOTHING_MEASURED, Measured
from letterply.findings import Finding
from letterply.lettering import Lettering
from letterply.names import visible
from letterply.requests import LayerRecipe, ThroughLettering
from letterply.shapes import EMPTY, GRID_PER_MM, Region, as_region, normalise
from letterply.stacks.features.edges import FLAT_REACH_MM, REACH_MM, lines_over, region_over
from letterply.stacks.model import Part, Repair
from letterply.stacks.outlines.plates import hole_region
from letterply.stacks.work import Groove, Hole, Pocket, Scribe

__all__ = ["LayerDraft"]


@dataclass(slots=True)
class LayerDraft:
    """What is known of a layer so far; changed in place by the builders, then made into parts.

    Attributes:
        recipe: what was asked for.
        index: its place, from the bottom.
        solid: its outline before anything is cut through it.
        through: what is cut through it, round holes apart.
        lettering: the lettering its outline was made of, or None for a plate.
        holes, pockets, grooves, scribes: work on the whole layer.
        history: what was joined or changed, in words.
        from_back: whether it is cut from its back.
        stencils: cuts through it that want bridges, each with the feature that asks; once they
            have them, what is left of them is in `through`.
        repairs: what repairs changed.
        safe: for a blank, where it may be worked; None for a layer that is cut.
        plain_solid, plain_through: outline and cuts without any repair; None where they are the
            same.
        findings: doubts that arose while it was worked.
        measured: what the shop has measured, for what the recipe leaves to it.

    """

    recipe: LayerRecipe
    index: int
    solid: Region
    through: Region = EMPTY
    lettering: Lettering | None = None
    holes: list[Hole] = field(default_factory=list)
    pockets: list[Pocket] = field(default_factory=list)
    grooves: list[Groove] = field(default_factory=list)
    scribes: list[Scribe] = field(default_factory=list)
    history: list[str] = field(default_factory=list)
    from_back: bool = False
    stencils: list[tuple[Region, ThroughLettering]] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)
    safe: Region | None = None
    plain_solid: Region | None = None
    plain_through: Region | None = None
    findings: list[Finding] = field(default_factory=list)
    measured: Measured = NOTHING_MEASURED

    @property
    def path(self) -> str:
        """Dotted path of the layer in the request."""
        return f"recipe.layers.{self.index}"

    @property
    def true_mm(self) -> float | None:
        """How thick its sheet was measured to be; None where it was not, and of blanks."""
        if self.safe is not None:
            return None
        true = self.measured.thickness(self.recipe.material, self.recipe.thickness)
        return None if true is None else true.measured_mm

    @property
    def sheet_mm(self) -> float:
        """How thick its sheet really is, as far as that is known; floors are held to it."""
        return self.recipe.thickness if self.true_mm is None else self.true_mm

    @property
    def plain(self) -> tuple[Region, Region]:
        """Outline and cuts without any repair."""
        solid = self.solid if self.plain_solid is None else self.plain_solid
        return solid, self.through if self.plain_through is None else self.plain_through

    def shift(self, dx_mm: float, dy_mm: float) -> None:
        """Move everything, back onto the grid."""

        def move(region: Region) -> Region:
            return normalise(translate(region, dx_mm, dy_mm))

        self.solid, self.through = move(self.solid), move(self.through)
        if self.safe is not None:
            self.safe = move(self.safe)
        if self.plain_solid is not None:
            self.plain_solid = move(self.plain_solid)
        if self.plain_through is not None:
            self.plain_through = move(self.plain_through)
        self.repairs = [
            replace(r, region=move(r.region), where=r.where.moved(dx_mm, dy_mm))
            for r in self.repairs
        ]
        self.holes = [
            replace(h, x_mm=round(h.x_mm + dx_mm, 5), y_mm=round(h.y_mm + dy_mm, 5))
            for h in self.holes
        ]
        self.pockets = [replace(p, region=move(p.region)) for p in self.pockets]
        self.grooves = [replace(g, region=move(g.region)) for g in self.grooves]
        self.scribes = [
            replace(
                s,
                lines=tuple(
                    shapely.transform(
                        line, lambda c: np.rint((c + (dx_mm, dy_mm)) * GRID_PER_MM) / GRID_PER_MM
                    )
                    for line in s.lines
                ),
            )
            for s in self.scribes
        ]
        if self.lettering is not None:
            self.lettering = self.lettering.moved(dx_mm, dy_mm)

    def cut_region(self, hole_tolerance_mm: float) -> Region:
        """Return the layer's region with everything cut through it taken out."""
        cuts = [
            hole_region(h.x_mm, h.y_mm, h.diameter_mm, hole_tolerance_mm)
            for h in self.holes
            if h.depth_mm is None
        ]
        gone = shapely.union_all([self.through, *cuts])
        return normalise(shapely.difference(self.solid, gone))

    def parts(self, pieces: tuple[Polygon, ...]) -> tuple[Part, ...]:
        """Return the pieces as named parts, each with the work that lies on it."""
        letters = [""] * len(pieces)
        read: list[tuple[int, ...]] = [()] * len(pieces)
        if self.lettering is not None:
            read = self.lettering.letters_on([as_region(p) for p in pieces])
            texts = ("".join(self.lettering.letters[i].text for i in on) for on in read)
            letters = [visible(text) for text in texts]
        found: list[Part] = []
        seen: dict[str, int] = {}
        # In reading order, whichever way the script runs; dots and marks of a letter by place.
        order = sorted(range(len(pieces)), key=lambda i: (read[i], pieces[i].bounds[:2]))
        for i in order:
            stem = f"{self.recipe.name}.{letters[i]}" if letters[i] else self.recipe.name
            seen[stem] = seen.get(stem, 0) + 1
            name = stem if seen[stem] == 1 else f"{stem}-{seen[stem]}"
            found.append(self._part(name, pieces[i], letters[i], read[i]))
        return tuple(sorted(found, key=lambda p: p.name))

    def _part(self, name: str, piece: Polygon, letters: str, indices: tuple[int, ...]) -> Part:
        filled = Polygon(piece.exterior)
        shapely.prepare(filled)
        return Part(
            name=name,
            layer=self.recipe.name,
            outline=piece,
            letters=letters,
            holes=tuple(h for h in self.holes if filled.contains(shapely.Point(h.x_mm, h.y_mm))),
            pockets=tuple(
                replace(
                    p,
                    region=region,
                    over=self._over(p.region, piece, FLAT_REACH_MM),
                    detail_mm=self._detail(p.detail_mm),
                )
                for p in self.pockets
                if not (region := _within(p.region, piece)).is_empty
            ),
            grooves=tuple(
                replace(
                    g,
                    region=region,
                    over=self._over(g.region, piece, REACH_MM),
                    detail_mm=self._detail(g.detail_mm),
                )
                for g in self.grooves
                if not (region := _within(g.region, piece)).is_empty
            ),
            scribes=tuple(
                replace(s, lines=lines, over=self._drawn_over(s, piece))
                for s in self.scribes
                if (lines := _lines_within(s.lines, piece))
            ),
            history=tuple(self.history),
            letter_indices=indices,
            ready_made=self.safe is not None,
            detail_mm=self.recipe.detail,
        )

    def _detail(self, own_mm: float | None) -> float | None:
        return self.recipe.detail if own_mm is None else own_mm

    def _over(self, region: Region, piece: Polygon, most_mm: float) -> Region | None:
        """Return an area with what is cut beyond the edges of a piece; None for a blank."""
        return region_over(region, piece, most_mm) if self.safe is None else None

    def _drawn_over(self, scribe: Scribe, piece: Polygon) -> tuple[LineString, ...]:
        # A placement line shows where a layer lies: beside the piece it shows nothing.
        if self.safe is not None or scribe.purpose == "placement":
            return ()
        within = lines_over(scribe.lines, piece)
        return () if within is None else _lines_within(scribe.lines, within)


def _within(region: Region, piece: Polygon) -> Region:
    if piece.contains(region):
        return region
    return normalise(shapely.intersection(region, piece))


def _lines_within(lines: tuple[LineString, ...], piece: BaseGeometry) -> tuple[LineString, ...]:
    shapely.prepare(piece)
    found: list[LineString] = []
    for line in lines:
        if piece.contains(line):
            found.append(line)
        else:
            found.extend(_line_parts(shapely.intersection(line, piece)))
    return tuple(found)


def _line_parts(geometry: BaseGeometry) -> list[LineString]:
    """Return the lines of a cut line, joined where a closed one was cut at its seam."""
    merged = shapely.line_merge(geometry) if not geometry.is_empty else geometry
    return [
        g for g in shapely.get_parts(merged).tolist() if isinstance(g, LineString) and g.length > 0
    ]
