"""What is public, and that both clients offer the same."""

import inspect
import subprocess
import sys

import letterply_client
from letterply_client import AsyncClient, Client

PUBLIC = {
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
}


def test_the_public_names_are_these():
    assert set(letterply_client.__all__) == PUBLIC
    for name in PUBLIC:
        assert getattr(letterply_client, name) is not None
    shown = {n for n in vars(letterply_client) if not n.startswith("_")}
    assert shown - {"command"} == PUBLIC


def methods(kind):
    return {
        name: list(inspect.signature(member).parameters.values())
        for name, member in vars(kind).items()
        if inspect.isfunction(member) and not name.startswith("_")
    }


def test_both_clients_have_the_same_methods_with_the_same_arguments():
    assert methods(AsyncClient) == methods(Client)


def test_every_async_method_is_awaited():
    for name in methods(AsyncClient):
        assert inspect.iscoroutinefunction(getattr(AsyncClient, name)), name


def test_the_client_does_not_import_the_engine():
    found = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys, letterply_client.command; print('letterply' in sys.modules)",
        ],
        capture_output=True,
        text=True,
        check=True,
    )
    assert found.stdout.strip() == "False"
