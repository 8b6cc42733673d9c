"""The limits that checks hold measures against: the house's own, or those of one request.

    {"safety_factor": 3, "crumb": "20 mm", "webs": {"acrylic_edge_factor": 2.5},
     "movement": {"elastic": true, "dampest_percent": 12}, "look_alike": {"tolerance": 0.3},
     "materials": {"acrylic-cast": {"min_web": "2 mm", "min_web_factor": 0.5}}}

What is left out stays as it is. Every figure here is a rule of thumb (common practice, no source)
unless its line names one. Figures of a material go over those of the catalogue, for one request.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from letterply.requests.fields import Figures, Key, NotNegative, Positive, mistake

__all__ = [
    "DEFAULT_LIMITS",
    "DEFAULT_LOOK_ALIKE_RULES",
    "DEFAULT_MOVEMENT_RULES",
    "DEFAULT_RULES",
    "DEFAULT_WEB_RULES",
    "CheckRules",
    "Limits",
    "LookAlikeRules",
    "MaterialFigures",
    "MovementRules",
    "WebRules",
]

_Share = Annotated[float, Field(ge=0, le=1)]
_Above = Annotated[float, Field(gt=0)]
_FromNought = Annotated[float, Field(ge=0)]


class CheckRules(Figures):
    """Limits of the checks of single parts.

    Attributes:
        safety_factor: the snap load divided by this is what a neck may be trusted with.
        handling_load_n: load that a part must stand while it is peeled off, sanded and glued.
        supported_load_n: the same for a part that is glued flat onto a layer below.
        careful_factor: what bears so many times the load that comes, safety factor included, is
            thin and holds; less is to be handled with care.
        neck_ratio: a thin place longer than this many limits is a stroke, a shorter one a neck.
        tip_angle_deg: walls that meet at less than this are a tip, at more a plain corner.
        crumb_mm: shorter side below which a part is too small for tabs, if its longer one is below
            twice that.
        lost_mm: depth left uncut in a corner above which it is a caution, not a note.
        floor_mm: material that must stay under a groove or pocket.
        overhang_mm: how far an upper layer may stand out over the one below without mention.

    """

    safety_factor: Annotated[float, Field(ge=1)] = 2.0
    handling_load_n: _FromNought = 2.0
    supported_load_n: _FromNought = 0.5
    careful_factor: Annotated[float, Field(ge=1)] = 6.0
    neck_ratio: _Above = 3.0
    tip_angle_deg: Annotated[float, Field(gt=0, lt=180)] = 40.0
    crumb_mm: NotNegative = 15.0
    lost_mm: NotNegative = 0.5
    floor_mm: NotNegative = 0.8
    overhang_mm: NotNegative = 0.5


class WebRules(Figures):
    """Limits of features and edges.

    Attributes:
        acrylic_edge_factor: least distance from a hole in acrylic to an edge, as a multiple of
            the sheet's thickness.
        dowel_share: a dowel hole, which is glued and bears no load, may come as near as this
            share of the material's rule,
        dowel_least_mm: and never nearer than this.
        blocker_share: below this share of its limit a web breaks while it is cut.

    """

    acrylic_edge_factor: _Above = 2.0
    dowel_share: _Above = 0.5
    dowel_least_mm: Positive = 1.0
    blocker_share: _Share = 1 / 3


class MovementRules(Figures):
    """What a year does to a room, and what a joint bears.

    Attributes:
        temperature_swing_k: between the coldest and the warmest day indoors.
        driest_percent, dampest_percent: moisture of solid wood over a year indoors, between 6 and
            14 %; the range of the catalogue's figures. Boards (plywood, fibreboard) are taken over
            the whole range of their tests, which is wider than a room's.
        along_grain_percent: shrinkage of solid wood along its grain, green to ovendry; the lower
            end of 0.1 % to 0.2 % in the Wood Handbook ch. 4.
        rigid_slip_mm: what a joint with a rigid adhesive (wood glue, cyanoacrylate, acrylic
            cement) bears.
        elastic_slip_mm: what one with an elastic adhesive (silicone, polymer, thick foam tape)
            bears.
        elastic: whether the layers are to be glued with an elastic adhesive.

    """

    temperature_swing_k: _FromNought = 15.0
    driest_percent: Annotated[float, Field(ge=6, le=14)] = 6.0
    dampest_percent: Annotated[float, Field(ge=6, le=14)] = 10.0
    along_grain_percent: _FromNought = 0.1
    rigid_slip_mm: Positive = 0.25
    elastic_slip_mm: Positive = 1.0
    elastic: bool = False

    @model_validator(mode="after")
    def _the_lesser_comes_first(self) -> MovementRules:
        if self.driest_percent > self.dampest_percent:
            raise mistake(
                "out-of-range",
                "The driest wood is given as damper than the dampest.",
                "the drier figure first",
            )
        if self.rigid_slip_mm > self.elastic_slip_mm:
            raise mistake(
                "out-of-range",
                "A rigid joint is given as bearing more than an elastic one.",
                "an elastic slip that is at least the rigid one",
            )
        return self


class LookAlikeRules(Figures):
    """What counts as a fit that nobody would notice.

    Attributes:
        tolerance_mm: an outline that misses its place by no more than this seems to fit.
        harmless_mm: a part that lies this close to where it belongs is right.
        visible_mm: a step at an edge from which on it is seen, and felt.
        dowel_slack_mm: how far a dowel hole may be off and the dowel still goes in.

    """

    tolerance_mm: Positive = 0.5
    harmless_mm: Positive = 0.1
    visible_mm: NotNegative = 0.25
    dowel_slack_mm: NotNegative = 0.2

    @model_validator(mode="after")
    def _harmless_is_tolerable(self) -> LookAlikeRules:
        if self.harmless_mm > self.tolerance_mm:
            raise mistake(
                "out-of-range",
                "The harmless misfit is more than the tolerance for what seems to fit.",
                "a harmless misfit of at most the tolerance",
            )
        return self


class MaterialFigures(Figures):
    """Figures that go over those of a material of the catalogue."""

    min_web_mm: Positive | None = None
    min_web_factor: _Above | None = None
    bending_strength_mpa: _Above | None = None
    bending_strength_across_mpa: _Above | None = None
    thermal_expansion_per_k: _FromNought | None = None
    moisture_change_percent: _FromNought | None = None


class Limits(CheckRules):
    """The limits of one request: those of single parts, and of features, layers and materials."""

    webs: WebRules = WebRules()
    movement: MovementRules = Field(
        MovementRules(), examples=[{"elastic": True, "dampest_percent": 12}]
    )
    look_alike: LookAlikeRules = LookAlikeRules()
    materials: Annotated[dict[Key, MaterialFigures], Field(max_length=100)] = Field(
        default_factory=dict, examples=[{"acrylic-cast": {"min_web": "2 mm"}}]
    )

    @property
    def material_figures(self) -> dict[str, dict[str, float]]:
        """Key of a material -> name of a figure of the catalogue -> figure."""
        return {
            key: figures.model_dump(by_alias=False, exclude_none=True)
            for key, figures in self.materials.items()
        }


DEFAULT_RULES = CheckRules()
DEFAULT_WEB_RULES = WebRules()
DEFAULT_MOVEMENT_RULES = MovementRules()
DEFAULT_LOOK_ALIKE_RULES = LookAlikeRules()
DEFAULT_LIMITS = Limits()
