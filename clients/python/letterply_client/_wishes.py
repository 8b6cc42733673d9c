"""What a call may be asked for, beside its recipe or font."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypedDict

__all__ = [
    "CheckWishes",
    "CheckedWishes",
    "PieceWishes",
    "PlanWishes",
    "SizeWishes",
    "SurveyWishes",
    "measured_request",
    "piece_request",
    "recipe_request",
    "survey_request",
]


class CheckedWishes(TypedDict, total=False):
    """What to make it with, and what to hold it against.

    Attributes:
        shop: name of a stored one, or machine, cutters, stock, hold-down, own feeds.
        limits: limits of the checks in place of the house's own.
        use: how a sign will be used, for the published standard for its characters.

    """

    shop: Mapping[str, Any] | str | None
    limits: Mapping[str, Any] | None
    use: Mapping[str, Any] | None


class PlanWishes(CheckedWishes, total=False):
    """As `CheckedWishes`.

    Attributes:
        search_s: seconds for layouts that need fewer sheets or less of the last one.

    """

    search_s: int | None


class CheckWishes(CheckedWishes, total=False):
    """As `CheckedWishes`.

    Attributes:
        repair: True to have blockers repaired where they are and checked again; a mapping with
            `raise_size` True to let the lettering become larger where nothing else helps.

    """

    repair: bool | Mapping[str, Any] | None


class SizeWishes(CheckedWishes, total=False):
    """A question of size, one of `fit`, `sheets`, `smallest` and `width`; else as `CheckedWishes`.

    Attributes:
        fit: box for every letter, as `"6 in"`, or a mapping with `width` and `height`.
        each: with `fit`, every letter as large as it may be by itself.
        sheets: onto how many sheets of each material all of it has to go.
        smallest: True for the smallest size at which every layer holds.
        width: of the lettering, mm or text with a unit: does it hold?

    """

    fit: float | str | Mapping[str, Any] | None
    each: bool | None
    sheets: int | None
    smallest: bool | None
    width: float | str | None


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
        limits: limits of the checks in place of the house's own.
        shop: name of a stored one whose materials, cutters and units count.

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
    limits: Mapping[str, Any] | None
    shop: Mapping[str, Any] | str | None


class PieceWishes(TypedDict, total=False):
    """What a test piece is to try.

    Attributes:
        cutter: key of the cutter that is tried.
        of: key of the material of a plug, of a fit.
        of_thickness: of the plug, mm or text with a unit.
        dowel: diameter of a dowel, of a fit.
        step: by which clearances of a fit grow.
        width, height: of the sheet whose flatness is tried.
        shop: name of a stored one, or machine, cutters, stock.

    """

    cutter: str | None
    of: str | None
    of_thickness: float | str | None
    dowel: float | str | None
    step: float | str | None
    width: float | str | None
    height: float | str | None
    shop: Mapping[str, Any] | str | None


def piece_request(
    kind: str, material: str, thickness: float | str, wishes: PieceWishes
) -> dict[str, Any]:
    """Return the request of a test piece; what is not asked for is left to the service."""
    asked = {k: v for k, v in wishes.items() if v is not None}
    return {"kind": kind, "material": material, "thickness": thickness, **asked}


def measured_request(
    piece: str,
    readings: Mapping[str, float | str],
    units: str | None,
    resolution: float | str | None,
    zero: float | str | None,
    *,
    keep: bool,
) -> dict[str, Any]:
    """Return the request that readings of a test piece are taken with."""
    wishes = {"units": units, "resolution": resolution, "zero": zero}
    given = {k: v for k, v in wishes.items() if v is not None}
    return {"piece": piece, "readings": dict(readings), "keep": keep, **given}


def recipe_request(recipe: Mapping[str, Any], wishes: CheckedWishes) -> dict[str, Any]:
    """Return the request of a check, plan or size; what is not asked for is left to the service."""
    asked = {
        name: dict(value) if isinstance(value, Mapping) else value
        for name, value in wishes.items()
        if value is not None
    }
    return {"recipe": dict(recipe), **asked}


def survey_request(font: str, wishes: SurveyWishes) -> dict[str, Any]:
    """Return the request of a survey; what is not asked for is left to the service."""
    asked: dict[str, Any] = {k: v for k, v in wishes.items() if v is not None}
    if "named" in asked:
        asked["set"] = asked.pop("named")
    for name in ("compare", "cutters"):
        if name in asked:
            asked[name] = list(asked[name])
    return {"font": font, **asked}
