"""Requests for test pieces, and of what was measured on them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from letterply.requests.fields import Key, Model, Positive, Within
from letterply.requests.shop import ShopWish

__all__ = ["PIECE_KINDS", "MeasuredRequest", "PieceKind", "PieceRequest"]

PieceKind = Literal["diameter", "fit", "angle", "feed", "line", "flatness"]
PIECE_KINDS: tuple[PieceKind, ...] = ("diameter", "fit", "angle", "feed", "line", "flatness")
"""Kinds of test pieces, in the order in which they are best cut."""


class PieceRequest(Model):
    """Have a test piece made: its drawing, programs, proof, and a sheet to write on."""

    kind: PieceKind = Field(
        description="`diameter` of a cutter, or kerf of a beam; `fit` of an inlay or dowel; `angle`"
        " and tip of a V-bit; `feed` that works in a material; `line` of a drag point; `flatness` "
        "and thickness of a sheet"
    )
    material: Key = Field(description="what it is cut from")
    thickness: Annotated[Positive, Within(le=300)] = Field(description="by which it is sold")
    cutter: Key | None = Field(
        None, description="which is tried; a fit takes the shop's rack without one"
    )
    of: Key | None = Field(
        None, description="material of the plug of a fit; `material` where it is left out"
    )
    of_thickness: Annotated[Positive, Within(le=300)] | None = Field(
        None, description="of the plug; `thickness` where it is left out"
    )
    dowel: Annotated[Positive, Within(le=50)] | None = Field(
        None, description="diameter of the dowel of a fit; without one the fit is that of a plug"
    )
    step: Annotated[Positive, Within(ge=0.01, le=0.5)] | None = Field(
        None, description="by which the clearances of a fit grow, all round; 0.05 mm, dowels 0.025"
    )
    width: Annotated[Positive, Within(ge=60, le=3000)] | None = Field(
        None, description="of the sheet whose flatness is tried, as it lies on the bed, and"
    )
    height: Annotated[Positive, Within(ge=60, le=3000)] | None = Field(
        None, description="its height"
    )
    shop: ShopWish | None = Field(None, description="whose machine and cutters it is for")


class MeasuredRequest(Model):
    """What was measured on a test piece."""

    piece: Annotated[str, Field(min_length=8, max_length=64)] = Field(
        description="id of the test piece"
    )
    readings: Annotated[dict[str, float | str], Field(min_length=1, max_length=40)] = Field(
        description="name of a field of its sheet -> what was read; a length takes a number in "
        "`units`, or text with its unit"
    )
    units: Literal["mm", "inch"] | None = Field(
        None,
        description="of readings, resolution and zero that are bare numbers; those in which the "
        "sheet of the piece speaks where it is left out",
    )
    resolution: float | str | None = Field(
        None, description="the smallest step of the caliper or loupe; 0.01 mm, or 0.0005 in"
    )
    zero: float | str | None = Field(
        None, description="how far z may have been off when it was zeroed; 0.02 mm, or 0.001 in"
    )
    keep: bool = Field(True, strict=True, description="false shows what would change, and no more")
