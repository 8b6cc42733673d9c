"""`letterply size`: a recipe and a question in, its answer on the screen out."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from letterply_client._order_command import SHOP
from letterply_client._recipe_files import BadInput, read_file, read_file_if
from letterply_client._shop_command import read_shop

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from letterply_client import Client, Progress, Result

__all__ = ["add_size", "ask_size", "show_size"]


def add_size(commands: Any, common: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """Add the command; return its parser."""
    size: argparse.ArgumentParser = commands.add_parser(
        "size", help="say how large, how small or how wide a recipe may be", parents=[common]
    )
    size.add_argument("recipe", help="recipe file (JSON or TOML), - for standard input")
    what = size.add_mutually_exclusive_group(required=True)
    what.add_argument(
        "--fit",
        nargs="+",
        metavar="LENGTH",
        help="largest letters that fit into this box, as '6 in', or width and height",
    )
    what.add_argument("--sheets", type=int, help="largest that goes onto so many sheets")
    what.add_argument("--smallest", action="store_true", help="smallest at which all layers hold")
    what.add_argument("--width", help="whether it holds so wide, and what would make it hold")
    size.add_argument(
        "--each", action="store_true", help="with --fit: each letter as large as it may be"
    )
    size.add_argument("--shop", help=SHOP)
    size.add_argument("--limits", help="file (JSON or TOML) with limits of your own")
    size.add_argument("-o", "--out", type=Path, help="folder to write the files to")
    return size


def ask_size(
    options: argparse.Namespace, client: Client, progress: Callable[[Progress], None]
) -> Result:
    """Return the answer.

    Raises:
        BadInput: options that do not go together.

    """
    if options.each and not options.fit:
        raise BadInput("--each goes with --fit: add it")
    fit: Any = options.fit and options.fit[0]
    if options.fit and len(options.fit) == 2:
        fit = dict(zip(("width", "height"), options.fit, strict=True))
    elif options.fit and len(options.fit) > 2:
        raise BadInput("--fit takes one length, or a width and a height")
    return client.find_size(
        read_file(options.recipe, "recipe"),
        fit=fit or None,
        each=options.each or None,
        sheets=options.sheets,
        smallest=options.smallest or None,
        width=options.width,
        shop=read_shop(options.shop),
        limits=read_file_if(options.limits, "limits"),
        progress=progress,
    )


def show_size(result: Result, folder: Path | None, written: Sequence[Path]) -> None:
    """Print the answer, letter by letter where there are letters."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console()
    console.print(Text(result.title, style="bold"))
    console.print(Text(result.summary))
    letters = result.document.get("letters") or ()
    if letters:
        table = Table(box=None, pad_edge=False)
        for title in ("letter", "capitals", "in the way"):
            table.add_column(title, overflow="fold")
        for letter in letters:
            why = "" if letter.get("holds", True) else str(letter.get("why") or "")
            table.add_row(Text(letter["text"]), Text(letter["told"]), Text(why))
        console.print(table)
    for advice in result.document.get("advice") or ():
        console.print(Text(f"- {advice}"))
    if folder is not None:
        console.print(Text(f"{len(written)} files in {folder}", style="dim"))
