"""What may be asked, as models: recipes, and what goes with them.

In: JSON values as they came. Out: frozen models in mm and degrees, or one error with every mistake,
each with its field and what would be right.
"""

from letterply.requests.artwork import WHITE, ArtworkRecipe, Ornament
from letterply.requests.blanks import BlankOutline, FixtureWish, Frame
from letterply.requests.depths import (
    CLEARANCE_MM,
    DETAIL_MM,
    SCRIBED_MM,
    hatch_gap,
    recess_depth,
    require_blind,
)
from letterply.requests.fittings import At, Border, Keyholes, Slots, Standoffs
from letterply.requests.jobs import (
    CheckedRequest,
    CheckRequest,
    PlanRequest,
    PreviewRequest,
    ProofRequest,
    StackRequest,
)
from letterply.requests.lettering import (
    Box,
    LetteringRecipe,
    PathBaseline,
    SizeSpec,
    StraightBaseline,
    VerticalBaseline,
)
from letterply.requests.limits import (
    DEFAULT_LIMITS,
    DEFAULT_LOOK_ALIKE_RULES,
    DEFAULT_MOVEMENT_RULES,
    DEFAULT_RULES,
    DEFAULT_WEB_RULES,
    CheckRules,
    Limits,
    LookAlikeRules,
    MovementRules,
    WebRules,
)
from letterply.requests.lines import line_of
from letterply.requests.measured import FitFigure, MeasuredRecord, TrueThickness
from letterply.requests.mistakes import read_request
from letterply.requests.offer import OfferRequest
from letterply.requests.order import OrderRequest
from letterply.requests.prices import PriceRules
from letterply.requests.recipe import (
    ArtworkFeature,
    ArtworkOutline,
    Dowels,
    Feature,
    GrooveLettering,
    Holes,
    LayerRecipe,
    LetteringOutline,
    NoAlignment,
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
from letterply.requests.shop import (
    BeamPower,
    EntryKind,
    HoldDown,
    NamedShop,
    OwnFeeds,
    ShopRequest,
    ShopWish,
    StockSheet,
    TabShape,
)
from letterply.requests.shop_document import CatalogueFile, ShopDocument
from letterply.requests.sign_use import SignUse
from letterply.requests.sizes import SizeRequest
from letterply.requests.survey import GLYPH_SET_NAMES, SurveyRequest
from letterply.requests.templates import Template, shipped_templates, template
from letterply.requests.test_piece import PIECE_KINDS, MeasuredRequest, PieceKind, PieceRequest
from letterply.requests.tracing import TraceWish

__all__ = [
    "CLEARANCE_MM",
    "DEFAULT_LIMITS",
    "DEFAULT_LOOK_ALIKE_RULES",
    "DEFAULT_MOVEMENT_RULES",
    "DEFAULT_RULES",
    "DEFAULT_WEB_RULES",
    "DETAIL_MM",
    "GLYPH_SET_NAMES",
    "PIECE_KINDS",
    "SCRIBED_MM",
    "WHITE",
    "ArtworkFeature",
    "ArtworkOutline",
    "ArtworkRecipe",
    "At",
    "BeamPower",
    "BlankOutline",
    "Border",
    "Box",
    "Bridges",
    "CatalogueFile",
    "CheckRequest",
    "CheckRules",
    "CheckedRequest",
    "Dowels",
    "EntryKind",
    "Feature",
    "FitFigure",
    "FixtureWish",
    "Frame",
    "GrooveLettering",
    "HoldDown",
    "Holes",
    "Keyholes",
    "LayerRecipe",
    "LetteringOutline",
    "LetteringRecipe",
    "Limits",
    "LookAlikeRules",
    "MeasuredRecord",
    "MeasuredRequest",
    "MovementRules",
    "NamedShop",
    "NoAlignment",
    "OfferRequest",
    "OrderRequest",
    "Ornament",
    "OwnFeeds",
    "PathBaseline",
    "PieceKind",
    "PieceRequest",
    "Place",
    "PlacementLines",
    "PlanRequest",
    "PlateOutline",
    "PreviewRequest",
    "PriceRules",
    "ProofRequest",
    "Recess",
    "Recipe",
    "Ribbon",
    "ScribeLettering",
    "ShopDocument",
    "ShopRequest",
    "ShopWish",
    "SignUse",
    "SizeRequest",
    "SizeSpec",
    "Slots",
    "StackRequest",
    "Standoffs",
    "StockSheet",
    "StraightBaseline",
    "SurveyRequest",
    "TabShape",
    "Template",
    "ThroughLettering",
    "TraceWish",
    "TrueThickness",
    "VerticalBaseline",
    "WebRules",
    "hatch_gap",
    "line_of",
    "parse_recipe",
    "read_request",
    "recess_depth",
    "require_blind",
    "shipped_templates",
    "template",
]
