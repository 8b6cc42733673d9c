"""How an element is painted: presentation attributes, style sheets and style attributes as one.

The cascade of CSS as far as drawings use it: rules whose selectors are a type, classes, an id or
`*`, by specificity and order, `!important` included. What goes beyond is noted, not guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from svgelements import Color

from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import ArtworkError

__all__ = ["Paint", "Sheet", "paint", "read_sheets"]

_INHERITED = frozenset(
    {"fill", "fill-rule", "fill-opacity", "stroke", "stroke-width", "stroke-linecap",
     "stroke-linejoin", "stroke-miterlimit", "stroke-dasharray", "stroke-dashoffset",
     "stroke-opacity", "visibility", "clip-rule", "color", "font-size", "text-anchor",
     "letter-spacing", "word-spacing", "writing-mode",
     "marker", "marker-start", "marker-mid", "marker-end"}
)  # fmt: skip
_OWN = frozenset(
    {"display", "clip-path", "mask", "filter", "opacity", "overflow", "transform",
     "transform-origin", "vector-effect", "baseline-shift", "dominant-baseline"}
)  # fmt: skip
_KNOWN = _INHERITED | _OWN
_MAX_RULES = 2000

_SELECTOR = re.compile(r"(\*|[a-zA-Z][\w-]*)?((?:[.#][\w-]+)*)")
_BRACE = re.compile(r"[{}]")
_MARK = re.compile(r"([.#])([\w-]+)")


@dataclass(frozen=True, slots=True)
class _Rule:
    tag: str
    ids: frozenset[str]
    classes: frozenset[str]
    order: int
    declarations: tuple[tuple[str, str, bool], ...]

    @property
    def weight(self) -> tuple[int, int, int, int]:
        return len(self.ids), len(self.classes), self.tag not in ("", "*"), self.order

    def fits(self, element: Element, classes: frozenset[str]) -> bool:
        if self.tag not in ("", "*", element.tag):
            return False
        return self.classes <= classes and self.ids <= {element.id}


class Sheet:
    """All style sheets of a drawing."""

    def __init__(self, rules: list[_Rule]) -> None:
        self._rules = sorted(rules, key=lambda r: r.weight)

    def style(self, element: Element, parent: Mapping[str, str]) -> dict[str, str]:
        """Return the properties of an element, those of its parent inherited."""
        found = {k: v for k, v in parent.items() if k in _INHERITED}
        own = {k: v.strip() for k, v in element.attributes.items() if k in _KNOWN}
        classes = frozenset(element.attributes.get("class", "").split())
        loud: dict[str, str] = {}
        inline = _declarations(element.attributes.get("style", ""))
        rules = [r.declarations for r in self._rules if r.fits(element, classes)]
        for declarations in (*rules, inline):
            for name, value, important in declarations:
                (loud if important else own)[name] = value
        for name, value in (own | loud).items():
            if value == "inherit":
                if name in parent:
                    found[name] = parent[name]
            elif name == "marker":
                found |= {f"marker-{end}": value for end in ("start", "mid", "end")}
            else:
                found[name] = value
        return found


def _declarations(text: str) -> tuple[tuple[str, str, bool], ...]:
    found: list[tuple[str, str, bool]] = []
    for declaration in _without_comments(text).split(";"):
        name, colon, value = declaration.partition(":")
        name, value = name.strip().lower(), value.strip()
        if colon and name in _KNOWN:
            bare, mark, important = value.partition("!")
            loud = bool(mark) and important.strip().lower() == "important"
            found.append((name, bare.strip(), loud))
    return tuple(found)


def read_sheets(root: Element, note: Callable[[str, str], None]) -> Sheet:
    """Return the style sheets of a drawing; `note` is told what is not understood, and where.

    Raises:
        ArtworkError: `artwork-too-complex`.

    """
    rules: list[_Rule] = []
    for element in root.walk():
        if element.tag != "style":
            continue
        if element.attributes.get("type", "text/css").strip() not in ("text/css", ""):
            note("style sheet", element.place)
            continue
        text = _without_comments(element.text)
        if "@" in text:
            note("style sheet", element.place)
        for selectors, body in _rules(text):
            declarations = _declarations(body)
            for selector in selectors.split(","):
                rule = _rule(selector.strip(), declarations, len(rules))
                if rule is not None:
                    rules.append(rule)
                elif declarations:
                    note("style rule", selector.strip()[:60])
                if len(rules) > _MAX_RULES:
                    raise ArtworkError(
                        f"The drawing has more than {_MAX_RULES} style rules.",
                        code="artwork-too-complex",
                        expected="a drawing whose styles are simpler",
                    )
    return Sheet(rules)


def _without_comments(text: str) -> str:
    kept: list[str] = []
    at = 0
    while (start := text.find("/*", at)) >= 0:
        kept.append(text[at:start])
        end = text.find("*/", start + 2)
        if end < 0:
            return " ".join(kept)
        at = end + 2
    return " ".join([*kept, text[at:]]).replace("<!--", " ").replace("-->", " ")


def _rules(text: str) -> Iterator[tuple[str, str]]:
    """Yield selectors and body of every plain rule; rules that begin with `@` are passed over."""
    at = 0
    while (brace := text.find("{", at)) >= 0:
        # An @import and its like end with a semicolon, in front of the next rule's selectors.
        selectors = text[at:brace].rpartition(";")[2].strip()
        end = text.find("}", brace)
        if selectors.startswith("@"):
            at = _behind_block(text, brace)
            continue
        if end < 0:
            return
        yield selectors, text[brace + 1 : end]
        at = end + 1


def _behind_block(text: str, brace: int) -> int:
    """Return the place behind the block that opens at `brace`, blocks inside it included."""
    depth = 0
    for match in _BRACE.finditer(text, brace):
        depth += 1 if match[0] == "{" else -1
        if depth == 0:
            return match.end()
    return len(text)


def _rule(
    selector: str, declarations: tuple[tuple[str, str, bool], ...], order: int
) -> _Rule | None:
    match = _SELECTOR.fullmatch(selector)
    if match is None or not selector:
        return None
    marks = _MARK.findall(match[2])
    return _Rule(
        match[1] or "",
        frozenset(name for kind, name in marks if kind == "#"),
        frozenset(name for kind, name in marks if kind == "."),
        order,
        declarations,
    )


@dataclass(frozen=True, slots=True)
class Paint:
    """What a fill or line is painted with: whether at all, and its colour.

    `server` is the id of a gradient or pattern, `colour` is empty then.
    """

    seen: bool
    colour: str = ""
    server: str = ""


_SERVER = re.compile(r"url\(\s*['\"]?#([^'\")]*)['\"]?\s*\)\s*(.*)")
_NOTHING = Paint(seen=False)


def paint(value: str, current: str, servers: frozenset[str]) -> Paint:
    """Return the paint that a property names; `servers` are the gradients and patterns there are.

    A colour that makes no sense paints nothing of its own: the property is as if not given, which
    for a fill is black; that is left to the caller by asking again.
    """
    value = value.strip()
    server = _SERVER.fullmatch(value)
    if server is not None:
        if server[1] in servers:
            return Paint(seen=True, server=server[1])
        return paint(server[2], current, servers) if server[2] else _NOTHING
    lower = value.lower()
    if lower in ("none", "transparent", ""):
        return _NOTHING
    if lower == "currentcolor":
        return paint(current, "black", servers) if current.lower() != "currentcolor" else _NOTHING
    if lower in ("context-fill", "context-stroke"):
        return _NOTHING
    try:
        colour = Color(lower)
        if colour.value is None:
            return Paint(seen=True)
        return Paint(seen=colour.alpha > 0, colour=str(colour.hexrgb).lower())
    except Exception:  # the parser raises errors of any kind
        return Paint(seen=True)
