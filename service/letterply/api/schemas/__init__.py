"""The top levels of answers, for the published description of the service.

What may be asked is in `letterply.requests`; these models describe what comes back. Members that
are not named here may be added; none is taken away within `/v1`.
"""

from __future__ import annotations

from letterply.api.schemas.access import (
    KeyDocument,
    KeyPage,
    KeyRequest,
    LiveDocument,
    NewKeyDocument,
    ReadyDocument,
    UsageDocument,
)
from letterply.api.schemas.base import Problem
from letterply.api.schemas.library import (
    ArtworkDocument,
    ArtworkPage,
    CutterPage,
    FontDocument,
    FontPage,
    MachinePage,
    MaterialPage,
    StockPage,
    TemplateDocument,
    TemplatePage,
)
from letterply.api.schemas.orders import (
    EstimateDocument,
    MadeOfferDocument,
    OfferDocument,
    OfferPage,
    OrderDocument,
    OrderOfferPage,
)
from letterply.api.schemas.results import (
    CheckDocument,
    FileEntry,
    JobDocument,
    PieceDocument,
    PlanDocument,
    PreviewDocument,
    ProofDocument,
    ResultDocument,
    ResultPage,
    SizeDocument,
    StackDocument,
    SurveyDocument,
)
from letterply.api.schemas.shops import (
    CommitDocument,
    CommitPage,
    MeasuredDocument,
    ShopPage,
    StoredShop,
)

__all__ = [
    "ArtworkDocument",
    "ArtworkPage",
    "CheckDocument",
    "CommitDocument",
    "CommitPage",
    "CutterPage",
    "EstimateDocument",
    "FileEntry",
    "FontDocument",
    "FontPage",
    "JobDocument",
    "KeyDocument",
    "KeyPage",
    "KeyRequest",
    "LiveDocument",
    "MachinePage",
    "MadeOfferDocument",
    "MaterialPage",
    "MeasuredDocument",
    "NewKeyDocument",
    "OfferDocument",
    "OfferPage",
    "OrderDocument",
    "OrderOfferPage",
    "PieceDocument",
    "PlanDocument",
    "PreviewDocument",
    "Problem",
    "ProofDocument",
    "ReadyDocument",
    "ResultDocument",
    "ResultPage",
    "ShopPage",
    "SizeDocument",
    "StackDocument",
    "StockPage",
    "StoredShop",
    "SurveyDocument",
    "TemplateDocument",
    "TemplatePage",
    "UsageDocument",
]
