"""A shop as it is stored: what a request may say of one, and its own catalogue and prices."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AliasChoices, Field

from letterply.requests.fields import Positive
from letterply.requests.measured import MeasuredRecord
from letterply.requests.own_catalogue import CatalogueTables
from letterply.requests.prices import PriceRules
from letterply.requests.shop import ShopRequest

__all__ = ["LEAST_OFFCUT_MM", "CatalogueFile", "ShopDocument"]

LEAST_OFFCUT_MM = 100.0
"""Narrower left-overs are not worth their place (common practice, no source)."""

_Base = Literal["shipped", "nothing"]


class CatalogueFile(CatalogueTables):
    """A catalogue to be laid over another, or to stand alone: `on_top_of` nothing."""

    on_top_of: _Base = "shipped"


class ShopDocument(ShopRequest):
    """A shop: machine, rack, sheets, habits, prices.

    Attributes:
        title: what people call it.
        on_top_of: `shipped`: what is shipped is there too; `nothing`: only what stands in
            `catalogue`. Entries may be `like` shipped ones either way.
        catalogue: materials, cutters, machines and stock of its own.
        prices: rules of its quotes.
        least_offcut_mm: what is left of a sheet is kept where a disc of this diameter lies in it,
            and is scrap where none does.
        measured: history of what was measured with test pieces, the oldest first; what counts
            stands in `catalogue`, `fits`, `feeds_in` and `thicknesses`.

    """

    title: Annotated[str, Field(max_length=200)] = ""
    on_top_of: _Base = "shipped"
    catalogue: CatalogueTables = CatalogueTables()
    prices: PriceRules = PriceRules()
    least_offcut_mm: Annotated[
        Positive, Field(validation_alias=AliasChoices("least_offcut", "least_offcut_mm"))
    ] = LEAST_OFFCUT_MM
    measured: Annotated[list[MeasuredRecord], Field(max_length=2000)] = Field(default_factory=list)

    def normal(self) -> dict[str, Any]:
        """Return it in one form: lengths in mm, what is usual left out."""
        given = self.model_dump(
            mode="json", by_alias=True, exclude_defaults=True, exclude={"catalogue"}
        )
        tables = self.catalogue.given()
        return {**given, **({"catalogue": tables} if tables else {})}

    def catalogue_file(self) -> dict[str, Any]:
        """Return its own catalogue as a file has it; empty where it adds nothing."""
        alone = {"on_top_of": self.on_top_of} if self.on_top_of != "shipped" else {}
        return {**alone, **self.catalogue.given()}

    def wishes(self) -> dict[str, Any]:
        """Return what a request says that names it: its fields, by their names in requests."""
        own = set(ShopDocument.model_fields) - set(ShopRequest.model_fields)
        return self.model_dump(mode="json", by_alias=True, exclude_defaults=True, exclude=own)
