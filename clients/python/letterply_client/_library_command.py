"""`letterply fonts`, `artworks`, `materials`, `cutters`, `machines`, `stock`: what there is.

Fonts and drawings of one's own are added here, too.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from letterply_client._recipe_files import BadInput

if TYPE_CHECKING:
    from letterply_client import Client, Entry

__all__ = ["add_library", "run_library"]

_LISTS = ("materials", "cutters", "machines", "stock")
_FILES = {"fonts": "a font file", "artworks": "a drawing"}


def add_library(
    commands: Any, common: argparse.ArgumentParser
) -> Iterator[argparse.ArgumentParser]:
    """Add the commands; yield their parsers."""
    fonts = commands.add_parser("fonts", help="list the fonts, or add one", parents=[common])
    fonts.add_argument("action", nargs="?", choices=["add"], help="add a font file")
    fonts.add_argument("file", nargs="?", type=Path, help="font file")
    fonts.set_defaults(library="fonts")
    yield fonts
    artworks = commands.add_parser(
        "artworks", help="list the drawings, or add one", parents=[common]
    )
    artworks.add_argument("action", nargs="?", choices=["add"], help="add a drawing")
    artworks.add_argument("file", nargs="?", type=Path, help="SVG, or PNG or JPEG to be traced")
    artworks.add_argument("--threshold", type=float, help="how dark ink is at least, 0 to 1")
    artworks.add_argument("--speck", type=float, help="spots so wide are left out, in pixels")
    artworks.add_argument("--smoothing", type=float, help="how far edges are blurred, in pixels")
    artworks.add_argument("--ink", choices=["auto", "dark", "light"], help="which is lettering")
    artworks.add_argument("--shop", help="name of a shop that speaks, in place of the default")
    artworks.set_defaults(library="artworks")
    yield artworks
    for library in _LISTS:
        command = commands.add_parser(library, help=f"list the {library}", parents=[common])
        command.add_argument("--shop", help="name of a shop, in place of the default")
        command.set_defaults(library=library, action=None)
        yield command


def run_library(
    options: argparse.Namespace,
    opened: Callable[[argparse.Namespace], AbstractContextManager[Client]],
    print_json: Callable[[Any], None],
) -> None:
    """List what there is, or add to it; raises `BadInput`, and what the client raises."""
    library = options.library
    if library in _FILES and (options.action is None) != (options.file is None):
        raise BadInput(f"name {_FILES[library]}: letterply {library} add FILE")
    if options.action is None:
        _list(options, opened, print_json)
        return
    with opened(options) as client:
        try:
            made = (_add_font if library == "fonts" else _add_artwork)(options, client)
        except OSError as exc:
            raise BadInput(f"{options.file} cannot be read: {exc}") from exc
    if options.json:
        print_json(made.facts)
    elif library == "fonts":
        print(f"{made.name} is in the library as {made.key}")
    else:
        _show_artwork(made)


def _add_font(options: argparse.Namespace, client: Client) -> Entry:
    return client.upload_font(options.file)


def _add_artwork(options: argparse.Namespace, client: Client) -> Entry:
    return client.upload_artwork(
        options.file,
        threshold=options.threshold,
        speck_px=options.speck,
        smoothing_px=options.smoothing,
        ink=options.ink,
        shop=options.shop,
    )


def _show_artwork(drawing: Entry) -> None:
    print(f"{drawing.facts['summary']}")
    for doubt in (drawing.facts.get("traced") or {}).get("doubts", ()):
        print(f"  {doubt}")
    for note in drawing.facts["left_out"]:
        where = ", ".join(note["where"])
        print(f"  {note['what']} ({where}): {note['done']}; {note['remedy']}")
    print(f"{drawing.name} can be used as {drawing.key}")


def _list(
    options: argparse.Namespace,
    opened: Callable[[argparse.Namespace], AbstractContextManager[Client]],
    print_json: Callable[[Any], None],
) -> None:
    from letterply_client._tables import show_entries

    with opened(options) as client:
        own = {"shop": options.shop} if getattr(options, "shop", None) else {}
        entries: tuple[Entry, ...] = getattr(client, options.library)(**own)
    if options.json:
        print_json([dict(entry.facts) for entry in entries])
    else:
        show_entries(options.library, entries)
