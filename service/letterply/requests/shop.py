"""The shop of a request: machine, cutters, stock and habits, by the names of the catalogue.

What is left out is the whole rack. A sheet may be described in place.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any, Literal

from pydantic import (
    AliasChoices,
    BeforeValidator,
    Discriminator,
    Field,
    Tag,
)

from letterply.requests.depths import DETAIL_MM
from letterply.requests.fields import (
    Detail,
    Feed,
    Figures,
    Key,
    NotNegative,
    Positive,
    Within,
)
from letterply.requests.kept_clear import KeptClearList
from letterply.requests.measured import FitFigure, TrueThickness

__all__ = [
    "BeamPower",
    "EntryKind",
    "HoldDown",
    "NamedShop",
    "OwnFeeds",
    "ShopRequest",
    "ShopWish",
    "StockSheet",
    "TabShape",
]


class HoldDown(StrEnum):
    """How parts are kept in place while their outline is cut."""

    TABS = "tabs"
    TAPE = "tape"
    SKIN = "skin"
    BED = "bed"
    """Parts rest on the bed: what a beam machine does."""


class EntryKind(StrEnum):
    """How a cutter goes down at an outline."""

    HELIX = "helix"
    """Round a circle in the waste, from which it meets and leaves the outline on a curve; by a
    ramp where there is no room for one."""
    RAMP = "ramp"
    """Along the cut."""


class TabShape(StrEnum):
    """What a tab looks like from the side."""

    FLAT = "flat"
    TRIANGULAR = "triangular"
    """Pointed: less to cut through by hand."""


class OwnFeeds(Figures):
    """A maker's own figures for one cutter; what is left out is the engine's.

    Attributes:
        spindle_rpm: spindle speed.
        feed_mm_per_min: feed in the plane, and
        plunge_mm_per_min: straight down.
        depth_per_pass_mm: how deep one pass goes.

    """

    spindle_rpm: Annotated[float, Field(gt=0)] | None = Field(None, alias="spindle")
    feed_mm_per_min: Feed | None = Field(None, alias="feed")
    plunge_mm_per_min: Feed | None = Field(None, alias="plunge")
    depth_per_pass_mm: Positive | None = None


def _either(name: str) -> AliasChoices:
    return AliasChoices(name, f"{name}_mm")


_Point = Annotated[list[NotNegative], Field(min_length=2, max_length=2)]


class StockSheet(Figures):
    """A sheet described in place.

    Attributes:
        key: what it is called; `sheet-1` and so on where it is left out.
        material: key of its material.
        thickness_mm, width_mm, height_mm: its size; the width lies along the grain.
        count: how many there are.
        margin_mm: strip along the edges that is kept free for clamps.
        price: of one sheet.
        offcut: used before whole sheets.
        keep_clear: clamps, screws and what was cut out before, on each of them.
        outline_mm: points of the edge of an irregular one, then of each of its holes, from the
            lower left of the box round it.

    """

    key: Key | None = None
    material: Key
    thickness_mm: Annotated[Positive, Field(validation_alias=_either("thickness"))]
    width_mm: Annotated[Positive, Field(validation_alias=_either("width"))]
    height_mm: Annotated[Positive, Field(validation_alias=_either("height"))]
    count: Annotated[int, Field(ge=0, le=100_000)] = 1
    margin_mm: Annotated[NotNegative, Field(validation_alias=_either("margin"))] = 8.0
    price: Annotated[float, Field(ge=0, le=1e9)] = 0.0
    offcut: bool = False
    keep_clear: KeptClearList = Field(default_factory=list)
    outline_mm: Annotated[
        list[Annotated[list[_Point], Field(min_length=3, max_length=4000)]],
        Field(max_length=500, validation_alias=_either("outline")),
    ] = Field(default_factory=list)


class BeamPower(Figures):
    """A maker's own figures for a sheet under the beam.

    Attributes:
        material: key of the material.
        thickness_mm: thickness of the sheet.
        cut_percent: percent of full power that goes through it.
        scribe_percent: percent that draws a line on its face.
        feed_mm_per_min: feed of a cut; a slow start where it is left out.
        passes: how many times the beam goes along a cut.

    """

    material: Key
    thickness_mm: Annotated[Positive, Within(le=300)]
    cut_percent: Annotated[float, Field(gt=0, le=100)] = Field(alias="cut")
    scribe_percent: Annotated[float, Field(gt=0, le=100)] | None = Field(None, alias="scribe")
    feed_mm_per_min: Feed | None = Field(None, alias="feed")
    passes: Annotated[int, Field(ge=1, le=20)] = 1


def _kind_of_stock(value: object) -> str:
    return "name" if isinstance(value, str) else "sheet"


class ShopRequest(Figures):
    """What to cut with and from; everything has a default.

    Attributes:
        machine: key of a machine.
        cutters: keys of the cutters in the rack.
        stock: keys of stock, or sheets described in place.
        hold_down: how parts are held; `bed` on a beam machine, `tabs` on others where left out.
        feeds: key of a cutter -> the maker's own figures.
        finish_mm: what the last pass round an outline takes off its walls; 0.1 to 0.3 is usual.
        entry: how a cutter goes down at an outline.
        tab_shape: what tabs look like from the side.
        groove_passes: 2 to carve grooves twice over, the second time taking a last thin layer.
        detail_mm: how deep an inside corner may stay round, where a layer or feature does not say:
            how far what stays may lie from what is cut. A smaller cutter is taken only where a
            larger one leaves more, and it gets at it.
        use_counters: lay small parts in the counters of larger ones, where these are waste; they
            are cut first, then the counter, then the outline.
        power: how strong a beam is, a sheet each; without it no beam program is handed out.
        units: in which papers, pictures and sentences speak; what a program is written in is the
            machine's.
        cautions: a shop's own sentences, told beside those of its materials and machine.
        feeds_in: key of a material -> key of a cutter -> the maker's own figures in it; before
            those of `feeds`.
        fits: clearances that were measured, for what a recipe leaves to the shop.
        thicknesses: how thick sheets really are.

    """

    machine: Key = "bench-router"
    cutters: Annotated[list[Key], Field(min_length=1, max_length=200)] | None = None
    stock: (
        Annotated[
            list[
                Annotated[
                    Annotated[Key, Tag("name")] | Annotated[StockSheet, Tag("sheet")],
                    Discriminator(_kind_of_stock),
                ]
            ],
            Field(min_length=1, max_length=500),
        ]
        | None
    ) = None
    hold_down: Annotated[HoldDown, Field(strict=False)] | None = None
    feeds: Annotated[dict[Key, OwnFeeds], Field(max_length=200)] = Field(default_factory=dict)
    finish_mm: Annotated[NotNegative, Within(le=1)] = 0.0
    entry: Annotated[EntryKind, Field(strict=False)] = EntryKind.HELIX
    tab_shape: Annotated[TabShape, Field(strict=False)] = TabShape.FLAT
    groove_passes: Annotated[int, Field(ge=1, le=2)] = 1
    detail_mm: Detail = DETAIL_MM
    use_counters: bool = False
    power: Annotated[list[BeamPower], Field(max_length=200)] = Field(default_factory=list)
    units: Literal["mm", "inch"] = "mm"
    cautions: Annotated[
        list[Annotated[str, Field(min_length=1, max_length=300)]], Field(max_length=20)
    ] = Field(default_factory=list)
    feeds_in: Annotated[
        dict[Key, Annotated[dict[Key, OwnFeeds], Field(max_length=200)]], Field(max_length=200)
    ] = Field(default_factory=dict)
    fits: Annotated[list[FitFigure], Field(max_length=500)] = Field(default_factory=list)
    thicknesses: Annotated[list[TrueThickness], Field(max_length=500)] = Field(default_factory=list)


class NamedShop(ShopRequest):
    """A shop that is stored, or what is said in place of its fields; a name alone is enough.

    Attributes:
        name: of a stored shop; the usual one where it is left out.
        version: of it; the newest where it is left out.

    """

    name: Key | None = None
    version: Annotated[str, Field(pattern="^[0-9a-f]{32}$")] | None = None

    def normal(self) -> dict[str, Any]:
        """Return it in one form: all of it once it has a version, else what is not usual.

        So what was settled stays as it is when it is settled again.
        """
        if self.version is None:
            return self.model_dump(mode="json", by_alias=True, exclude_defaults=True)
        return self.model_dump(mode="json", by_alias=True, exclude_none=True)


def _by_name(value: object) -> object:
    return {"name": value} if isinstance(value, str) else value


ShopWish = Annotated[NamedShop, BeforeValidator(_by_name, json_schema_input_type=str | NamedShop)]
"""A shop as requests have it: a name, an object, or an object that names one and differs."""
