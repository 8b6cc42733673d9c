"""The text of style sheets as rules, declarations and tokens: the border to tinycss2."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

import tinycss2
import tinycss2.nth

__all__ = ["Node", "Token", "is_mark", "parsed_block", "parsed_nth", "parsed_sheet", "said"]

_MOST_NESTED = 4


class Token(Protocol):
    """A token of CSS Syntax 3; which attributes it has hangs on its `type`."""

    type: str
    value: str
    lower_value: str
    lower_name: str
    is_identifier: bool
    content: Sequence[Token]
    arguments: Sequence[Token]


class Node(Protocol):
    """A rule or declaration; which attributes it has hangs on its `type`."""

    type: str
    lower_at_keyword: str
    lower_name: str
    important: bool
    prelude: Sequence[Token]
    content: Sequence[Token] | None
    value: Sequence[Token]


def parsed_sheet(text: str | Sequence[Token]) -> Sequence[Node]:
    """Return the rules of a style sheet, or of the block of one of its at-rules."""
    found: Sequence[Node] = tinycss2.parse_stylesheet(text, True, True)
    return found


def parsed_block(text: str | Sequence[Token]) -> Sequence[Node]:
    """Return the declarations of a style attribute or of a rule's block, and what else is there."""
    found: Sequence[Node] = tinycss2.parse_blocks_contents(text, True, True)
    return found


def parsed_nth(tokens: Sequence[Token]) -> tuple[int, int] | None:
    """Return a and b of `an+b`, None for anything else."""
    found: tuple[int, int] | None = tinycss2.nth.parse_nth(tokens)
    return found


def is_mark(token: Token | None, *marks: str) -> bool:
    """Tell whether a token is one of some delimiters."""
    return token is not None and token.type == "literal" and token.value in marks


def said(tokens: Sequence[Token]) -> str:
    """Return tokens as text; empty for what nests deeper than values of drawings do."""
    if not _is_flat(tokens):
        return ""
    text: str = tinycss2.serialize(tokens)
    return text.strip()


def _is_flat(tokens: Iterable[Token], depth: int = 0) -> bool:
    for token in tokens:
        inner = getattr(token, "content", None) or getattr(token, "arguments", None)
        if inner and (depth >= _MOST_NESTED or not _is_flat(inner, depth + 1)):
            return False
    return True
