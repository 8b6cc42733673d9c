"""How a picture of lettering is traced; what is left out is found out from the picture.

?threshold=0.4&speck_px=4&smoothing_px=1&ink=dark
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from letterply.requests.fields import Key, Model

__all__ = ["TraceWish"]


class TraceWish(Model):
    """How to trace a picture into outlines."""

    threshold: Annotated[float, Field(gt=0, lt=1)] | None = Field(
        None, description="how dark ink is at least: 0 is white, 1 is black"
    )
    speck_px: Annotated[float, Field(ge=0, le=100)] = Field(
        3.0, description="spots of ink or paper that are no wider are left out, in pixels"
    )
    smoothing_px: Annotated[float, Field(ge=0, le=10)] | None = Field(
        None, description="how far edges are blurred (standard deviation) before they are traced"
    )
    shop: Key | None = Field(
        None, description="name of a shop whose units are spoken, not the default's"
    )
    ink: Literal["auto", "dark", "light"] = Field(
        "auto", description="which of both is the lettering; `auto`: what the border is not"
    )
