"""The recipe: what to make, as JSON; checked here, once, and turned into frozen values.

Lengths take a number (mm) or text with a unit (`"1/8 in"`). Every mistake is an `InputError` that
names the field by its dotted path (`layers.0.outline.margin`). What only the geometry can tell
(a glyph that is missing, a plate that is too small) comes later, from `letterply.stacks.build`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Literal

from pydantic import (
    BeforeValidator,
    Field,
    model_validator,
)
from pydantic_core import PydanticCustomError

from letterply.names import visible
from letterply.requests.artwork import ArtworkRecipe
from letterply.requests.blanks import BlankOutline, Frame
from letterply.requests.depths import SCRIBED_MM
from letterply.requests.fields import Detail, Length, Model, Name, NotNegative, Positive, mistake
from letterply.requests.fittings import At, Border, Keyholes, Slots, Standoffs
from letterply.requests.lettering import LetteringRecipe
from letterply.requests.mistakes import read_request
from letterply.requests.repairs import BridgesWish, StrengthenWish

__all__ = ["LetteringRecipe", "Recipe", "parse_recipe"]


class Ribbon(Model):
    """A hole for a ribbon or ring at the top of a plate."""

    diameter: Positive = 4.0
    inset: Positive = 4.0


class Sides(Model):
    """A margin for each side."""

    left: NotNegative = 0.0
    right: NotNegative = 0.0
    top: NotNegative = 0.0
    bottom: NotNegative = 0.0


def _margin(value: object) -> object:
    """Take one length for all sides, or an object with a length for each."""
    if value is None or isinstance(value, Mapping | Sides):
        return value
    return {"left": value, "right": value, "top": value, "bottom": value}


class LetteringOutline(Model):
    """An outline that is the lettering itself, grown or shrunk.

    Then, in this order: counters filled, thin places strengthened, inside corners softened,
    pieces joined (all of them, or those of each letter).
    """

    kind: Literal["lettering"]
    grow: Length = 0.0
    join: Literal[False, True, "letters"] = False
    fill_counters: bool = False
    soften: NotNegative = 0.0
    strengthen: StrengthenWish = None
    lettering: LetteringRecipe | None = None


class ArtworkOutline(Model):
    """An outline that is a drawing, its middle on that of what lies on it.

    Where the drawing has an element with the id `letters`, that element's box is the room for the
    words: it is not cut, and it is the room that is laid on them. `around` makes the drawing as
    large as the room needs to be, with that margin.
    """

    kind: Literal["artwork"]
    artwork: ArtworkRecipe
    around: NotNegative | None = None
    grow: Length = 0.0
    fill_counters: bool = False
    x: Length = 0.0
    y: Length = 0.0


class PlateOutline(Model):
    """A plain shape round the lettering: by a margin, or of a fixed size.

    `follow` keeps the margin all round the lettering itself, its corners smoothed by `corner`;
    `arch` has a round top that rises by `rise`, a quarter of its width without it; `notched` has
    its corners cut in by quarter circles of `corner`; `polygon` has `sides`.
    """

    kind: Literal["plate"]
    shape: Literal[
        "rectangle", "rounded", "circle", "oval", "tag", "arch", "stadium", "notched", "polygon",
        "follow",
    ] = "rectangle"  # fmt: skip
    margin: Annotated[Sides | None, BeforeValidator(_margin)] = None
    width: Positive | None = None
    height: Positive | None = None
    diameter: Positive | None = None
    corner: NotNegative | None = None
    rise: Positive | None = None
    sides: Annotated[int, Field(ge=3, le=12)] = 6
    ribbon: Ribbon | None = None

    @model_validator(mode="after")
    def _sized(self) -> PlateOutline:
        if self.shape == "follow" and self.margin is None:
            raise mistake(
                "bad-plate", "A plate that follows the lettering needs a margin.", "margin"
            )
        circle = self.shape in ("circle", "polygon")
        sides = (self.width is not None, self.height is not None)
        fixed = self.diameter is not None if circle else all(sides)
        stray = any(sides) if circle else self.diameter is not None or any(sides) != all(sides)
        if stray or fixed == (self.margin is not None):
            wanted = "diameter" if circle else "width and height"
            raise PydanticCustomError(
                "letterply",
                "{message}",
                {
                    "code": "bad-plate",
                    "message": f"A {self.shape} plate needs either a margin or {wanted}, not both.",
                    "expected": f"margin, or {wanted}",
                },
            )
        return self


Outline = Annotated[
    LetteringOutline | PlateOutline | ArtworkOutline | BlankOutline, Field(discriminator="kind")
]


class Place(Model):
    """Where lettering of its own goes on its layer: an anchor of the layer, moved by x and y."""

    anchor: Literal["centre", "top", "bottom", "left", "right", "lettering"] = "centre"
    inset: NotNegative = 8.0
    x: Length = 0.0
    y: Length = 0.0


class Holes(Model):
    """Round holes: at named places of the layer, or at points from its lower left."""

    kind: Literal["holes"]
    diameter: Positive
    at: At = "top-corners"
    inset: NotNegative = 8.0
    depth: Positive | None = None


class _OnLettering(Model):
    lettering: LetteringRecipe | None = None
    place: Place | None = None


class ThroughLettering(_OnLettering):
    """Lettering cut through the layer: a stencil; bridges hold what would drop out."""

    kind: Literal["through_lettering"]
    bridges: BridgesWish = None


class GrooveLettering(_OnLettering):
    """V-carved lettering; `floor_at` makes the floor flat where the walls would meet deeper.

    `from_depth` carves it into the floor of a recess of that depth; `floor_at` counts from there.

    Beyond the outline it runs over the edge, as artwork does. `detail` is how far what stays of a
    flat floor may lie from what end mills reach; the V-bit goes over it then.
    """

    kind: Literal["groove_lettering"]
    floor_at: Positive | None = None
    from_depth: NotNegative = 0.0
    angle: Annotated[float, Field(ge=10, le=150)] | None = None
    detail: Detail | None = None


class ScribeLettering(_OnLettering):
    """Lettering drawn by a drag point: its outline, filled with lines, or the middle of strokes.

    Without a `hatch_gap` lines lie as far apart as they are wide at their depth, less an overlap.
    Beyond the outline it runs over the edge, as artwork does.
    """

    kind: Literal["scribe_lettering"]
    depth: Positive = SCRIBED_MM
    style: Literal["outline", "hatch", "centre"] = "outline"
    hatch_gap: Positive | None = None


class Recess(_OnLettering):
    """A pocket for the layer above (or one named by `of`), or for the lettering itself.

    With a `corner`, the radius of the cutter, both the recess and the layer that goes into it get
    round corners that fit. Without a `clearance` it is as much wider all round as the shop has
    measured for these materials, or 0.1 mm. `detail` is how deep corners may stay round that no
    cutter makes sharp; the layer's or the shop's without it. Beyond the outline it runs over the
    edge, as artwork does.
    """

    kind: Literal["recess"]
    depth: Positive
    clearance: NotNegative | None = None
    corner: NotNegative = 0.0
    detail: Detail | None = None
    of: Name | Literal["lettering"] | None = None


class ArtworkFeature(Model):
    """A drawing worked into the layer: cut through, carved, scribed or sunk.

    `depth` is how deep it is sunk, a third of the thickness without it, or at most carved; a line
    that is scribed is `depth` deep, 0.15 mm without it.

    What is drawn beyond the outline, or into a hole, by more than 0.05 mm runs over that edge: it
    is as deep there as it is drawn, the cutter goes on beyond the edge, and what is drawn farther
    out is told and not cut. What is drawn up to the edge stays inside.
    """

    kind: Literal["artwork"]
    artwork: ArtworkRecipe
    place: Place = Place()
    work: Literal["through", "groove", "scribe", "recess"] = "scribe"
    depth: Positive | None = None
    angle: Annotated[float, Field(ge=10, le=150)] | None = None
    detail: Detail | None = None
    style: Literal["outline", "hatch", "centre"] = "outline"
    hatch_gap: Positive | None = None


Feature = Annotated[
    Holes
    | ThroughLettering
    | GrooveLettering
    | ScribeLettering
    | Recess
    | ArtworkFeature
    | Border
    | Slots
    | Standoffs
    | Keyholes,
    Field(discriminator="kind"),
]


class LayerRecipe(Model):
    """One layer.

    `detail` is how deep inside corners of its outlines may stay round, the shop's without it, and
    those of its recesses and floors where they do not say themselves.
    """

    name: Name
    material: Annotated[str, Field(min_length=1, max_length=80)]
    thickness: Positive
    outline: Outline
    features: list[Feature] = Field(default_factory=list, max_length=64)
    detail: Detail | None = None
    face: Literal["front", "back"] = "front"


class Dowels(Model):
    """Dowel holes in places that every layer can carry.

    `diameter` is that of the dowels. Without a `clearance` holes are as much wider all round as the
    shop has measured for the material, or as wide as the dowels.
    """

    kind: Literal["dowels"]
    diameter: Positive = 3.0
    clearance: NotNegative | None = None


class PlacementLines(Model):
    """The outline of the layer above, scribed a little inside so that glue hides it."""

    kind: Literal["placement_lines"]
    inset: Positive = 0.6
    depth: Positive = 0.1


class NoAlignment(Model):
    """No help for gluing up."""

    kind: Literal["none"] = "none"


Align = Annotated[Dowels | PlacementLines | Frame | NoAlignment, Field(discriminator="kind")]


def _seen(value: object) -> object:
    return visible(value) if isinstance(value, str) else value


class Recipe(Model):
    """What to make.

    `lettering` may be left out where no layer needs it: a board with a drawing, a plain plate.
    `finishing` are hints for the bench, in order; `hand_minutes` is the handwork on one copy.
    """

    title: Annotated[str, BeforeValidator(_seen), Field(min_length=1, max_length=200)]
    lettering: LetteringRecipe | None = None
    layers: Annotated[list[LayerRecipe], Field(min_length=1, max_length=12)]
    align: Align = NoAlignment()
    copies: Annotated[int, Field(ge=1, le=1000)] = 1
    finishing: Annotated[
        list[Annotated[str, BeforeValidator(_seen), Field(min_length=1, max_length=300)]],
        Field(max_length=20),
    ] = Field(default_factory=list)
    hand_minutes: Annotated[float, Field(ge=0, le=10_000)] = 0.0

    @model_validator(mode="after")
    def _layers_have_names_of_their_own(self) -> Recipe:
        # File systems may not tell small letters from capitals.
        names = [layer.name.lower() for layer in self.layers]
        if len(set(names)) < len(names):
            raise PydanticCustomError(
                "letterply",
                "{message}",
                {
                    "code": "duplicate-layer",
                    "message": "Two layers have the same name.",
                    "expected": "a name of its own for each layer",
                },
            )
        return self

    @model_validator(mode="after")
    def _words_are_there_where_a_layer_needs_them(self) -> Recipe:
        wanting = [
            (layer.name, why, f"layers.{number}{place}")
            for number, layer in enumerate(self.layers)
            for why, place in _wanting(layer, top=number == len(self.layers) - 1)
        ]
        if self.lettering is None and wanting:
            needs = "; ".join(f"the layer {name!r} for {why}" for name, why, _ in wanting)
            places = ", ".join(place for _, _, place in wanting)
            raise mistake(
                "missing-lettering",
                f"The recipe has no lettering, and something needs it: {needs}.",
                f"lettering of the recipe, or of its own where the layer asks for it: {places}",
                field="lettering",
            )
        return self


def parse_recipe(raw: object, *, field: str = "recipe") -> Recipe:
    """Return the recipe in decoded JSON; raises as `read_request`."""
    return read_request(Recipe, raw, field=field)


def _wanting(layer: LayerRecipe, *, top: bool) -> Iterator[tuple[str, str]]:
    """Yield what of a layer asks for the recipe's lettering, and where in the layer that stands.

    `top` tells that no layer lies on it: what is laid round what lies on it then has nothing but
    the lettering to be laid round.
    """
    outline = layer.outline
    if isinstance(outline, LetteringOutline) and outline.lettering is None:
        yield "its outline", ".outline"
    if isinstance(outline, PlateOutline) and outline.margin is not None and top:
        yield "a margin round it", ".outline.margin"
    if isinstance(outline, ArtworkOutline) and outline.around is not None and top:
        yield "a drawing round it", ".outline.around"
    for number, feature in enumerate(layer.features):
        place = f".features.{number}"
        if getattr(getattr(feature, "place", None), "anchor", "") == "lettering":
            yield "a place on it", f"{place}.place"
        elif isinstance(feature, _OnLettering) and feature.lettering is None:
            of = feature.of if isinstance(feature, Recess) else "lettering"
            if of == "lettering" or (of is None and top):
                yield f"its {feature.kind}", place
