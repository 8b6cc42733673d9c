"""`letterply test-piece`, and what was measured on it: `letterply shop measured`."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from letterply_client._folders import result_in
from letterply_client._recipe_files import BadInput

if TYPE_CHECKING:
    from letterply_client import Client, Progress, Result

__all__ = ["add_measured", "add_piece", "make_piece", "measured", "show_measured"]

_KINDS = ("diameter", "fit", "angle", "feed", "line", "flatness")


def add_piece(commands: Any, common: argparse.ArgumentParser, shop: str) -> argparse.ArgumentParser:
    """Add the command; return its parser."""
    piece: argparse.ArgumentParser = commands.add_parser(
        "test-piece",
        help="cut a small piece, measure it, and make the figures of a shop true",
        parents=[common],
    )
    piece.add_argument("kind", choices=_KINDS, help="what it tells")
    piece.add_argument("--material", required=True, help="key of what it is cut from")
    piece.add_argument("--thickness", required=True, help="of the sheet, as 6.5 or '1/4 in'")
    piece.add_argument("--cutter", help="key of the cutter that is tried")
    piece.add_argument("--of", help="key of the material of the plug (fit)")
    piece.add_argument("--of-thickness", help="of the plug (fit)")
    piece.add_argument("--dowel", help="diameter of a dowel, in place of a plug (fit)")
    piece.add_argument("--step", help="by which clearances grow all round (fit)")
    piece.add_argument("--width", help="of the sheet (flatness), and")
    piece.add_argument("--height", help="its height")
    piece.add_argument("--shop", help=shop)
    piece.add_argument("-o", "--out", type=Path, help="folder to write the files to")
    return piece


def make_piece(
    options: argparse.Namespace,
    client: Client,
    shop: str | dict[str, Any] | None,
    progress: Callable[[Progress], None],
) -> Result:
    """Return the test piece that the command line asks for."""
    return client.test_piece(
        options.kind,
        options.material,
        options.thickness,
        cutter=options.cutter,
        of=options.of,
        of_thickness=options.of_thickness,
        dowel=options.dowel,
        step=options.step,
        width=options.width,
        height=options.height,
        shop=shop,
        progress=progress,
    )


def add_measured(parser: argparse.ArgumentParser) -> None:
    """Add what `letterply shop measured` takes beside the name of the shop."""
    parser.add_argument(
        "piece",
        nargs="?",
        help="folder that `letterply test-piece -o` wrote, or id of the piece; without one the "
        "history of the shop is shown",
    )
    parser.add_argument(
        "readings", nargs="*", metavar="FIELD=READING", help="as on its sheet: outside_x=29.97"
    )
    parser.add_argument(
        "--units", choices=["mm", "inch"], help="of readings without a unit; those of its sheet"
    )
    parser.add_argument("--resolution", help="the smallest step of your caliper, as '0.01 mm'")
    parser.add_argument("--zero", help="how far z may have been off, as '0.02 mm'")
    parser.add_argument(
        "--dry-run", action="store_true", help="show what would change, and keep nothing"
    )


def measured(options: argparse.Namespace, service: Client) -> Any:
    """Return what readings change in a shop, or its history, and print it."""
    if options.piece is None:
        history = (service.shop(options.name)["shop"].get("measured")) or []
        if not options.json:
            for entry in history:
                plain = f"{entry['subject']}: {entry['figure']} {entry['new']:g}"
                print(f"{entry['on']}  {entry.get('words') or plain}")
            if not history:
                print("nothing was measured yet; begin with: letterply test-piece diameter")
        return history
    piece = _piece(options.piece)
    told = service.take_measured(
        options.name,
        piece,
        _readings(options.readings),
        units=options.units,
        resolution=options.resolution,
        zero=options.zero,
        keep=not options.dry_run,
    )
    if not options.json:
        show_measured(told)
    return told


def show_measured(told: Mapping[str, Any]) -> None:
    """Print what readings changed."""
    for change in told["changes"]:
        print(change["words"])
    for remark in told["remarks"]:
        print(f"  {remark}")
    kept = f"kept in {told['shop']}, version {told['version'][:8]}"
    print(kept if told["kept"] else "nothing is kept: leave --dry-run out for that")


def _piece(given: str) -> str:
    """Return the id of a test piece, given it or its folder."""
    folder = Path(given)
    id_ = result_in(folder) if folder.is_dir() else given
    if id_ is None:
        raise BadInput(f"there is no test piece in {folder}")
    return id_


def _readings(given: list[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for text in given:
        name, equals, value = text.partition("=")
        if not equals or not value:
            raise BadInput(f"{text} is no reading: write FIELD=READING, as outside_x=29.97")
        found[name.strip()] = value.strip()
    if not found:
        raise BadInput("no reading is given: write FIELD=READING, as outside_x=29.97")
    return found
