"""What is public, and that both clients offer the same."""

import inspect
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

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


def test_methods_tell_what_they_are_given_and_what_comes_back():
    told = inspect.signature(Client.offers)
    assert list(told.parameters) == ["self", "of", "version"]
    assert told.return_annotation == "tuple[Offer, ...]"
    for kind in (Client, AsyncClient):
        for name in methods(kind):
            assert inspect.getdoc(getattr(kind, name)), name


USES = """\
from pathlib import Path
from letterply_client import AsyncClient, Client, Offer, Result

def use(client: Client) -> None:
    made: Result = client.check({}, use={}, key="rack-1")
    where: tuple[Path, ...] = client.download(made, "racks", only=["*.svg"])
    offers: tuple[Offer, ...] = client.offers(of=made.id)
    client.check({}, sign="tactile")  # wrong: no such wish
    client.check()  # wrong: of what
    client.offers(of=3)  # wrong: no id
    offers = client.offer("1")  # wrong: one, not all
    client.test_piece("fit", "mdf", "3 mm", dowl=3)  # wrong: misspelt

async def wait(client: AsyncClient) -> None:
    made: Result = await client.make_plan({}, search_s=3)
    client.offer_pdf("1").decode()  # wrong: not awaited
    await client.fetch("a path")  # wrong: no file
"""


def test_a_type_checker_knows_every_argument_and_answer(tmp_path):
    pytest.importorskip("mypy")
    use = tmp_path / "use.py"
    use.write_text(USES)
    command = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(tmp_path / "cache")]
    package = Path(letterply_client.__file__).parents[1]
    found = subprocess.run(
        [*command, str(use)], capture_output=True, text=True, cwd=tmp_path, check=False,
        env={**os.environ, "MYPYPATH": str(package)},
    )  # fmt: skip
    lines = {int(m) for m in re.findall(r"use\.py:(\d+): error", found.stdout)}
    wrong = {n for n, line in enumerate(USES.splitlines(), 1) if "# wrong" in line}
    assert lines == wrong, found.stdout


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
