"""A catalogue of one's own: materials, cutters, machines and stock, as a file or a shop holds them.

The same names as those of the catalogue's values, with or without their units: `diameter` and
`diameter_mm` are the same field, and either takes `"1/8 in"`. What is left out comes from the entry
of that name that lies below, or from the one that `like` names; what is missing then is told by
who lays the tables over each other (`letterply.catalogue.loading`).
"""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AliasChoices, AliasGenerator, ConfigDict, Field

from letterply.requests.fields import (
    Feed,
    Figures,
    Key,
    Length,
    NotNegative,
    Positive,
    Within,
    mistake,
)
from letterply.requests.kept_clear import KeptClearList

__all__ = [
    "TABLES",
    "CatalogueTables",
    "CutterEntry",
    "MachineEntry",
    "MaterialEntry",
    "StockEntry",
]

TABLES = ("materials", "cutters", "machines", "stock")
"""Names of the tables of a catalogue."""

_UNITS = re.compile(r"_(mm|mm_per_min|mm_per_s2)$")


def _short(name: str) -> str:
    return _UNITS.sub("", name)


_COMMENT = r"\([ -'*-~]*\)"
_WORD = r"[A-Z][ \t]*[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
_A_LINE = re.compile(rf"(?:[ \t]*(?:{_WORD}|{_COMMENT}))+[ \t]*(?:;[ -~]*)?|;[ -~]*")


def _a_line(text: str) -> str:
    """Return a line of a program, which is words and comments: nothing that ends the line."""
    if not _A_LINE.fullmatch(text):
        raise mistake(
            "bad-value", f"{text!r} is no line of a program.", "words, as G64 or M8, in capitals"
        )
    return text


_Figure = Annotated[float, Field(gt=0, le=1e9)]
_Text = Annotated[str, Field(min_length=1, max_length=300)]
_Words = Annotated[list[Annotated[str, Field(max_length=200)]], Field(max_length=50)]
_Class = Literal["softwood", "hardwood", "plywood", "fibreboard", "acrylic", "plastic", "metal"]
_Angle = Annotated[float, Field(ge=0, lt=180)]
_Place = Annotated[list[Length], Field(min_length=2, max_length=2)]
_Switches = Annotated[list[Annotated[str, Field(max_length=40)]], Field(max_length=4)]
_Line = Annotated[str, Field(max_length=200), AfterValidator(_a_line)]
_Lines = Annotated[list[_Line], Field(max_length=50)]


LEFT_OUT: Any = None
"""Default of fields of which only what was given counts (`CatalogueTables.given`)."""


class _Entry(Figures):
    """Base of entries: every field may be left out, unit or no unit in its name."""

    model_config = ConfigDict(
        alias_generator=AliasGenerator(
            alias=_short, validation_alias=lambda name: AliasChoices(_short(name), name)
        )
    )

    like: Key | None = LEFT_OUT
    name: _Text = LEFT_OUT
    sources: dict[str, Annotated[list[str], Field(min_length=2, max_length=2)]] = LEFT_OUT


class MaterialEntry(_Entry):
    """A kind of sheet; see `letterply.catalogue.Material`."""

    kind: _Class = LEFT_OUT
    density_kg_per_m3: _Figure = 1.0
    bending_strength_mpa: _Figure = LEFT_OUT
    bending_strength_across_mpa: _Figure = LEFT_OUT
    elastic_modulus_mpa: _Figure = LEFT_OUT
    thermal_expansion_per_k: Annotated[float, Field(ge=0, le=1)] | None = LEFT_OUT
    moisture_change_percent: Annotated[float, Field(ge=0, le=100)] = LEFT_OUT
    grain: bool = LEFT_OUT
    min_web_factor: _Figure = LEFT_OUT
    min_web_mm: Positive = LEFT_OUT
    chip_load_mm: Annotated[list[Positive], Field(min_length=2, max_length=2)] = LEFT_OUT
    pass_depth_factor: _Figure = LEFT_OUT
    max_surface_speed_m_per_min: _Figure = LEFT_OUT
    beam: Literal["allowed", "refused"] = LEFT_OUT
    beam_reason: Annotated[str, Field(max_length=300)] = LEFT_OUT
    colour: Annotated[str, Field(pattern="^#[0-9a-fA-F]{6}$")] = LEFT_OUT
    thicknesses_mm: Annotated[list[Positive], Field(max_length=50)] = LEFT_OUT
    cautions: _Words = LEFT_OUT
    strengths: Annotated[list[dict[str, Any]], Field(max_length=20)] = LEFT_OUT


class CutterEntry(_Entry):
    """A cutter, as measured; see `letterply.catalogue.Cutter`."""

    kind: Literal["flat", "ball", "vbit", "drag", "drill", "beam"] = LEFT_OUT
    diameter_mm: Positive = LEFT_OUT
    flutes: Annotated[int, Field(ge=0, le=50)] = LEFT_OUT
    cutting_length_mm: Positive = LEFT_OUT
    included_angle_deg: _Angle = LEFT_OUT
    tip_diameter_mm: NotNegative = LEFT_OUT
    can_plunge: bool = LEFT_OUT
    materials: Annotated[list[_Class], Field(max_length=20)] = LEFT_OUT


class MachineEntry(_Entry):
    """A machine; see `letterply.catalogue.Machine`."""

    kind: Literal["router", "beam"] = LEFT_OUT
    bed_mm: Annotated[list[Positive], Field(min_length=2, max_length=2)] = LEFT_OUT
    z_travel_mm: Positive = LEFT_OUT
    max_feed_mm_per_min: Feed = LEFT_OUT
    max_plunge_mm_per_min: Feed = LEFT_OUT
    rapid_mm_per_min: Feed = LEFT_OUT
    rapid_z_mm_per_min: Feed = LEFT_OUT
    acceleration_mm_per_s2: _Figure = 1.0
    corner_slack_mm: Positive = LEFT_OUT
    look_ahead_moves: Annotated[int, Field(ge=1, le=10_000)] = LEFT_OUT
    spindle_off: bool = LEFT_OUT
    safe_height_mm: Positive = LEFT_OUT
    zero: Literal["top", "bed"] = LEFT_OUT
    units: Literal["mm", "inch"] = LEFT_OUT
    decimals: Annotated[int, Field(ge=3, le=6)] = LEFT_OUT
    arcs: bool = LEFT_OUT
    line_end: Literal["lf", "crlf"] = LEFT_OUT
    program_mark: bool = LEFT_OUT
    tool_change: Literal["program", "automatic"] = LEFT_OUT
    spin_up_s: Annotated[float, Field(ge=0, le=600)] = LEFT_OUT
    start_words: _Lines = LEFT_OUT
    end_words: _Lines = LEFT_OUT
    end_word: Literal["M2", "M30"] = LEFT_OUT
    tool_change_s: Annotated[float, Field(ge=0, le=36_000)] = LEFT_OUT
    extension: Annotated[str, Field(pattern="^[A-Za-z0-9]{1,8}$")] = LEFT_OUT
    zero_xy: Literal[
        "lower-left", "lower-right", "upper-left", "upper-right", "centre", "parts", "pin"
    ] = LEFT_OUT
    pin_mm: _Place = LEFT_OUT
    blank_zero: Literal["top", "fixture", "floor"] = LEFT_OUT
    blank_zero_xy: Literal["first", "fixture"] = LEFT_OUT
    arc_form: Literal["centre", "centre-absolute", "radius"] = LEFT_OUT
    dwell: Literal["seconds", "milliseconds"] = LEFT_OUT
    comments: Literal["parentheses", "semicolon"] = LEFT_OUT
    line_number_step: Annotated[int, Field(ge=0, le=1000)] = LEFT_OUT
    coolant_on: _Switches = LEFT_OUT
    coolant_off: _Switches = LEFT_OUT
    coolant_for: Annotated[list[_Class], Field(max_length=20)] = LEFT_OUT
    extraction_on: _Switches = LEFT_OUT
    extraction_off: _Switches = LEFT_OUT
    park_mm: _Place = LEFT_OUT
    park_from: Literal["machine", "zero"] = LEFT_OUT
    length_offsets: bool = LEFT_OUT
    spindle_min_rpm: _Figure = LEFT_OUT
    spindle_max_rpm: _Figure = LEFT_OUT
    power_full: _Figure = LEFT_OUT


class StockEntry(_Entry):
    """A size of sheet; see `letterply.catalogue.Stock`."""

    material: Key = LEFT_OUT
    thickness_mm: Annotated[Positive, Within(le=300)] = LEFT_OUT
    width_mm: Positive = LEFT_OUT
    height_mm: Positive = LEFT_OUT
    count: Annotated[int, Field(ge=0, le=100_000)] = LEFT_OUT
    margin_mm: NotNegative = LEFT_OUT
    price: Annotated[float, Field(ge=0, le=1e9)] = LEFT_OUT
    offcut: bool = LEFT_OUT
    keep_clear: KeptClearList = LEFT_OUT


_MOST = Field(max_length=500)


class CatalogueTables(Figures):
    """All four tables, by key."""

    materials: Annotated[dict[Key, MaterialEntry], _MOST] = Field(default_factory=dict)
    cutters: Annotated[dict[Key, CutterEntry], _MOST] = Field(default_factory=dict)
    machines: Annotated[dict[Key, MachineEntry], _MOST] = Field(default_factory=dict)
    stock: Annotated[dict[Key, StockEntry], _MOST] = Field(default_factory=dict)

    def given(self) -> dict[str, dict[str, dict[str, Any]]]:
        """Return what was given, by the names of the catalogue's values, lengths in mm."""
        return {
            name: {
                key: entry.model_dump(mode="json", by_alias=False, exclude_unset=True)
                for key, entry in sorted(getattr(self, name).items())
            }
            for name in TABLES
            if getattr(self, name)
        }
