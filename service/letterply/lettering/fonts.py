"""Fonts: loaded from bytes, vetted, described, and shaped with.

A font that exists as a `Font` has outlines, a character map and sensible units. Untrusted bytes
belong in a worker process: parsing them here is limited in size, not in time.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import uharfbuzz as hb
from fontTools.ttLib import TTFont

from letterply.errors import FontError, InputError
from letterply.lettering.outlines import glyph_outline
from letterply.shapes.flatten import SegmentTable

__all__ = ["Axis", "Font", "FontFacts", "describe", "load_font"]

_MAX_BYTES = 40_000_000
_SIGNATURES = (b"\0\1\0\0", b"OTTO", b"true", b"wOFF", b"wOF2")


@dataclass(frozen=True, slots=True)
class Axis:
    """A variable axis: tag, name and range in the font's own units."""

    tag: str
    name: str
    least: float
    default: float
    largest: float


@dataclass(frozen=True, slots=True)
class FontFacts:
    """What a font says of itself.

    Attributes:
        family, style: names for people.
        version, copyright, licence, licence_url: as the font states them.
        outlines: `TrueType` or `CFF`.
        glyph_count, character_count: how much it holds.
        units_per_em: its grid.
        cap_height_em, x_height_em: share of the em.
        axes: variable axes.
        features: OpenType feature tags for substitution and positioning.
        embedding: what its embedding bits say, in words.

    """

    family: str
    style: str
    version: str
    copyright: str
    licence: str
    licence_url: str
    outlines: str
    glyph_count: int
    character_count: int
    units_per_em: int
    cap_height_em: float
    x_height_em: float
    axes: tuple[Axis, ...]
    features: tuple[str, ...]
    embedding: str


class Font:
    """A usable font at one place of its design space.

    Args:
        key: name under which it was found.
        data: the file as an uncompressed OpenType font.
        location: axis tag -> value; axes not named stand at their default.

    """

    def __init__(self, key: str, data: bytes, location: Mapping[str, float] | None = None) -> None:
        self.key = key
        self._data = data
        self.location = dict(sorted((location or {}).items()))
        self._tables = TTFont(io.BytesIO(data), lazy=True)
        self.units_per_em: int = int(self._tables["head"].unitsPerEm)
        self._glyph_set = self._tables.getGlyphSet(location=self.location or None)
        self._order: list[str] = self._tables.getGlyphOrder()
        self._outlines: dict[int, tuple[SegmentTable, ...]] = {}

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
        return Font(self.key, self._data, location)

    @cached_property
    def harfbuzz(self) -> hb.Font:
        """The font for shaping, at this place of its design space, in font units."""
        shaper = hb.Font(hb.Face(self._data))
        shaper.scale = (self.units_per_em, self.units_per_em)
        if self.location:
            shaper.set_variations(self.location)
        return shaper

    def outline(self, glyph: int) -> tuple[SegmentTable, ...]:
        """Return the contours of a glyph in font units; raises `FontError`."""
        found = self._outlines.get(glyph)
        if found is None:
            found = glyph_outline(self._glyph_set, self._order[glyph])
            self._outlines[glyph] = found
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
        return frozenset(self._tables.getBestCmap() or {})

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
        cmap = self._tables.getBestCmap() or {}
        for letter in letters:
            name = cmap.get(ord(letter))
            if name is not None:
                contours = self.outline(self._tables.getGlyphID(name))
                if contours:
                    return max(float(points[:, 0, 1].max()) for points, _ in contours)
        return share * self.units_per_em

    @cached_property
    def facts(self) -> FontFacts:
        """What the font says of itself."""
        tables = self._tables
        names = tables.get("name")

        def name(*ids: int) -> str:
            for number in ids:
                text = names.getDebugName(number) if names else None
                if text:
                    return str(text).strip()[:2000]
            return ""

        axes = tuple(
            Axis(
                a.axisTag,
                (names.getDebugName(a.axisNameID) if names else None) or a.axisTag,
                a.minValue,
                a.defaultValue,
                a.maxValue,
            )
            for a in (tables["fvar"].axes if "fvar" in tables else ())
        )
        features: set[str] = set()
        for tag in ("GSUB", "GPOS"):
            table = getattr(tables.get(tag), "table", None)
            if table is not None and table.FeatureList is not None:
                features |= {r.FeatureTag for r in table.FeatureList.FeatureRecord}
        return FontFacts(
            family=name(16, 1) or self.key,
            style=name(17, 2),
            version=name(5),
            copyright=name(0),
            licence=name(13),
            licence_url=name(14),
            outlines="TrueType" if "glyf" in tables else "CFF",
            glyph_count=len(self._order),
            character_count=len(self.characters),
            units_per_em=self.units_per_em,
            cap_height_em=self.cap_height / self.units_per_em,
            x_height_em=self.x_height / self.units_per_em,
            axes=axes,
            features=tuple(sorted(features)),
            embedding=_embedding(int(getattr(tables.get("OS/2"), "fsType", 0) or 0)),
        )


def load_font(key: str, data: bytes, *, field: str = "font") -> Font:
    """Return the font in `data` (TrueType, CFF, variable; WOFF and WOFF2 are unpacked).

    Raises:
        FontError: `not-a-font`, `font-unreadable`, `font-without-outlines`, naming `field`.

    """
    if not data.startswith(_SIGNATURES):
        what = "a font collection" if data.startswith(b"ttcf") else "no font file"
        raise FontError(
            f"This is {what}.",
            code="not-a-font",
            field=field,
            expected="a TTF, OTF, WOFF or WOFF2 file",
        )
    if len(data) > _MAX_BYTES:
        raise FontError(
            "The font file is too large.",
            code="font-too-large",
            field=field,
            expected=f"at most {_MAX_BYTES // 1_000_000} MB",
        )
    try:
        tables = TTFont(io.BytesIO(data), lazy=True)
        if tables.flavor is not None:
            tables.flavor = None
            plain = io.BytesIO()
            tables.save(plain, reorderTables=None)
            data = plain.getvalue()
        if not ({"glyf", "CFF ", "CFF2"} & set(tables.keys())):
            raise FontError(
                "The font has no outlines to cut (bitmaps or colour pictures only).",
                code="font-without-outlines",
                field=field,
                expected="a font with TrueType or CFF outlines",
            )
        font = Font(key, data)
        if not 16 <= font.units_per_em <= 16384 or not font.characters:
            raise FontError(
                "The font has no characters or a senseless unit.",
                code="font-unreadable",
                field=field,
                expected="16 to 16384 units an em and a character map",
            )
        # Reading every table that a request may touch now turns a late surprise into an answer.
        _ = font.facts, font.harfbuzz, font.outline(0)
    except FontError as exc:
        raise (exc if exc.field else exc.at(field)) from exc
    except Exception as exc:  # broken files make fontTools raise errors of any kind
        raise FontError(
            f"The font file cannot be read ({type(exc).__name__}).",
            code="font-unreadable",
            field=field,
            expected="a whole TTF, OTF, WOFF or WOFF2 file",
        ) from exc
    return font


def _embedding(bits: int) -> str:
    """Say what OS/2 fsType means (OpenType specification, OS/2, fsType)."""
    usage = bits & 0xF
    # Old fonts set several bits; the least restrictive then holds.
    if usage & 8:
        said = "editable embedding"
    elif usage & 4:
        said = "preview and print embedding"
    elif usage & 2:
        said = "restricted: embedding needs the owner's permission"
    else:
        said = "installable embedding"
    if bits & 0x100:
        said += ", no subsetting"
    if bits & 0x200:
        said += ", bitmaps only"
    return said


def describe(font: Font) -> dict[str, Any]:
    """Return the facts of a font as plain JSON values."""
    facts = font.facts
    return {
        "key": font.key,
        "family": facts.family,
        "style": facts.style,
        "version": facts.version,
        "outlines": facts.outlines,
        "glyph_count": facts.glyph_count,
        "character_count": facts.character_count,
        "units_per_em": facts.units_per_em,
        "cap_height_em": round(facts.cap_height_em, 4),
        "x_height_em": round(facts.x_height_em, 4),
        "axes": [
            {
                "tag": a.tag,
                "name": a.name,
                "least": a.least,
                "default": a.default,
                "largest": a.largest,
            }
            for a in facts.axes
        ],
        "features": list(facts.features),
        "copyright": facts.copyright,
        "licence": facts.licence,
        "licence_url": facts.licence_url,
        "embedding": facts.embedding,
        "licence_caution": (
            "Embedding bits speak of documents. Goods made for sale with a font's shapes may need "
            "a licence of their own: read the font's licence."
        ),
    }
