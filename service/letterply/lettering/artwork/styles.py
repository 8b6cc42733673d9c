"""How an element is painted: presentation attributes, style sheets and style attributes as one.

The cascade of CSS for drawings: rules by specificity and order, `!important` included, invalid
declarations ignored. The text is read by tinycss2. What goes beyond is noted, not guessed.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from letterply.lettering.artwork.css import Node, parsed_block, parsed_sheet, said
from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import ArtworkError
from letterply.lettering.artwork.properties import GEOMETRY, INHERITED, KNOWN, UNDONE, valid
from letterply.lettering.artwork.selectors import Allowance, Selector, read_selector, split_list

__all__ = ["CSS_TRANSFORM", "Sheet", "read_sheets"]

CSS_TRANSFORM = "css transform"
"""Under this name the style has a transform that a style sheet wrote: its grammar is another."""

_MAX_RULES = 2000
_MAX_CSS = 1_000_000
_SHORT = ("start", "mid", "end")
_WORDS = frozenset({"inherit", "initial", "unset", "revert", "revert-layer"})
_UNREAD = re.compile(r"\b(?:var|calc|env|min|max|clamp|attr)\(|\d(?:d|s|l)?v(?:w|h|min|max|i|b)\b")
_FONT = re.compile(
    r"(?:^|\s)((?:xx?-)?(?:small|large)|medium|larger|smaller|[\d.]+(?:[a-z]{1,3}|%))"
    r"(?:\s*/\s*\S+)?\s+\S",
    re.IGNORECASE,
)
_LONGEST_FONT = 500
_PLAIN = re.compile(r"[\w\s:;.,#%+-]*", re.ASCII)
_COUNTING = KNOWN | GEOMETRY | UNDONE | {"font"}
_EMBEDDED = re.compile(r"""url\(["']?data:[^)]*\)""", re.IGNORECASE)
_HARMLESS_RULES = frozenset({"charset", "font-face"})

Note = Callable[[str, str], None]


@dataclass(frozen=True, slots=True)
class _Declaration:
    """A declaration that is valid, or that is `undone`: not taken on, but noted."""

    name: str
    value: str
    important: bool
    undone: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Rule:
    selector: Selector
    order: int
    declarations: tuple[_Declaration, ...]


class Sheet:
    """All style sheets of a drawing."""

    def __init__(self, rules: list[_Rule], note: Note) -> None:
        self._note = note
        self._allowance = Allowance()
        self._by_key: dict[str, list[_Rule]] = defaultdict(list)
        for rule in rules:
            self._by_key[rule.selector.key].append(rule)
        self._written: dict[Element, dict[str, str]] = {}
        self._attributes: dict[str, tuple[_Declaration, ...]] = {}

    def style(self, element: Element, parent: Mapping[str, str]) -> dict[str, str]:
        """Return the properties of an element, those of its parent inherited.

        Raises:
            ArtworkError: `artwork-too-complex`.

        """
        if element not in self._written:
            self._written[element] = self._cascaded(element)
        found = {k: v for k, v in parent.items() if k in INHERITED}
        for name, value in self._written[element].items():
            word = value.lower()
            if word not in _WORDS:
                found[name] = value
            elif word == "inherit":
                if name in parent:
                    found[name] = parent[name]
            elif word == "initial" or name not in INHERITED:
                found.pop(name, None)
        return found

    def writes(self, element: Element, name: str) -> bool:
        """Tell whether an element has a valid declaration of its own for a property."""
        if element not in self._written:
            self._written[element] = self._cascaded(element)
        return self._written[element].get(name, "inherit").lower() not in ("inherit", "unset")

    def _own(self, text: str) -> tuple[_Declaration, ...]:
        """Return the declarations of a style attribute; many elements share one."""
        if text not in self._attributes:
            plain = _PLAIN.fullmatch(text) is not None
            self._attributes[text] = tuple(_plain(text) if plain else _kept(parsed_block(text)))
        return self._attributes[text]

    def _cascaded(self, element: Element) -> dict[str, str]:
        """Return what is written for an element, the strongest for each property."""
        found: dict[str, str] = {}
        loud: dict[str, str] = {}
        for name, value in element.attributes.items():
            value = value.strip()
            if name in KNOWN and _is_valid(name, value):
                found[name] = value
            elif name in KNOWN and _UNREAD.search(value.lower()):
                self._note("style property", f"{element.place}: {name}")
        keys = (element.tag, f"#{element.id}", *(f".{c}" for c in element.classes), "")
        rules = [
            rule
            for key in keys
            for rule in self._by_key.get(key, ())
            if rule.selector.fits(element, self._allowance)
        ]
        rules.sort(key=lambda r: (r.selector.weight, r.order))
        own = self._own(element.attributes.get("style", ""))
        for declarations in (*(r.declarations for r in rules), own):
            for one in declarations:
                if one.undone:
                    self._note("style property", f"{element.place}: {one.name}")
                else:
                    _set(loud if one.important else found, one.name, one.value)
        for name, value in loud.items():
            _set(found, name, value)
        return found


def _font_size(value: str) -> str:
    """Return the size in a `font` (CSS Fonts 4, 2.7), empty for none."""
    match = _FONT.search(value) if len(value) <= _LONGEST_FONT else None
    return "" if match is None else match[1]


def _is_valid(name: str, value: str) -> bool:
    return value.lower() in _WORDS or valid(name, value)


def _set(found: dict[str, str], name: str, value: str) -> None:
    if name == "marker":
        found |= {f"marker-{end}": value for end in _SHORT}
        return
    if name == "transform":
        found.pop("transform", None)
        name = CSS_TRANSFORM
    found.pop(name, None)
    found[name] = value


def _kept(nodes: Iterable[Node]) -> Iterator[_Declaration]:
    for node in nodes:
        if node.type == "declaration" and node.lower_name in _COUNTING and node.value:
            yield from _declared(node.lower_name, said(node.value), node.important)


def _plain(text: str) -> Iterator[_Declaration]:
    """Yield what `_kept` would of text without strings, blocks, functions and comments."""
    for part in text.split(";"):
        name, colon, value = part.partition(":")
        name = name.strip().lower()
        value = value.strip()
        if colon and value and name in _COUNTING:
            yield from _declared(name, value, important=False)


def _declared(name: str, value: str, important: bool) -> Iterator[_Declaration]:
    # No text at all: it nests deeper than a value that is meant to be read.
    if name == "font":
        name, value = "font-size", _font_size(value)
    is_valid = name not in UNDONE and _is_valid(name, value)
    if is_valid or name in UNDONE or not value or _UNREAD.search(value.lower()):
        yield _Declaration(name, value, important, undone=not is_valid)


def read_sheets(root: Element, note: Note) -> Sheet:
    """Return the style sheets of a drawing; `note` is told what is not understood, and where.

    Raises:
        ArtworkError: `artwork-too-complex`.

    """
    rules: list[_Rule] = []
    for element in root.walk():
        if element.tag != "style":
            continue
        media = element.attributes.get("media", "").strip().lower()
        kind = element.attributes.get("type", "text/css").strip().lower()
        if media == "print":
            continue
        if kind not in ("text/css", "") or media not in ("", "all", "screen"):
            note("style sheet", element.place)
            continue
        text = _EMBEDDED.sub("url()", element.text)
        if len(text) > _MAX_CSS:
            raise _too_many(f"a style sheet of more than {_MAX_CSS // 1_000_000} MB")
        _read_rules(parsed_sheet(text), rules, element.place, note)
    if "xml-stylesheet" in root.attributes:
        note("external reference", "xml-stylesheet")
    return Sheet(rules, note)


def _read_rules(nodes: Iterable[Node], rules: list[_Rule], place: str, note: Note) -> None:
    for node in nodes:
        if node.type == "at-rule":
            if node.lower_at_keyword in _HARMLESS_RULES:
                continue
            about = said(node.prelude).lower()
            if node.lower_at_keyword == "media" and about == "print":
                continue
            if node.lower_at_keyword == "media" and about in ("all", "screen") and node.content:
                inner = parsed_sheet(node.content)
                if all(n.type == "qualified-rule" for n in inner):
                    _read_rules(inner, rules, place, note)
                    continue
            note("style sheet", place)
        elif node.type == "qualified-rule":
            _read_rule(node, rules, note)


def _read_rule(node: Node, rules: list[_Rule], note: Note) -> None:
    content = parsed_block(node.content or ())
    declarations = tuple(_kept(content))
    for tokens in split_list(node.prelude):
        selector = read_selector(tokens)
        if selector is not None:
            rules.append(_Rule(selector, len(rules), declarations))
        if (selector is None and declarations) or any(n.type == "qualified-rule" for n in content):
            note("style rule", said(tokens)[:60] or "a rule")
        if len(rules) > _MAX_RULES:
            raise _too_many(f"more than {_MAX_RULES} style rules")


def _too_many(what: str) -> ArtworkError:
    return ArtworkError(
        f"The drawing has {what}.",
        code="artwork-too-complex",
        expected="a drawing whose styles are simpler",
    )
