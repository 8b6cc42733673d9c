"""What is said to the service about its library: fonts, drawings, templates, the catalogue."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from letterply_client._calls import Ask, Call, Work, ask
from letterply_client._results import Entry

__all__ = [
    "artwork",
    "artworks",
    "cutters",
    "font",
    "fonts",
    "machines",
    "materials",
    "shops",
    "stock",
    "template",
    "template_file",
    "templates",
    "upload_artwork",
    "upload_font",
    "version",
]

_OCTETS = {"Content-Type": "application/octet-stream"}


def fonts() -> Call[tuple[Entry, ...]]:
    """Return the fonts of the library."""
    return _entries("fonts")


def font(key: str) -> Call[Entry]:
    """Return a font with what it says of itself."""
    return _one("fonts", key)


def upload_font(path: Path | str) -> Call[Entry]:
    """Add a font file to the library; its key is its name in recipes."""
    data = yield from _bytes_of(path)
    return _entry((yield from ask(Ask("POST", "/v1/fonts", _OCTETS, content=data))).json())


def artworks(*, shop: str | None = None) -> Call[tuple[Entry, ...]]:
    """Return the drawings that were uploaded."""
    return _entries("artworks", shop)


def artwork(key: str) -> Call[Entry]:
    """Return a drawing with what is known of it."""
    return _one("artworks", key)


def upload_artwork(path: Path | str, **wishes: str | float | None) -> Call[Entry]:
    """Upload an SVG drawing, or a PNG or JPEG to be traced; its key is its id in recipes.

    Wishes for a picture: `threshold`, `speck_px`, `smoothing_px`, `ink`.
    """
    data = yield from _bytes_of(path)
    given = urlencode({name: value for name, value in wishes.items() if value is not None})
    asked = Ask("POST", f"/v1/artworks?{given}", _OCTETS, content=data)
    return _entry((yield from ask(asked)).json())


def templates() -> Call[tuple[Entry, ...]]:
    """Return what there is to begin with."""
    return _entries("templates")


def template(
    key: str,
    *,
    text: str | None = None,
    font: str | None = None,
    size: str | None = None,
) -> Call[Entry]:
    """Return a template with its recipe, words, font and size (capital height) put in."""
    where = _template(key, "", text=text, font=font, size=size)
    return _entry((yield from ask(Ask("GET", where))).json())


def template_file(
    key: str,
    *,
    text: str | None = None,
    font: str | None = None,
    size: str | None = None,
) -> Call[str]:
    """Return the same recipe as TOML with comments."""
    where = _template(key, ".toml", text=text, font=font, size=size)
    return (yield from ask(Ask("GET", where))).content.decode()


def materials(*, shop: str | None = None) -> Call[tuple[Entry, ...]]:
    """Return the materials."""
    return _entries("materials", shop)


def cutters(*, shop: str | None = None) -> Call[tuple[Entry, ...]]:
    """Return the cutters."""
    return _entries("cutters", shop)


def machines(*, shop: str | None = None) -> Call[tuple[Entry, ...]]:
    """Return the machines."""
    return _entries("machines", shop)


def stock(*, shop: str | None = None) -> Call[tuple[Entry, ...]]:
    """Return the stock."""
    return _entries("stock", shop)


def shops() -> Call[tuple[Entry, ...]]:
    """Return the shops that are stored."""
    return _entries("shops")


def version() -> Call[str]:
    """Return the version of the service."""
    return str((yield from ask(Ask("GET", "/health/live"))).json()["version"])


def _entries(collection: str, shop: str | None = None) -> Call[tuple[Entry, ...]]:
    """Return all of a list, page by page."""
    found: list[Entry] = []
    first = f"/v1/{collection}"
    path: str | None = f"{first}?{urlencode({'shop': shop})}" if shop else first
    while path is not None:
        page = (yield from ask(Ask("GET", path))).json()
        found += [_entry(item) for item in page["items"]]
        path = page.get("next")
    return tuple(found)


def _one(collection: str, key: str) -> Call[Entry]:
    """Return one of a list."""
    return _entry((yield from ask(Ask("GET", f"/v1/{collection}/{key}"))).json())


def _template(key: str, suffix: str, **wishes: str | None) -> str:
    given = {name: value for name, value in wishes.items() if value is not None}
    return f"/v1/templates/{quote(key, safe='')}{suffix}?{urlencode(given)}"


def _entry(item: Mapping[str, Any]) -> Entry:
    return Entry(item["key"], str(item.get("name") or item.get("family") or item["key"]), item)


def _bytes_of(path: Path | str) -> Call[bytes]:
    found: list[bytes] = []
    yield Work(lambda: found.append(Path(path).read_bytes()))
    return found[0]
