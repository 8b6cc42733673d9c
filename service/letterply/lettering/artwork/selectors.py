"""Selectors of CSS (Selectors 4), read from tokens: what they ask of an element, and their weight.

Types, classes, ids, attributes, structural pseudo-classes, `:is`, `:where` and `:not` of one step,
and the four combinators. Ours, since what is read here is hostile until shown otherwise: every
step of a match counts against an allowance that the whole drawing has.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, cast

from letterply.lettering.artwork.css import Token, is_mark, parsed_nth
from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import ArtworkError

__all__ = ["Allowance", "Selector", "read_selector", "split_list"]

Test = Callable[[Element], bool]
Weight = tuple[int, int, int]
Combinator = Literal["", " ", ">", "+", "~"]
_MOST_STEPS = 2_000_000
_LONGEST = 50


class Allowance:
    """How many steps matching may still take for one drawing."""

    def __init__(self, steps: int = _MOST_STEPS) -> None:
        self._left = steps

    def take(self) -> None:
        """Take one step.

        Raises:
            ArtworkError: `artwork-too-complex`.

        """
        self._left -= 1
        if self._left < 0:
            raise ArtworkError(
                "The drawing's style rules take too long to match.",
                code="artwork-too-complex",
                expected="a drawing whose styles are simpler",
            )


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """One compound selector: what it asks, how it hangs on the one to its left; and an index."""

    tests: tuple[Test, ...]
    weight: Weight
    left: Combinator = ""
    key: str = ""

    def fits(self, element: Element) -> bool:
        return all(test(element) for test in self.tests)


@dataclass(frozen=True, slots=True, eq=False)
class Selector:
    """A complex selector, its steps from left to right; its specificity (Selectors 4, 17)."""

    steps: tuple[_Step, ...]
    weight: Weight

    @property
    def key(self) -> str:
        """`#id`, `.class` or type that an element must have; empty for none."""
        return self.steps[-1].key

    def fits(self, element: Element, allowance: Allowance) -> bool:
        """Tell whether an element is what the selector means."""
        return self._fits(len(self.steps) - 1, element, allowance)

    def _fits(self, at: int, element: Element, allowance: Allowance) -> bool:
        allowance.take()
        step = self.steps[at]
        if not step.fits(element):
            return False
        if at == 0:
            return True
        other = _next(step.left, element)
        while other is not None:
            if self._fits(at - 1, other, allowance):
                return True
            other = _next(step.left, other) if step.left in (" ", "~") else None
        return False


def _next(combinator: str, element: Element) -> Element | None:
    if combinator in (" ", ">"):
        return element.parent
    before = element.before
    if combinator == "+" and before is not None and before.position + 1 != element.position:
        return None  # something of another namespace stands between
    return before


def split_list(tokens: Sequence[Token]) -> list[list[Token]]:
    """Return the tokens of each selector of a list."""
    found: list[list[Token]] = [[]]
    for token in tokens:
        if is_mark(token, ","):
            found.append([])
        elif token.type != "comment":
            found[-1].append(token)
    return found


def read_selector(tokens: Sequence[Token]) -> Selector | None:
    """Return the selector that tokens make, None for one that is not known here."""
    steps: list[_Step] = []
    waiting: Combinator = ""
    compound: list[Token] = []
    for token in [*tokens, None]:
        combines = is_mark(token, ">", "+", "~")
        if token is not None and token.type != "whitespace" and not combines:
            compound.append(token)
            continue
        if compound:
            step = _compound(compound, waiting if steps else "")
            if step is None:
                return None
            steps.append(step)
            compound, waiting = [], " "
        if token is not None and combines:
            if not steps or waiting.strip():
                return None
            waiting = cast("Combinator", token.value)
    if not steps or waiting.strip() or len(steps) > _LONGEST:
        return None
    a, b, c = (sum(s.weight[i] for s in steps) for i in range(3))
    return Selector(tuple(steps), (a, b, c))


def _compound(tokens: list[Token], left: Combinator) -> _Step | None:
    tests: list[Test] = []
    weights: list[Weight] = []
    key = ""
    at = 0
    if len(tokens) > 2 and is_mark(tokens[0], "*") and is_mark(tokens[1], "|"):
        at = 2
    if tokens[at].type == "ident":
        name = tokens[at].value
        tests.append(lambda e: e.tag == name)
        weights.append((0, 0, 1))
        key = name
        at += 1
    elif is_mark(tokens[at], "*"):
        at += 1
    while at < len(tokens):
        one, taken = _simple(tokens, at)
        if one is None:
            return None
        test, weight, mark = one
        tests.append(test)
        weights.append(weight)
        if mark.startswith("#") or (mark and not key.startswith("#")):
            key = mark
        at += taken
    a, b, c = (sum(w[i] for w in weights) for i in range(3))
    return _Step(tuple(tests), (a, b, c), left, key)


_Simple = tuple[Test, Weight, str]


def _simple(tokens: list[Token], at: int) -> tuple[_Simple | None, int]:
    token = tokens[at]
    after = tokens[at + 1] if at + 1 < len(tokens) else None
    if token.type == "hash" and token.is_identifier:
        name = token.value
        return (lambda e: e.id == name, (1, 0, 0), f"#{name}"), 1
    if is_mark(token, ".") and after is not None and after.type == "ident":
        name = after.value
        return (lambda e: name in e.classes, (0, 1, 0), f".{name}"), 2
    if token.type == "[] block":
        test = _attribute([t for t in token.content if t.type not in ("whitespace", "comment")])
        return (None if test is None else (test, (0, 1, 0), "")), 1
    if is_mark(token, ":") and after is not None and after.type == "ident":
        found = _PSEUDO.get(after.lower_value)
        return (None if found is None else (found, (0, 1, 0), "")), 2
    if is_mark(token, ":") and after is not None and after.type == "function":
        return _function(after), 2
    return None, 1


def _attribute(tokens: list[Token]) -> Test | None:
    if not tokens or tokens[0].type != "ident":
        return None
    name = tokens[0].value
    if len(tokens) == 1:
        return lambda e: name in e.attributes
    fold = len(tokens) == 4 and tokens[3].type == "ident" and tokens[3].lower_value == "i"
    if len(tokens) != 3 and not fold:
        return None
    if tokens[1].type != "literal" or tokens[2].type not in ("ident", "string"):
        return None
    ask = _ASKS.get(tokens[1].value)
    wanted = tokens[2].value
    if ask is None:
        return None
    if fold:
        return lambda e: name in e.attributes and ask(e.attributes[name].lower(), wanted.lower())
    return lambda e: name in e.attributes and ask(e.attributes[name], wanted)


_ASKS: dict[str, Callable[[str, str], bool]] = {
    "=": lambda has, wanted: has == wanted,
    "~=": lambda has, wanted: wanted in has.split(),
    "|=": lambda has, wanted: has == wanted or has.startswith(f"{wanted}-"),
    "^=": lambda has, wanted: bool(wanted) and has.startswith(wanted),
    "$=": lambda has, wanted: bool(wanted) and has.endswith(wanted),
    "*=": lambda has, wanted: bool(wanted) and wanted in has,
}


def _place(element: Element, *, of_type: bool, last: bool) -> int:
    """Return the how-many-th child an element is, counting from 1."""
    parent = element.parent
    if parent is None:
        return 1
    if not of_type:
        return parent.elements + 1 - element.position if last else element.position
    return parent.types[element.tag] + 1 - element.of_type if last else element.of_type


def _nth(a: int, b: int, *, of_type: bool, last: bool) -> Test:
    def test(element: Element) -> bool:
        steps = _place(element, of_type=of_type, last=last) - b
        return steps == 0 if a == 0 else steps % a == 0 and steps // a >= 0

    return test


def _both(*, of_type: bool) -> Test:
    first, last = (_nth(0, 1, of_type=of_type, last=end) for end in (False, True))
    return lambda e: first(e) and last(e)


def _never(_: Element) -> bool:
    return False


_PSEUDO: dict[str, Test] = {
    "root": lambda e: e.parent is None,
    "empty": lambda e: e.elements == 0 and not e.text,
    "first-child": _nth(0, 1, of_type=False, last=False),
    "last-child": _nth(0, 1, of_type=False, last=True),
    "only-child": _both(of_type=False),
    "first-of-type": _nth(0, 1, of_type=True, last=False),
    "last-of-type": _nth(0, 1, of_type=True, last=True),
    "only-of-type": _both(of_type=True),
    "link": lambda e: e.tag == "a" and bool(e.href),
    "any-link": lambda e: e.tag == "a" and bool(e.href),
} | dict.fromkeys(  # nobody points at a drawing that is cut
    ("hover", "active", "focus", "focus-visible", "focus-within", "visited", "target"), _never
)


def _function(token: Token) -> _Simple | None:
    name = token.lower_name
    if name in ("nth-child", "nth-last-child", "nth-of-type", "nth-last-of-type"):
        read = parsed_nth(token.arguments)
        if read is None:
            return None
        test = _nth(*read, of_type="of-type" in name, last="last" in name)
        return test, (0, 1, 0), ""
    if name not in ("not", "is", "where"):
        return None
    steps: list[_Step] = []
    for tokens in split_list(token.arguments):
        kept = [t for t in tokens if t.type != "whitespace"]
        # One step each, without functions of its own: nothing nests.
        if (
            not kept
            or len(kept) != len(_trimmed(tokens))
            or any(t.type == "function" for t in kept)
        ):
            return None
        step = _compound(kept, "")
        if step is None:
            return None
        steps.append(step)
    weight = (0, 0, 0) if name == "where" else max(s.weight for s in steps)
    if name == "not":
        return lambda e: not any(s.fits(e) for s in steps), weight, ""
    return lambda e: any(s.fits(e) for s in steps), weight, ""


def _trimmed(tokens: list[Token]) -> list[Token]:
    first = next((i for i, t in enumerate(tokens) if t.type != "whitespace"), len(tokens))
    last = next((i for i, t in enumerate(tokens[::-1]) if t.type != "whitespace"), 0)
    return tokens[first : len(tokens) - last]
