"""What a font says of itself: names, axes, instances, features, scripts, licence.

fontTools tables in, plain values out. Nothing here judges; limits are on the length of what is
passed on.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from fontTools import unicodedata as scripts

__all__ = ["Axis", "FontFacts", "Instance", "ScriptCount", "count_scripts", "read_facts"]

_MAX_TEXT = 2000
_MAX_NAMES = 256


@dataclass(frozen=True, slots=True)
class Axis:
    """A variable axis: tag, name and range in the font's own units."""

    tag: str
    name: str
    least: float
    default: float
    largest: float


@dataclass(frozen=True, slots=True)
class Instance:
    """A named place in the design space: its name, and axis tag -> value as pairs."""

    name: str
    location: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class ScriptCount:
    """A script that a font covers: ISO 15924 code, name, how many of its characters are there."""

    code: str
    name: str
    characters: int


@dataclass(frozen=True, slots=True)
class FontFacts:
    """What a font says of itself.

    Attributes:
        family, style: names for people.
        version, copyright, licence, licence_url: as the font states them.
        outlines: `TrueType` or `CFF`.
        colour: how colour glyphs are stored: `COLR`, `SVG`, `sbix`, `CBDT`.
        glyph_count, character_count: how much it holds.
        units_per_em: its grid.
        cap_height_em, x_height_em: share of the em.
        axes: variable axes.
        instances: named places in the design space.
        features: OpenType feature tags for substitution and positioning.
        feature_names: tag -> name, for those that have one in the font or in the registry.
        scripts: scripts covered, most characters first.
        embedding: what its embedding bits say, in words.

    """

    family: str
    style: str
    version: str
    copyright: str
    licence: str
    licence_url: str
    outlines: str
    colour: tuple[str, ...]
    glyph_count: int
    character_count: int
    units_per_em: int
    cap_height_em: float
    x_height_em: float
    axes: tuple[Axis, ...]
    instances: tuple[Instance, ...]
    features: tuple[str, ...]
    feature_names: Mapping[str, str]
    scripts: tuple[ScriptCount, ...]
    embedding: str


def read_facts(
    tables: Any,
    key: str,
    characters: Iterable[int],
    heights_em: tuple[float, float],
) -> FontFacts:
    """Return the facts in a font's tables.

    Args:
        tables: a fontTools `TTFont`.
        key: stands in for a family that has no name.
        characters: code points that the font maps.
        heights_em: cap height and x-height as shares of the em.

    """
    names = tables.get("name")

    def name(*ids: int) -> str:
        for number in ids:
            text = names.getDebugName(number) if names else None
            if text:
                return str(text).strip()[:_MAX_TEXT]
        return ""

    variation = tables.get("fvar")
    axes = tuple(
        Axis(a.axisTag, name(a.axisNameID) or a.axisTag, a.minValue, a.defaultValue, a.maxValue)
        for a in (variation.axes if variation else ())
    )
    instances = tuple(
        Instance(
            name(i.subfamilyNameID) or f"instance {number}",
            tuple(sorted((str(t), float(v)) for t, v in i.coordinates.items())),
        )
        for number, i in enumerate(variation.instances[:_MAX_NAMES] if variation else (), 1)
    )
    features = _features(tables, name)
    held = list(characters)
    return FontFacts(
        family=name(16, 1) or key,
        style=name(17, 2),
        version=name(5),
        copyright=name(0),
        licence=name(13),
        licence_url=name(14),
        outlines="TrueType" if "glyf" in tables else "CFF",
        colour=tuple(t.strip() for t in ("COLR", "SVG ", "sbix", "CBDT") if t in tables),
        glyph_count=len(tables.getGlyphOrder()),
        character_count=len(held),
        units_per_em=int(tables["head"].unitsPerEm),
        cap_height_em=heights_em[0],
        x_height_em=heights_em[1],
        axes=axes,
        instances=instances,
        features=tuple(features),
        feature_names={t: n for t, n in features.items() if n},
        scripts=count_scripts(held),
        embedding=_embedding(int(getattr(tables.get("OS/2"), "fsType", 0) or 0)),
    )


def _features(tables: Any, name: Any) -> dict[str, str]:
    """Return feature tag -> name, sorted by tag; the name is empty where there is none.

    Stylistic sets and character variants are named by the font (FeatureParams of GSUB).
    """
    found: dict[str, str] = {}
    for tag in ("GSUB", "GPOS"):
        table = getattr(tables.get(tag), "table", None)
        if table is None or table.FeatureList is None:
            continue
        for record in table.FeatureList.FeatureRecord:
            feature = record.FeatureTag
            params = getattr(record.Feature, "FeatureParams", None)
            number = getattr(params, "UINameID", None) or getattr(params, "FeatUILabelNameID", None)
            named = name(number) if number and tag == "GSUB" else ""
            found[feature] = found.get(feature) or named or _registered(feature)
    return dict(sorted(found.items()))


_REGISTERED = {
    "aalt": "all alternates", "afrc": "alternative fractions",
    "c2sc": "small capitals from capitals",
    "calt": "contextual alternates", "case": "case-sensitive forms", "clig": "contextual ligatures",
    "cpsp": "capital spacing", "cswh": "contextual swash", "dlig": "discretionary ligatures",
    "dnom": "denominators", "fina": "final forms", "frac": "fractions", "hist": "historical forms",
    "hlig": "historical ligatures", "init": "initial forms", "kern": "kerning",
    "liga": "standard ligatures", "lnum": "lining figures", "locl": "localised forms",
    "medi": "medial forms", "numr": "numerators", "onum": "oldstyle figures", "ordn": "ordinals",
    "palt": "proportional alternate widths", "pnum": "proportional figures",
    "rlig": "required ligatures", "salt": "stylistic alternates", "sinf": "scientific inferiors",
    "smcp": "small capitals", "subs": "subscript", "sups": "superscript", "swsh": "swash",
    "titl": "titling", "tnum": "tabular figures", "unic": "unicase", "vert": "vertical writing",
    "zero": "slashed zero",
}  # fmt: skip
"""Friendly names of the OpenType layout tag registry, for features that a maker may switch."""

_NUMBERED = re.compile(r"(ss|cv)([0-9]{2})")


def _registered(tag: str) -> str:
    numbered = _NUMBERED.fullmatch(tag)
    if numbered is None:
        return _REGISTERED.get(tag, "")
    kind = "stylistic set" if numbered[1] == "ss" else "character variant"
    return f"{kind} {int(numbered[2])}"


def count_scripts(characters: Iterable[int]) -> tuple[ScriptCount, ...]:
    """Return the scripts of code points, most characters first; signs of all scripts left out."""
    counts = Counter(scripts.script(chr(c)) for c in characters)
    shared = ("Zyyy", "Zinh", "Zzzz")
    return tuple(
        ScriptCount(code, scripts.script_name(code, default=code).replace("_", " "), n)
        for code, n in sorted(counts.items(), key=lambda pair: (-pair[1], pair[0]))
        if code not in shared
    )


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
