"""A survey: which glyphs of a font to look at, and what they are to be cut from and with.

    {"font": "playfair-display", "axes": {"wght": 700}, "set": "latin-basic",
     "material": "acrylic-cast", "thickness": "3 mm", "cutters": ["flat-1"],
     "cap_height": "40 mm", "supported": true, "compare": ["oswald"],
     "limits": {"safety_factor": 3}}

What is looked at is one of `set`, `text` and `characters`; `first` and `count` ask for a page of
it. Fonts are compared for a text, so `compare` needs one.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema, model_validator

from letterply.requests.fields import Figures, Key, Within, long_length, mistake
from letterply.requests.limits import Limits
from letterply.requests.shop import ShopWish

__all__ = ["GLYPH_SET_NAMES", "MAX_GLYPHS", "SurveyRequest"]

MAX_GLYPHS = 2000
"""Glyphs of one page."""

_LOOKED_AT = ("set", "text", "characters")
GLYPH_SET_NAMES = ("digits", "latin-basic", "latin-extended", "all")


def _known_set(name: str) -> str:
    if name not in GLYPH_SET_NAMES:
        raise mistake(
            "unknown-set",
            f"There is no set called {name[:40]!r}.",
            f"one of: {', '.join(GLYPH_SET_NAMES)}",
        )
    return name


def _one_page(count: int) -> int:
    if count > MAX_GLYPHS:
        raise mistake(
            "too-many-glyphs",
            "The survey asks for too many glyphs at once.",
            f"a whole number from 1 to {MAX_GLYPHS}",
        )
    return count


def _not_blank(text: str) -> str:
    if not text.strip():
        raise mistake("bad-value", "The text is blank.", "at least one character that can be seen")
    return text


def _listed(value: object) -> object:
    return [value] if isinstance(value, str) else value


_Set = Annotated[
    str,
    AfterValidator(_known_set),
    WithJsonSchema({"type": "string", "enum": list(GLYPH_SET_NAMES)}),
]
_Text = Annotated[str, Field(min_length=1, max_length=2000), AfterValidator(_not_blank)]
_Characters = Annotated[str, Field(min_length=1, max_length=10_000), AfterValidator(_not_blank)]
_Cutters = Annotated[
    list[Key],
    BeforeValidator(_listed, json_schema_input_type=str | list[str]),
    Field(max_length=200),
]


class SurveyRequest(Figures):
    """Have the glyphs of a font looked at: a set, a text or some characters.

    Attributes:
        font: key of a font.
        axes: variable axis tag -> value.
        set: `latin-basic` when nothing is named; `all` is every glyph, page by page.
        text: words, sized as set, and their glyphs.
        characters: characters, each on its own.
        first: how many glyphs to leave out at the start.
        count: how many to look at, at most.
        compare: other fonts to compare for the text.
        material: key of a material.
        thickness_mm: of its sheet.
        cutters: keys of cutters; the smallest that reaches through counts. All flat ones where
            they are left out.
        supported: glued flat onto a layer below.
        cap_height_mm: size at which closing counters and blockers are told.
        largest_mm: cap heights above are not looked at.
        limits: in place of the house's own.
        shop: whose materials and cutters count, and in whose units it is told.

    """

    font: Key = Field(examples=["playfair-display"])
    axes: Annotated[dict[str, float], Field(max_length=64)] = Field(default_factory=dict)
    set: _Set | None = None
    text: _Text | None = None
    characters: _Characters | None = None
    first: Annotated[int, Field(ge=0, le=10_000_000)] = 0
    count: Annotated[int, Field(ge=1), AfterValidator(_one_page)] = 500
    compare: Annotated[list[Key], Field(max_length=20)] = Field(default_factory=list)
    material: Key = "acrylic-cast"
    thickness_mm: Annotated[float, long_length, Within(ge=0.2, le=100)] = 3.0
    cutters: _Cutters = Field(default_factory=list)
    supported: bool = False
    cap_height_mm: Annotated[float, long_length, Within(ge=1, le=3000)] = 50.0
    largest_mm: Annotated[float, long_length, Within(ge=1, le=2000)] = 500.0
    limits: Limits = Limits()
    shop: ShopWish | None = None

    @model_validator(mode="before")
    @classmethod
    def _something_is_looked_at(cls, raw: Any) -> Any:
        if isinstance(raw, Mapping) and all(raw.get(n) is None for n in _LOOKED_AT):
            return {**raw, "set": "latin-basic"}
        return raw

    @model_validator(mode="after")
    def _one_thing_is_looked_at(self) -> SurveyRequest:
        given = [n for n in _LOOKED_AT if getattr(self, n) is not None]
        if len(given) > 1:
            raise mistake(
                "bad-value",
                f"A survey looks at one thing, not at {' and '.join(given)}.",
                "one of set, text, characters",
                field=given[1],
            )
        if self.characters is not None and len({*self.characters}) > MAX_GLYPHS:
            raise mistake(
                "too-many-glyphs",
                f"{len({*self.characters})} characters are too many for one survey.",
                f"at most {MAX_GLYPHS} characters",
                field="characters",
            )
        if self.compare and self.text is None:
            raise mistake(
                "missing-field",
                "Fonts are compared for a text, and there is none.",
                "the words to compare them for",
                field="text",
            )
        return self
