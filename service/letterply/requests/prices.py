"""How prices are made: a shop's own rules, laid over the shipped ones."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field

from letterply.requests.fields import Figures, mistake

__all__ = ["PriceRules"]

_Price = Annotated[float, Field(ge=0, le=1_000_000)]


def _printable(text: str) -> str:
    if not text.isprintable():
        raise mistake("out-of-range", "The currency must be a short word or sign.", "as EUR")
    return text


class PriceRules(Figures):
    """How prices are made; the shipped figures are invented.

    Attributes:
        currency: its name.
        material_markup: factor on the price of the area used.
        machine_hour: price of an hour of the machine.
        set_up_minutes: to set up a sheet, and
        cutter_change_minutes: to change a cutter.
        load_minutes: to lay new blanks into a fixture that is set up.
        hand_hour: price of an hour of handwork.
        waste_share: charged beyond the area of the parts, as a share of it.
        minimum: least price of an order.

    """

    currency: Annotated[str, Field(min_length=1, max_length=8), AfterValidator(_printable)] = "EUR"
    material_markup: _Price = 1.3
    machine_hour: _Price = 45.0
    set_up_minutes: _Price = 6.0
    cutter_change_minutes: _Price = 2.0
    load_minutes: _Price = 1.0
    hand_hour: _Price = 38.0
    waste_share: _Price = 0.15
    minimum: _Price = 0.0
