"""A usable font at one place of its design space: what shaping and drawing need.

A font that exists as a `Font` has outlines, a character map and sensible units
(`letterply.lettering.fonts.loading` makes sure). All figures are font units unless they say
otherwise.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Mapping
from functools import cached_property

import numpy as np
import shapely
import uharfbuzz as hb
from fontTools.ttLib import TTFont
from numpy.typing import NDArray

from letterply.errors import FontError, InputError
from letterply.lettering.fonts.facts import FontFacts, read_facts
from letterply.lettering.fonts.outlines import glyph_outline
from letterply.memo import Memo
from letterply.shapes import SegmentTable, flatten_segments

__all__ = ["Font"]

_HULL_STEPS = 20_000
"""Steps an em to which curves are flattened when only their extent is asked for."""

_MOST_PLACES = 64
"""Places of its design space that a font keeps."""


class Font:
    """A usable font at one place of its design space.

    Args:
        key: name under which it was found.
        data: the file as an uncompressed OpenType font.
        location: axis tag -> value; axes not named stand at their default.
        faces: names of the faces of the collection that it came from, if any.

    """

    def __init__(
        self,
        key: str,
        data: bytes,
        location: Mapping[str, float] | None = None,
        faces: tuple[str, ...] = (),
    ) -> None:
        self.key = key
        self.faces = faces
        self._data = data
        self.location = dict(sorted((location or {}).items()))
        self._tables = TTFont(io.BytesIO(data), lazy=True)
        self.units_per_em: int = int(self._tables["head"].unitsPerEm)
        self._glyph_set = self._tables.getGlyphSet(location=self.location or None)
        self._order: list[str] = self._tables.getGlyphOrder()
        self._elsewhere: Memo[tuple[tuple[str, float], ...], Font] = Memo(_MOST_PLACES)
        self._outlines: dict[int, tuple[SegmentTable, ...]] = {}
        self._hulls: dict[int, NDArray[np.float64]] = {}

    def at(self, location: Mapping[str, float], *, field: str = "axes") -> Font:
        """Return the font at another place of its design space.

        Raises:
            InputError: `unknown-axis` or `axis-out-of-range`, naming `field`.

        """
        if not location:
            return self
        axes = {a.tag: a for a in self.facts.axes}
        for tag, value in location.items():
            axis = axes.get(tag)
            if axis is None:
                raise InputError(
                    f"The font {self.key!r} has no axis {tag!r}.",
                    code="unknown-axis",
                    field=f"{field}.{tag}",
                    expected=f"one of: {', '.join(axes)}" if axes else "no axes: it does not vary",
                )
            if not axis.least <= value <= axis.largest:
                raise InputError(
                    f"{tag} {value:g} lies outside the font's range.",
                    code="axis-out-of-range",
                    field=f"{field}.{tag}",
                    expected=f"{axis.least:g} to {axis.largest:g}",
                )
        place = tuple(sorted(location.items()))
        # An order asks for the same place again and again.
        return self._elsewhere.get(place, lambda: Font(self.key, self._data, location, self.faces))

    def instance(self, name: str, *, field: str = "instance") -> dict[str, float]:
        """Return the place of a named instance: axis tag -> value; case does not matter.

        Raises:
            InputError: `unknown-instance`, naming `field` and the instances that there are.

        """
        for instance in self.facts.instances:
            if instance.name.lower() == name.strip().lower():
                return dict(instance.location)
        known = [i.name for i in self.facts.instances]
        raise InputError(
            f"The font {self.key!r} has no named style called {name!r}.",
            code="unknown-instance",
            field=field,
            expected=f"one of: {', '.join(known)}" if known else "no named style: it does not vary",
            data={"known": known},
        )

    @cached_property
    def digest(self) -> str:
        """A digest of the file: what is known of one font holds for any with the same bytes."""
        return hashlib.blake2b(self._data, digest_size=16).hexdigest()

    @cached_property
    def face(self) -> hb.Face:
        """The font as HarfBuzz reads it."""
        return hb.Face(self._data)

    @cached_property
    def harfbuzz(self) -> hb.Font:
        """The font for shaping, at this place of its design space, in font units."""
        shaper = hb.Font(self.face)
        shaper.scale = (self.units_per_em, self.units_per_em)
        if self.location:
            shaper.set_variations(self.location)
        return shaper

    def outline(self, glyph: int) -> tuple[SegmentTable, ...]:
        """Return the contours of a glyph in font units.

        A colour glyph gives the outline that it has for print in one colour, or else the outlines
        of its layers (COLR version 0), one over the other.

        Raises:
            FontError: `bad-outline`; `font-without-outlines` for a glyph that is only a picture.

        """
        found = self._outlines.get(glyph)
        if found is None:
            if glyph >= len(self._order):
                raise FontError(
                    f"The font is broken: a character leads to glyph {glyph}, which is not there.",
                    code="bad-outline",
                    expected="a font with whole outlines",
                )
            found = glyph_outline(self._glyph_set, self._order[glyph])
            if not found and self.facts.colour:
                found = self._colour_outline(glyph)
            self._outlines[glyph] = found
        return found

    def _colour_outline(self, glyph: int) -> tuple[SegmentTable, ...]:
        layers = self.face.get_glyph_color_layers(glyph) or ()
        drawn = [glyph_outline(self._glyph_set, self._order[layer.glyph]) for layer in layers]
        if any(drawn):
            return tuple(contour for layer in drawn for contour in layer)
        picture = (
            self.face.glyph_has_color_paint(glyph)
            or self.face.get_glyph_color_svg(glyph)
            or self.harfbuzz.get_glyph_color_png(glyph)
        )
        if picture:
            raise FontError(
                f"The glyph {self._order[glyph]!r} is a colour picture without an outline to cut.",
                code="font-without-outlines",
                expected="a character with an outline, or another font",
                data={"glyph": self._order[glyph], "font": self.key},
            )
        return ()

    def hull(self, glyph: int) -> NDArray[np.float64]:
        """Return the corners `(n, 2)` of a glyph's convex hull; none for a space."""
        found = self._hulls.get(glyph)
        if found is None:
            contours = self.outline(glyph)
            found = np.empty((0, 2))
            if contours:
                step = self.units_per_em / _HULL_STEPS
                points = np.vstack([flatten_segments(c, step) for c in contours])
                found = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(points)))
            self._hulls[glyph] = found
        return found

    def glyph_name(self, glyph: int) -> str:
        """Return the name of a glyph."""
        return self._order[glyph]

    @property
    def glyph_count(self) -> int:
        """How many glyphs the font holds."""
        return len(self._order)

    @cached_property
    def characters(self) -> frozenset[int]:
        """Code points that the font maps to a glyph."""
        return frozenset(self.face.unicodes)

    def has(self, character: str) -> bool:
        """Tell whether the font maps a character, symbol fonts by their own rule included."""
        point = ord(character)
        return point in self.characters or bool(self.harfbuzz.get_nominal_glyph(point))

    @cached_property
    def cap_height(self) -> float:
        """Height of a flat capital above the baseline, in font units.

        The OS/2 table's sCapHeight where it is sensible, else the top of a flat capital, else
        seven tenths of the em.
        """
        return self._height("sCapHeight", "HIEX", 0.7)

    @cached_property
    def x_height(self) -> float:
        """Height of a flat small letter above the baseline, in font units; see `cap_height`."""
        return self._height("sxHeight", "xzv", 0.5)

    def _height(self, field: str, letters: str, share: float) -> float:
        stated = float(getattr(self._tables.get("OS/2"), field, 0) or 0)
        if 0.15 * self.units_per_em < stated < 1.5 * self.units_per_em:
            return stated
        for letter in letters:
            glyph = self.harfbuzz.get_nominal_glyph(ord(letter))
            if glyph:
                contours = glyph_outline(self._glyph_set, self._order[glyph])
                if contours:
                    return max(float(points[:, 0, 1].max()) for points, _ in contours)
        return share * self.units_per_em

    @cached_property
    def facts(self) -> FontFacts:
        """What the font says of itself."""
        em = self.units_per_em
        heights = (self.cap_height / em, self.x_height / em)
        return read_facts(self._tables, self.key, self.characters, heights)
