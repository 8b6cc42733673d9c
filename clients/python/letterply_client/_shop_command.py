"""`letterply shop`: machine, cutters, sheets, habits and prices of one's own."""

from __future__ import annotations

import argparse
import os
import shlex
import subprocess
import tempfile
import tomllib
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from letterply_client._piece_command import add_measured, measured
from letterply_client._recipe_files import BadInput, read_file
from letterply_client._shop_template import shop_template

if TYPE_CHECKING:
    from letterply_client import Client

__all__ = ["add_shop", "read_shop", "run_shop"]

_Client = Callable[[argparse.Namespace], AbstractContextManager["Client"]]

_CUTTER = ("like", "title", "kind", "diameter", "cutting_length", "included_angle", "flutes")
_SHEET = ("material", "thickness", "width", "height", "count", "price", "margin")


def read_shop(given: str | None) -> str | dict[str, Any] | None:
    """Return a shop as it is named on the command line: what is in a file, or a name.

    Raises:
        BadInput: the file cannot be read.

    """
    if given is None:
        return None
    is_file = given == "-" or given.lower().endswith((".json", ".toml")) or Path(given).is_file()
    return read_file(given, "shop") if is_file else given


def add_shop(commands: Any, common: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """Add the command and what it does; return its parser."""
    shop: argparse.ArgumentParser = commands.add_parser("shop", help="keep shops of your own")
    acts = shop.add_subparsers(required=True, metavar="ACTION")

    def act(name: str, says: str, *, named: bool = True) -> argparse.ArgumentParser:
        parser: argparse.ArgumentParser = acts.add_parser(name, help=says, parents=[common])
        if named:
            parser.add_argument("name", help="name of the shop")
        parser.set_defaults(act=name)
        return parser

    new = act("new", "begin a shop, as a file with comments")
    new.add_argument("--units", choices=["mm", "inch"], default="mm", help="what it speaks in")
    new.add_argument("-o", "--out", type=Path, help="file to write (TOML); NAME.toml without")
    act("list", "list the shops", named=False)
    show = act("show", "show a shop, as the file that it is")
    show.add_argument("-o", "--out", type=Path, help="file to write (TOML)")
    put = act("put", "store a shop that stands in a file", named=False)
    put.add_argument("file", type=Path, help="file (TOML or JSON)")
    put.add_argument("name", nargs="?", help="name of the shop; the one in the file without")
    act("edit", "change a shop in your editor ($VISUAL, $EDITOR)")
    cutter = act("add-cutter", "add a cutter, or change one")
    cutter.add_argument("key", help="what it is called in recipes and shops")
    cutter.add_argument("--like", help="key of a cutter that has its other figures")
    cutter.add_argument("--title", help="name for people")
    cutter.add_argument("--kind", help="flat, ball, vbit, drag, drill or beam")
    cutter.add_argument("--diameter", help="as measured: '0.1246 in'")
    cutter.add_argument("--cutting-length", help="how deep it reaches")
    cutter.add_argument("--included-angle", type=float, help="of its tip, degrees")
    cutter.add_argument("--flutes", type=int, help="cutting edges")
    sheet = act("add-sheet", "add a sheet to the rack, or change its count")
    sheet.add_argument("--key", help="what it is called")
    for name in ("material", "thickness", "width", "height"):
        sheet.add_argument(f"--{name}", required=True, help="as '1/4 in'; the width lies along the "
                           "grain" if name == "width" else None)  # fmt: skip
    sheet.add_argument("--count", type=int, help="how many there are")
    sheet.add_argument("--price", type=float, help="of one")
    sheet.add_argument("--margin", help="strip along its edges that is kept free")
    sheet.add_argument("--offcut", action="store_true", help="a left-over: it is used first")
    act("use", "let it be the shop of all calls that name none").add_argument(
        "--no", action="store_true", help="no longer"
    )
    commits = act("commits", "what orders and plans took out of its stock, or undo one")
    commits.add_argument("--undo", metavar="ID", help="id of the order or plan")
    act("delete", "remove a shop")
    add_measured(act("measured", "take what was measured on a test piece, or show the history"))
    return shop


def run_shop(options: argparse.Namespace, client: _Client, show: Callable[[Any], None]) -> None:
    """Run the command.

    Raises:
        BadInput: for a file that is not there or in the way.

    """
    if options.act == "new":
        _write(
            options.out or Path(f"{options.name}.toml"), shop_template(options.name, options.units)
        )
        return
    with client(options) as service:
        told = _ACTS[options.act](options, service)
    if options.json and isinstance(told, Mapping | list):
        show(told)


def _list(options: argparse.Namespace, service: Client) -> Any:
    found = service.shops()
    if not options.json:
        for shop in found:
            print(f"{shop.key:20} {shop.facts['version'][:8]}"
                  + ("  the default" if shop.facts["default"] else ""))  # fmt: skip
        if not found:
            print("there are none yet; begin one with: letterply shop new NAME")
    return [dict(shop.facts) for shop in found]


def _show(options: argparse.Namespace, service: Client) -> Any:
    shop = service.shop(options.name)
    if options.json:
        return shop
    text = service.shop_file(options.name)
    if options.out is not None:
        _write(options.out, f'name = "{options.name}"\n{text}')
        return None
    print(f"# {options.name}, version {shop['version'][:8]}: {shop['summary']}")
    print(text, end="")
    return None


def _put(options: argparse.Namespace, service: Client) -> Any:
    toml = options.file.suffix.lower() == ".toml"
    try:
        raw = options.file.read_bytes()
    except OSError as exc:
        raise BadInput(f"the shop {options.file} cannot be read: {exc.strerror or exc}") from exc
    name = options.name or _name_in(raw, toml=toml) or options.file.stem
    return _stored(options, service.put_shop(name, raw, toml=toml))


def _name_in(raw: bytes, *, toml: bool) -> str | None:
    if not toml:
        return None
    try:
        name = tomllib.loads(raw.decode("utf-8-sig")).get("name")
    except ValueError:
        return None  # the service says what is wrong
    return name if isinstance(name, str) else None


def _edit(options: argparse.Namespace, service: Client) -> Any:
    editor = os.environ.get("VISUAL") or os.environ.get("EDITOR")
    if not editor:
        raise BadInput("no editor is named: set EDITOR, or use letterply shop show -o and put")
    shop = service.shop(options.name)
    with tempfile.NamedTemporaryFile("w", suffix=".toml", delete=False, encoding="utf-8") as file:
        file.write(service.shop_file(options.name))
    kept = Path(file.name)
    subprocess.run([*shlex.split(editor), str(kept)], check=True)
    print(f"your text stays in {kept} until it is stored")
    told = service.put_shop(options.name, kept.read_bytes(), toml=True, version=shop["version"])
    kept.unlink()
    return _stored(options, told)


def _add_cutter(options: argparse.Namespace, service: Client) -> Any:
    shop = service.shop(options.name)
    document = dict(shop["shop"])
    words = {"title": "name", "included_angle": "included_angle_deg"}
    entry = {words.get(n, n): v for n in _CUTTER if (v := getattr(options, n)) is not None}
    catalogue = dict(document.get("catalogue") or {})
    cutters = dict(catalogue.get("cutters") or {})
    cutters[options.key] = {**cutters.get(options.key, {}), **entry}
    document["catalogue"] = {**catalogue, "cutters": cutters}
    rack = document.get("cutters")
    if rack is not None and options.key not in rack:
        document["cutters"] = [*rack, options.key]
    told = service.put_shop(options.name, document, version=shop["version"])
    return _stored(options, told)


def _add_sheet(options: argparse.Namespace, service: Client) -> Any:
    shop = service.shop(options.name)
    document = dict(shop["shop"])
    entry = {n: v for n in _SHEET if (v := getattr(options, n)) is not None}
    entry |= {"offcut": True} if options.offcut else {}
    rack = [s for s in document.get("stock") or () if options.key is None or _key(s) != options.key]
    entry |= {"key": options.key or f"sheet-{len(rack) + 1}"}
    document["stock"] = [*rack, entry]
    return _stored(options, service.put_shop(options.name, document, version=shop["version"]))


def _key(sheet: Any) -> Any:
    return sheet.get("key") if isinstance(sheet, Mapping) else sheet


def _use(options: argparse.Namespace, service: Client) -> Any:
    service.use_shop(options.name, use=not options.no)
    print(f"{options.name} is {'no longer ' if options.no else ''}the shop of calls that name none")


def _delete(options: argparse.Namespace, service: Client) -> Any:
    service.delete_shop(options.name)
    print(f"{options.name} is gone; what was made in it still names its version")


def _commits(options: argparse.Namespace, service: Client) -> Any:
    found = service.commits(options.name)
    if options.undo is not None:
        one = next((c for c in found if c["id"] == options.undo and not c["undone_at"]), None)
        if one is None:
            raise BadInput(f"nothing of {options.undo} is taken out of {options.name}")
        undo = service.commit_order if one["kind"] == "order" else service.commit_plan
        found = (undo(options.undo, undo=True),)
    if not options.json:
        for commit in found:
            print(f"{commit['at'][:10]}  {commit['kind']} {commit['id']}: {commit['summary']}")
        if not found:
            print("nothing was taken; commit an order with: letterply order --commit ID")
    return list(found)


_ACTS: Mapping[str, Callable[[argparse.Namespace, Client], Any]] = {
    "list": _list,
    "show": _show,
    "put": _put,
    "edit": _edit,
    "add-cutter": _add_cutter,
    "add-sheet": _add_sheet,
    "use": _use,
    "delete": _delete,
    "commits": _commits,
    "measured": measured,
}


def _stored(options: argparse.Namespace, shop: Mapping[str, Any]) -> Any:
    if not options.json:
        print(f"{shop['name']} is stored, version {shop['version'][:8]}: {shop['summary']}")
        if not shop["default"]:
            print(f"name it with --shop {shop['name']}, or let it be the usual one with: "
                  f"letterply shop use {shop['name']}")  # fmt: skip
    return shop


def _write(out: Path, text: str) -> None:
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with out.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError as exc:
        raise BadInput(f"{out} is there already: name another file") from exc
    except OSError as exc:
        raise BadInput(f"{out} cannot be written: {exc.strerror or exc}") from exc
    print(f"wrote {out}; store it with: letterply shop put {out}")
