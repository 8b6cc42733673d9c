"""`letterply survey`: a font in, how small its glyphs can be cut out."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from letterply_client._order_command import SHOP
from letterply_client._recipe_files import BadInput
from letterply_client._shop_command import read_shop

if TYPE_CHECKING:
    from letterply_client import Client, Progress, Result

__all__ = ["add_survey", "ask_survey"]

_FONT_FILES = (".ttf", ".otf", ".ttc", ".woff", ".woff2")


def add_survey(commands: Any, common: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """Add the command; return its parser."""
    survey: argparse.ArgumentParser = commands.add_parser(
        "survey", help="say from which size on the glyphs of a font can be cut", parents=[common]
    )
    survey.add_argument("font", help="key of a font, or a font file")
    what = survey.add_mutually_exclusive_group()
    what.add_argument("--set", dest="named", help="digits, latin-basic, latin-extended or all")
    what.add_argument("--text", help="words, as they would be set")
    what.add_argument("--characters", help="characters, each on its own")
    survey.add_argument(
        "--axes", nargs="+", metavar="TAG=VALUE", help="of a variable font, as wght=700"
    )
    survey.add_argument("--first", type=int, help="how many glyphs to leave out at the start")
    survey.add_argument("--count", type=int, help="how many glyphs to look at")
    survey.add_argument("--compare", nargs="+", metavar="FONT", help="fonts to compare for --text")
    survey.add_argument("--material", help="key of a material")
    survey.add_argument("--thickness", help="of the sheet, as 3 or '1/8 in'")
    survey.add_argument("--cutter", nargs="+", dest="cutters", help="keys of cutters")
    survey.add_argument("--cap-height", help="height of the capitals, as 25 or '1 in'")
    survey.add_argument(
        "--supported",
        action="store_true",
        default=None,
        help="they are glued flat onto a layer",
    )
    survey.add_argument("--shop", help=SHOP)
    survey.add_argument("-o", "--out", type=Path, help="folder to write the files to")
    return survey


def ask_survey(
    options: argparse.Namespace, client: Client, progress: Callable[[Progress], None]
) -> Result:
    """Return the answer; a font file is added to the library first.

    Raises:
        BadInput: axes that are none.

    """
    font, file = options.font, Path(options.font)
    if file.suffix.lower() in _FONT_FILES and file.exists():
        font = client.upload_font(file).key
    return client.survey(
        font,
        named=options.named,
        text=options.text,
        characters=options.characters,
        first=options.first,
        count=options.count,
        compare=options.compare,
        axes=_axes(options.axes),
        material=options.material,
        thickness=options.thickness,
        cutters=options.cutters,
        supported=options.supported,
        cap_height=options.cap_height,
        shop=read_shop(options.shop),
        progress=progress,
    )


def _axes(given: Sequence[str] | None) -> dict[str, float] | None:
    """Return the axes of `TAG=VALUE`; None without any."""
    if not given:
        return None
    found = {}
    for words in given:
        tag, _, value = words.partition("=")
        try:
            found[tag] = float(value)
        except ValueError as exc:
            raise BadInput(f"--axes takes TAG=VALUE, as wght=700, not {words!r}") from exc
    return found
