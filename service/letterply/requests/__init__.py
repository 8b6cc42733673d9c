"""What may be asked, as models: recipes, shops, limits, surveys, orders.

In: JSON values as they came. Out: frozen models in mm, or one `InputError` with every mistake. The
published description of the service is made from these very models.
"""

from letterply.requests.artwork import ArtworkRecipe, Ornament
from letterply.requests.blanks import BlankOutline, FixtureWish, Frame
from letterply.requests.depths import SCRIBED_MM, recess_depth, require_blind
from letterply.requests.fittings import At, Border, Keyholes, Slots, Standoffs
from letterply.requests.lettering import (
    Box,
    LetteringRecipe,
    PathBaseline,
    SizeSpec,
    StraightBaseline,
    VerticalBaseline,
)
from letterply.requests.recipe import (
    ArtworkFeature,
    ArtworkOutline,
    Dowels,
    Feature,
    GrooveLettering,
    Holes,
    LayerRecipe,
    LetteringOutline,
    Place,
    PlacementLines,
    PlateOutline,
    Recess,
    Recipe,
    Ribbon,
    ScribeLettering,
    ThroughLettering,
    parse_recipe,
)
from letterply.requests.repairs import Bridges

__all__ = [
    "SCRIBED_MM",
    "ArtworkFeature",
    "ArtworkOutline",
    "ArtworkRecipe",
    "At",
    "BlankOutline",
    "Border",
    "Box",
    "Bridges",
    "Dowels",
    "Feature",
    "FixtureWish",
    "Frame",
    "GrooveLettering",
    "Holes",
    "Keyholes",
    "LayerRecipe",
    "LetteringOutline",
    "LetteringRecipe",
    "Ornament",
    "PathBaseline",
    "Place",
    "PlacementLines",
    "PlateOutline",
    "Recess",
    "Recipe",
    "Ribbon",
    "ScribeLettering",
    "SizeSpec",
    "Slots",
    "Standoffs",
    "StraightBaseline",
    "ThroughLettering",
    "VerticalBaseline",
    "parse_recipe",
    "recess_depth",
    "require_blind",
]
