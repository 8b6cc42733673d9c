"""Templates: what a maker can start from, as recipes with the maker's words, font and size in them.

Each is a TOML file with comments, kept beside the list that names them; a recipe file of the
command line may be one. Values go into it as TOML values, never as text between its quotes.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from typing import Any

from letterply.errors import NotFound
from letterply.names import visible
from letterply.units import MM_PER_INCH, format_mm, parse_length, speaking

__all__ = ["Template", "shipped_templates", "template"]

_MAX_TITLE = 200
_PLACE = re.compile(r"\{\{(title|text|font|size)\}\}")


@dataclass(frozen=True, slots=True)
class Template:
    """One thing to start from.

    Attributes:
        key: its name in addresses.
        name: what a maker calls it.
        about: one line for the maker.
        titled: title of the recipe, `{text}` standing for the words.
        text: words to begin with.
        font: key of a font to begin with.
        size: size to begin with, as a recipe has it.
        source: the recipe as TOML with comments, values in double braces.
        other: language -> name and line in it.

    """

    key: str
    name: str
    about: str
    titled: str
    text: str
    font: str
    size: Mapping[str, Any]
    source: str
    other: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def told(self, language: str | None = None) -> dict[str, str]:
        """Return name and line in a language, in English where there are none in it."""
        return {"name": self.name, "about": self.about, **self.other.get(language or "", {})}

    def toml(
        self,
        *,
        text: str | None = None,
        font: str | None = None,
        size: float | str | None = None,
        units: str = "mm",
    ) -> str:
        """Return the recipe as TOML with comments; what is not given is the template's own.

        Args:
            text: the words.
            font: key of a font.
            size: height of the capitals, mm or text with a unit.
            units: what its own lengths are given in; in inches they are those of a rule nearby.

        Raises:
            InputError: `bad-length` for a size that is no length.

        """
        words = self.text if text is None else text
        title = " ".join(visible(self.titled.replace("{text}", words)).split())[:_MAX_TITLE]
        if size is not None:
            parse_length(size, field="size")
        values = {
            "title": title,
            "text": words,
            "font": font or self.font,
            "size": dict(self.size) if size is None else {"cap_height": size},
        }
        told = _in_inches if units == "inch" else str
        if size is None:
            values["size"] = tomllib.loads(f"size = {told(_toml(values['size']))}")["size"]
        # In one pass: what the words say is not looked into.
        return _PLACE.sub(lambda found: _toml(values[found[1]]), told(self.source))

    def recipe(
        self,
        *,
        text: str | None = None,
        font: str | None = None,
        size: float | str | None = None,
        units: str = "mm",
    ) -> dict[str, Any]:
        """Return the same as the values of a recipe; raises as `toml`."""
        return tomllib.loads(self.toml(text=text, font=font, size=size, units=units))


@lru_cache(maxsize=1)
def shipped_templates() -> tuple[Template, ...]:
    """Return the templates that come with the service, in the order of their list."""
    folder = files("letterply.requests") / "data"
    listed = tomllib.loads((folder / "templates.toml").read_text("utf-8"))
    return tuple(
        Template(key=key, source=(folder / "templates" / f"{key}.toml").read_text("utf-8"), **about)
        for key, about in listed.items()
    )


def template(key: str) -> Template:
    """Return a template by its key.

    Raises:
        NotFound: `template-not-found`.

    """
    for found in shipped_templates():
        if found.key == key:
            return found
    raise NotFound("template", key)


_MM = re.compile(r'"(-?[0-9.]+) mm"')


def _in_inches(source: str) -> str:
    """Return a text with its quoted millimetres as inches of a rule: the nearest 16th, 32nd, 64th.

    What is thicker than a quarter of an inch is sold in sixteenths, what is finer in finer parts.

    >>> _in_inches('thickness = "3 mm", width = "9 mm", gap = "0.4 mm", y = "-10 mm"')
    'thickness = "1/8 in", width = "3/8 in", gap = "1/64 in", y = "-3/8 in"'

    """

    def told(found: re.Match[str]) -> str:
        value = parse_length(found[0][1:-1])
        parts = 16 if abs(value) >= 6 else 32 if abs(value) >= 1.5 else 64
        with speaking("inch"):
            return f'"{format_mm(round(value / MM_PER_INCH * parts) / parts * MM_PER_INCH)}"'

    return _MM.sub(told, source)


def _toml(value: object) -> str:
    r"""Return a value on one line of TOML.

    >>> print(_toml({"cap_height": "60 mm"}), _toml('a "b"'))
    { cap_height = "60 mm" } "a \"b\""

    """
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{k} = {_toml(v)}" for k, v in value.items()) + " }"
    # What JSON writes is TOML, but for the one control character that JSON leaves bare.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
