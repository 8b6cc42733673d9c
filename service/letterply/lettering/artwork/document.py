"""SVG bytes in, a small tree of elements out: XML read so that nothing else is ever opened.

Expat alone reads the bytes. Entity declarations are refused, external subsets are not followed,
and size, depth and number of elements are limited. Names lose their namespace; elements and
attributes of other namespaces than SVG's are dropped: editors keep their own notes there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from xml.parsers import expat

from letterply.lettering.artwork.model import ArtworkError

__all__ = ["Element", "read_document"]

_MAX_BYTES = 5_000_000
_MAX_ELEMENTS = 50_000
_MAX_DEPTH = 100
_SVG = "http://www.w3.org/2000/svg"
_XLINK = "http://www.w3.org/1999/xlink"
_XML = "http://www.w3.org/XML/1998/namespace"


@dataclass(slots=True, eq=False)
class Element:
    """An element of SVG: its name, attributes, children and line in the file.

    `text` stands before its first child, `tail` between its own end and what comes next.
    `position` counts elements of any namespace in its parent, from 1; `elements` is their number
    in itself; `before` is the element of SVG in front of it; `of_type` counts those of its name,
    and `types` says how many of each name are in itself.
    """

    tag: str
    attributes: dict[str, str]
    line: int
    children: list[Element] = field(default_factory=list)
    text: str = ""
    tail: str = ""
    parent: Element | None = None
    before: Element | None = None
    position: int = 1
    elements: int = 0
    of_type: int = 1
    types: dict[str, int] = field(default_factory=dict)

    @property
    def classes(self) -> list[str]:
        """Its classes."""
        return self.attributes.get("class", "").split()

    @property
    def id(self) -> str:
        """Its id, empty for none."""
        return self.attributes.get("id", "")

    @property
    def href(self) -> str:
        """What it refers to."""
        return self.attributes.get("href", self.attributes.get("xlink:href", "")).strip()

    @property
    def place(self) -> str:
        """Where it is, for people: its id, or its line."""
        return self.id[:60] or f"line {self.line}"

    def walk(self) -> Iterator[Element]:
        """Yield the element and all below it, in the order of the document."""
        waiting = [self]
        while waiting:
            element = waiting.pop()
            yield element
            waiting.extend(reversed(element.children))

    def words(self) -> str:
        """Return all text in it, white space evened out."""
        inner = [f"{e.text}" if e is self else f"{e.text}{e.tail}" for e in self.walk()]
        return " ".join("".join(inner).split())


class _Builder:
    """Builds the tree while expat reads."""

    def __init__(self, parser: Any) -> None:
        self.root: Element | None = None
        self._open: list[Element] = []
        self._foreign = 0
        self._count = 0
        self._space = ""
        self._sheets: list[str] = []
        self._parser = parser

    def start(self, name: str, attributes: dict[str, str]) -> None:
        space, _, tag = name.rpartition(" ")
        self._count += 1
        if self._count > _MAX_ELEMENTS:
            raise _too_complex(f"more than {_MAX_ELEMENTS} elements")
        if self.root is None and space in (_SVG, ""):
            self._space = space  # a drawing in no namespace at all is taken for SVG
        if self._open and not self._foreign:
            self._open[-1].elements += 1
        if self._foreign or space not in (_SVG, self._space):
            if self.root is None:
                raise _no_svg()
            self._foreign += 1
            if self._foreign > _MAX_DEPTH:
                raise _too_complex(f"elements nested more than {_MAX_DEPTH} deep")
            return
        if len(self._open) >= _MAX_DEPTH:
            raise _too_complex(f"elements nested more than {_MAX_DEPTH} deep")
        if self.root is None and tag != "svg":
            raise _no_svg()
        element = Element(tag, _own(attributes), int(self._parser.CurrentLineNumber))
        if self._open:
            parent = self._open[-1]
            element.parent = parent
            element.before = parent.children[-1] if parent.children else None
            element.position = parent.elements
            element.of_type = parent.types[tag] = parent.types.get(tag, 0) + 1
            parent.children.append(element)
        else:
            self.root = element
            if self._sheets:
                element.attributes["xml-stylesheet"] = " ".join(self._sheets)[:200]
        self._open.append(element)

    def end(self, name: str) -> None:
        if self._foreign:
            self._foreign -= 1
        else:
            self._open.pop()

    def instruction(self, target: str, data: str) -> None:
        if target == "xml-stylesheet" and self.root is None:
            self._sheets.append(data)

    def data(self, text: str) -> None:
        if not self._open or self._foreign:
            return
        element = self._open[-1]
        if element.children:
            element.children[-1].tail += text
        else:
            element.text += text


def _own(attributes: dict[str, str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, value in attributes.items():
        space, _, bare = name.rpartition(" ")
        if not space:
            found[bare] = value
        elif space in (_XLINK, _XML):
            found[f"{'xlink' if space == _XLINK else 'xml'}:{bare}"] = value
    return found


def read_document(data: bytes) -> Element:
    """Return the root element of an SVG document.

    Raises:
        ArtworkError: `not-svg`; `artwork-too-large`; `artwork-too-complex`;
            `artwork-unreadable` for XML that is not well formed, or that declares entities.

    """
    if len(data) > _MAX_BYTES:
        raise ArtworkError(
            "The drawing is too large.",
            code="artwork-too-large",
            expected=f"at most {_MAX_BYTES // 1_000_000} MB",
        )
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    parser.buffer_text = True
    builder = _Builder(parser)
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.data
    parser.ProcessingInstructionHandler = builder.instruction
    parser.EntityDeclHandler = _no_entities
    parser.UnparsedEntityDeclHandler = _no_entities
    parser.ExternalEntityRefHandler = _no_entities
    try:
        parser.Parse(data, True)
    except expat.ExpatError as exc:
        if builder.root is None:
            raise _no_svg() from exc
        raise ArtworkError(
            f"The drawing is not well-formed XML: {expat.errors.messages[exc.code]} "
            f"in line {exc.lineno}.",
            code="artwork-unreadable",
            expected="a whole SVG file",
        ) from exc
    except (ValueError, LookupError) as exc:  # an encoding that Python does not know
        raise ArtworkError(
            "The encoding of the drawing is not known.",
            code="artwork-unreadable",
            expected="an SVG file in UTF-8",
        ) from exc
    if builder.root is None:
        raise _no_svg()
    return builder.root


def _no_entities(*_: object) -> int:
    raise ArtworkError(
        "The drawing declares entities: text that stands for other text or other files.",
        code="artwork-unreadable",
        expected="an SVG file without entities; save it as plain SVG",
    )


def _no_svg() -> ArtworkError:
    return ArtworkError("The file is not an SVG drawing.", code="not-svg", expected="an SVG file")


def _too_complex(what: str) -> ArtworkError:
    return ArtworkError(
        f"The drawing has {what}.",
        code="artwork-too-complex",
        expected="a simpler drawing: join paths, or save only what is to be cut",
    )
