"""`letterply prove FOLDER`: the programs that lie in a folder, proved as they are now."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from letterply_client._folders import result_in
from letterply_client._order_command import SHOP
from letterply_client._recipe_files import BadInput

if TYPE_CHECKING:
    from letterply_client import Client

__all__ = ["add_prove", "prove_folder", "show_proof"]


def add_prove(commands: Any, common: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """Add the command; return its parser."""
    command: argparse.ArgumentParser = commands.add_parser(
        "prove",
        help="prove the programs of a plan's folder as they are now, changed by hand or not",
        parents=[common],
    )
    command.add_argument("folder", type=Path, help="folder that `letterply plan -o` wrote")
    command.add_argument("--shop", help=f"{SHOP}: where they are to be run, not where planned")
    return command


def prove_folder(
    folder: Path, client: Client, shop: Mapping[str, Any] | str | None = None
) -> Mapping[str, Any]:
    """Return the proof of the programs in a folder; nothing there is changed.

    Judged by the shop of the plan as it was then, or by another one. Where the service does not
    know the plan any more, it is made again from the folder's request.

    Raises:
        BadInput: the folder holds no plan, or one that is not made like this any more.

    """
    from letterply_client import NotFoundProblem, Problem

    plan = result_in(folder)
    if plan is None:
        raise BadInput(
            f"there is no plan in {folder}: name a folder that `letterply plan -o` wrote"
        )
    programs = _programs(folder)
    try:
        return client.prove(plan, programs, shop=shop)
    except NotFoundProblem:
        pass
    except Problem as exc:
        if exc.code != "answer-outdated":
            raise
    _make_again(folder, plan, client)
    return client.prove(plan, programs, shop=shop)


def _programs(folder: Path) -> dict[str, str]:
    found = {}
    for path in sorted((folder / "programs").glob("*")):
        if path.is_file():
            try:
                found[path.name] = path.read_bytes().decode("utf-8")
            except (OSError, UnicodeDecodeError) as exc:
                raise BadInput(f"{path} cannot be read: {exc}") from exc
    return found


def _make_again(folder: Path, plan: str, client: Client) -> None:
    try:
        request = json.loads((folder / "request.json").read_bytes())
        recipe = request.pop("recipe")
    except (OSError, ValueError, KeyError, AttributeError) as exc:
        raise BadInput(f"{folder / 'request.json'} cannot be read: {exc}") from exc
    if request.get("search_s"):
        raise BadInput(
            f"the service has lost the plan in {folder}, and its sheets came of a search, which "
            "finds other ones each time: plan it again"
        )
    if client.make_plan(recipe, **request).id != plan:
        raise BadInput(
            f"the plan in {folder} was made by another version or with another catalogue: plan it "
            "again"
        )


def show_proof(document: Mapping[str, Any]) -> None:
    """Print a proof, its faults with program and line."""
    from rich.console import Console
    from rich.text import Text

    console = Console()
    console.print(Text(str(document["summary"])))
    for sheet in document["sheets"]:
        for fault in sheet["faults"]:
            place = " ".join(
                str(v)
                for v in (fault.get("program"), fault.get("line") and f"line {fault['line']}")
                if v
            )
            style = "bold red" if fault["severity"] == "blocker" else ""
            told = f"{fault['severity']}  {place or 'sheet ' + str(sheet['sheet'])}: "
            console.print(Text(told + str(fault["text"]), style=style))
    if not document["passed"]:
        console.print(Text("Do not cut it as it is.", style="bold red"))
