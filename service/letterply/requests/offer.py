"""An offer as it is asked for: what a customer is to be shown, at what price, until when."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import AfterValidator, Field, model_validator

from letterply.names import plain_text
from letterply.requests.fields import Figures, mistake
from letterply.requests.prices import PriceRules

__all__ = ["OfferRequest"]

_DAYS = 14
_MOST_DAYS = 90


def _all_shown(text: str) -> str:
    if plain_text(text, lines=True) != text.strip():
        raise mistake("bad-value", "The text has signs that cannot be seen.", "plain text")
    return text.strip()


def _one_line(text: str) -> str:
    if "\n" in text.strip():
        raise mistake("bad-value", "The text has more than one line.", "one line")
    return _all_shown(text)


_Line = AfterValidator(_one_line)
_Id = Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]


class OfferRequest(Figures):
    """Offer a customer what was checked, planned or ordered.

    Exactly one of `check`, `plan` and `order` says what.

    Attributes:
        check: id of a check.
        plan: id of a plan; its price is reckoned where none is given.
        order: id of an order that is done; the price of all of it is that of its quote.
        lines: numbers of the lines that are shown; all of them where this is left out.
        title: what it is called; as what it is made from where this is left out.
        maker: who offers it.
        note: what else the customer should read.
        price: what it costs.
        currency: of that price.
        prices: rules by which the price of a plan is reckoned, in place of the shipped ones.
        days: how many days after this one the customer may reply.

    """

    check: _Id | None = None
    plan: _Id | None = None
    order: _Id | None = None
    lines: (
        Annotated[list[Annotated[int, Field(ge=1)]], Field(min_length=1, max_length=1000)] | None
    ) = None
    title: Annotated[str, Field(min_length=1, max_length=200), _Line] | None = None
    maker: Annotated[str, Field(max_length=80), _Line] = ""
    note: Annotated[str, Field(max_length=1000), AfterValidator(_all_shown)] = ""
    price: Annotated[float, Field(ge=0, le=1_000_000)] | None = None
    currency: Annotated[str, Field(min_length=1, max_length=8), _Line] | None = None
    prices: PriceRules | None = None
    days: Annotated[int, Field(ge=1, le=_MOST_DAYS)] = _DAYS

    @model_validator(mode="after")
    def _goes_together(self) -> Self:
        named = [n for n in ("check", "plan", "order") if getattr(self, n) is not None]
        if len(named) != 1:
            raise mistake(
                "bad-request",
                "The offer must be made from one thing.",
                "exactly one of check, plan, order",
            )
        if self.lines is not None and self.order is None:
            raise mistake("bad-value", "Lines are lines of an order.", "an order", field="lines")
        if self.currency is not None and self.price is None:
            raise mistake(
                "missing-field", "A currency goes with a price.", "a price", field="price"
            )
        if self.prices is not None and (self.plan is None or self.price is not None):
            raise mistake(
                "bad-value",
                "Rules of prices are for a plan without a price of its own.",
                "a plan and no price",
                field="prices",
            )
        return self
