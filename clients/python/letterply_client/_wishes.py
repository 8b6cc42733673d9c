"""What a survey may be asked for, beside the font."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypedDict

__all__ = ["SurveyWishes", "survey_request"]


class SurveyWishes(TypedDict, total=False):
    """What to look at (one of `named`, `text` and `characters`), and for what.

    Attributes:
        named: a set of glyphs, as `latin-basic` or `all`.
        text: words as they would be set.
        characters: characters, each on its own.
        first: how many glyphs to leave out at the start.
        count: how many to look at, at most.
        compare: other fonts, to be compared for the text.
        material: key of the material.
        thickness: of the sheet, mm or text with a unit.
        cutters: keys of cutters; the smallest that reaches through counts.
        supported: glued flat onto a layer below.
        cap_height: size to be told about, mm or text with a unit.
        largest: cap heights above are not looked at.
        axes: variable axis tag -> value.

    """

    named: str | None
    text: str | None
    characters: str | None
    first: int | None
    count: int | None
    compare: Iterable[str] | None
    material: str | None
    thickness: float | str | None
    cutters: Iterable[str] | None
    supported: bool | None
    cap_height: float | str | None
    largest: float | str | None
    axes: Mapping[str, float] | None


def survey_request(font: str, wishes: SurveyWishes) -> dict[str, Any]:
    """Return the request of a survey; what is not asked for is left to the service."""
    asked: dict[str, Any] = {k: v for k, v in wishes.items() if v is not None}
    if "named" in asked:
        asked["set"] = asked.pop("named")
    for name in ("compare", "cutters"):
        if name in asked:
            asked[name] = list(asked[name])
    return {"font": font, **asked}
