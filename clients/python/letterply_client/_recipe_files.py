"""Files of the command line: recipes, shops and limits as JSON or TOML; a new recipe to begin with.

TOML has comments, JSON has none: what `letterply new` writes is TOML.
"""

from __future__ import annotations

import argparse
import json
import sys
import tomllib
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from letterply_client import Client

__all__ = ["BadInput", "add_new", "new_recipe", "read_file", "read_file_if"]


class BadInput(Exception):
    """A file that is not there, or not what it should be."""


def read_file_if(name: str | None, what: str) -> dict[str, Any] | None:
    """Return what is in a file, or None for none; raises as `read_file`."""
    return read_file(name, what) if name else None


def read_file(name: str, what: str) -> dict[str, Any]:
    """Return what is in a file: TOML where its name ends so, else JSON; `-` is standard input.

    Raises:
        BadInput: says what is wrong with it.

    """
    toml = name.lower().endswith(".toml")
    try:
        raw = sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
        value = tomllib.loads(raw.decode("utf-8-sig")) if toml else json.loads(raw)
    except OSError as exc:
        raise BadInput(f"the {what} {name} cannot be read: {exc.strerror or exc}") from exc
    except ValueError as exc:
        kind = "TOML" if toml else "JSON"
        raise BadInput(f"the {what} {name} is not {kind}: {exc}") from exc
    if not isinstance(value, dict):
        raise BadInput(f"the {what} {name} is not a JSON object: it should begin with {{")
    return value


def add_new(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], common: argparse.ArgumentParser
) -> argparse.ArgumentParser:
    """Add the command `new`; return its parser."""
    new = commands.add_parser("new", help="begin a recipe, with comments", parents=[common])
    new.add_argument("template", nargs="?", help="what to begin with; left out, they are listed")
    new.add_argument("--text", help="the words")
    new.add_argument("--font", help="key of a font (letterply fonts)")
    new.add_argument("--size", help="height of the capitals, as 60 or '2 1/4 in'")
    new.add_argument("-o", "--out", type=Path, help="file to write (TOML); printed without")
    return new


def new_recipe(
    options: argparse.Namespace,
    client: Callable[[argparse.Namespace], AbstractContextManager[Client]],
    show: Callable[[Any], None],
) -> None:
    """List the templates, or write one with words, font and size in it.

    Raises:
        BadInput: for a file that is there already, or cannot be written.

    """
    out: Path | None = options.out
    if options.template is None:
        with client(options) as service:
            found = service.templates()
        if options.json:
            show([dict(t.facts) for t in found])
        else:
            for template in found:
                print(f"{template.key:12} {template.facts['about']}")
        return
    if out is not None and out.suffix.lower() != ".toml":
        raise BadInput(f"{out} should end in .toml: a recipe with comments is TOML")
    with client(options) as service:
        wishes = {"text": options.text, "font": options.font, "size": options.size}
        if options.json:
            show(dict(service.template(options.template, **wishes).facts))
            return
        made = service.template_file(options.template, **wishes)
    if out is None:
        print(made, end="")
        return
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with out.open("x", encoding="utf-8", newline="\n") as file:
            file.write(made)
    except FileExistsError as exc:
        raise BadInput(f"{out} is there already: name another file") from exc
    except OSError as exc:
        raise BadInput(f"{out} cannot be written: {exc.strerror or exc}") from exc
    print(f"wrote {out}; look at it with: letterply check {out}")
