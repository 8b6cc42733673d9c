"""Typed client for the letterply service, and the `letterply` command.

>>> from letterply_client import Client
>>> Client().url
'http://127.0.0.1:8467'

"""

from letterply_client._async_client import AsyncClient
from letterply_client._client import Client
from letterply_client._errors import (
    AccessProblem,
    BadAnswer,
    ClientError,
    ConflictProblem,
    InputProblem,
    NotFoundProblem,
    NotReachable,
    Problem,
    ServiceFailed,
    ServiceProblem,
    TimedOut,
)
from letterply_client._means import DEFAULT_URL
from letterply_client._offers import Offer, OfferWishes, Reply
from letterply_client._orders import OrderWishes
from letterply_client._results import Entry, File, Progress, Result
from letterply_client._service import engine_is_installed, private_service
from letterply_client._wishes import CheckWishes, PlanWishes, SizeWishes, SurveyWishes

__all__ = [
    "DEFAULT_URL",
    "AccessProblem",
    "AsyncClient",
    "BadAnswer",
    "CheckWishes",
    "Client",
    "ClientError",
    "ConflictProblem",
    "Entry",
    "File",
    "InputProblem",
    "NotFoundProblem",
    "NotReachable",
    "Offer",
    "OfferWishes",
    "OrderWishes",
    "PlanWishes",
    "Problem",
    "Progress",
    "Reply",
    "Result",
    "ServiceFailed",
    "ServiceProblem",
    "SizeWishes",
    "SurveyWishes",
    "TimedOut",
    "engine_is_installed",
    "private_service",
]
