"""A font's facts as plain JSON values."""

from __future__ import annotations

from typing import Any

from letterply.lettering.fonts.font import Font

__all__ = ["describe"]


def describe(font: Font) -> dict[str, Any]:
    """Return the facts of a font as plain JSON values."""
    facts = font.facts
    return {
        "key": font.key,
        "family": facts.family,
        "style": facts.style,
        "version": facts.version,
        "outlines": facts.outlines,
        "colour": list(facts.colour),
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
        "instances": [{"name": i.name, "axes": dict(i.location)} for i in facts.instances],
        "features": list(facts.features),
        "feature_names": dict(facts.feature_names),
        "scripts": [
            {"code": s.code, "name": s.name, "characters": s.characters} for s in facts.scripts
        ],
        "faces": list(font.faces),
        "copyright": facts.copyright,
        "licence": facts.licence,
        "licence_url": facts.licence_url,
        "embedding": facts.embedding,
        "licence_caution": (
            "Embedding bits speak of documents. Goods made for sale with a font's shapes may need "
            "a licence of their own: read the font's licence."
        ),
    }
