"""Inability, named: every error that letterply raises on purpose.

The tree:

    LetterplyError            base; `code` never changes its meaning, the sentence may
    ├── InputError            the request cannot be met as written; names the field
    │   ├── UnknownName       a font, material, cutter, machine or stock that is not there
    │   ├── FontError         a font file that cannot be used
    │   ├── GlyphMissing      a character that the font does not have
    │   └── GeometryError     a size or shape that makes no part
    ├── NotFound              an id that the store does not hold
    ├── Conflict              the same key, another request
    ├── OverAllowance         an owner uses as much as it may
    └── JobFailed             a worker ran out of time or memory, or died

Doubt about the work is a finding (`letterply.findings`), not an error. Mistakes of the
programmer stay `TypeError` and `ValueError`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

__all__ = [
    "Conflict",
    "FontError",
    "GeometryError",
    "GlyphMissing",
    "InputError",
    "JobFailed",
    "LetterplyError",
    "Mistakes",
    "NotFound",
    "OverAllowance",
    "UnknownName",
    "renamed_field",
    "shown",
]


_T = TypeVar("_T")


class LetterplyError(Exception):
    """Base of all errors that letterply raises on purpose.

    Attributes:
        code: stable name of the kind of error, lower case with hyphens.
        message: one sentence for a person.
        field: dotted path of the request field that is wrong, or None.
        expected: what would be right, in words, or None.
        data: further facts, plain JSON values.

    """

    def __init__(
        self,
        message: str,
        *,
        code: str,
        field: str | None = None,
        expected: str | None = None,
        data: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(message)
        self.message = message
        self.code = code
        self.field = field
        self.expected = expected
        self.data = data or {}

    def __reduce__(self) -> tuple[Callable[..., LetterplyError], tuple[Any, ...]]:
        # Errors cross process borders: rebuild from the facts, whatever the subclass asks for.
        facts = (self.message, self.code, self.field, self.expected, self.data)
        return _rebuild, (type(self), *facts)

    def at(self, prefix: str) -> LetterplyError:
        """Return the same error with `prefix` put before its field."""
        field = f"{prefix}.{self.field}" if self.field else prefix
        return _rebuild(type(self), self.message, self.code, field, self.expected, self.data)


def _rebuild(
    kind: type[LetterplyError],
    message: str,
    code: str,
    field: str | None,
    expected: str | None,
    data: dict[str, Any],
) -> LetterplyError:
    error = kind.__new__(kind)
    LetterplyError.__init__(error, message, code=code, field=field, expected=expected, data=data)
    return error


class InputError(LetterplyError):
    """The request cannot be met as written."""


class Mistakes:
    """Gathers what is wrong with a request, so that all of it is told at once.

    >>> mistakes = Mistakes()
    >>> mistakes.trying(int, "3"), mistakes.found
    (3, [])

    """

    def __init__(self) -> None:
        self.found: list[dict[str, Any]] = []

    def trying(self, call: Callable[..., _T], *arguments: Any, **named: Any) -> _T | None:
        """Return what a call returns, or None where it is a mistake, which is noted."""
        try:
            return call(*arguments, **named)
        except InputError as exc:
            self.take(exc)
            return None

    def take(self, error: InputError) -> None:
        """Note an error with all that it holds."""
        one = {"code": error.code, "message": error.message, "field": error.field}
        self.found += error.data.get("mistakes") or [{**one, "expected": error.expected}]

    def tell(self, code: str, message: str, field: str, expected: str) -> None:
        """Note a mistake."""
        self.take(InputError(message, code=code, field=field, expected=expected))

    def raise_any(self, **data: Any) -> None:
        """Raise the first one with all of them in its data, if there is any."""
        if self.found:
            first = self.found[0]
            told = {"mistakes": self.found} if len(self.found) > 1 else {}
            raise InputError(
                first["message"],
                code=first["code"],
                field=first["field"],
                expected=first["expected"],
                data={**told, **data},
            )


def renamed_field(old: str, new: str, field: str) -> InputError:
    """Return the refusal of a field by a name that it no longer has: it names the new one."""
    return InputError(
        f"{old!r} is called {new!r} now.", code="unknown-field", field=field, expected=new
    )


class UnknownName(InputError):
    """A name that the catalogue or the font library does not hold."""

    def __init__(self, kind: str, name: str, known: Sequence[str], *, field: str) -> None:
        some = ", ".join(sorted(known)[:12])
        super().__init__(
            f"There is no {kind} called {shown(name, 80)}.",
            code=f"unknown-{kind}",
            field=field,
            expected=f"one of: {some}" if some else f"a known {kind}",
            data={"name": name, "known": sorted(known)},
        )


class FontError(InputError):
    """A font file that cannot be read, or holds no outlines to cut."""


class GlyphMissing(InputError):
    """A character that the font does not have."""

    def __init__(self, character: str, position: int, font: str, *, field: str) -> None:
        shown = f"U+{ord(character[0]):04X}"
        super().__init__(
            f"The font {font!r} does not have {character!r} ({shown}), character {position + 1} of "
            "the text.",
            code="glyph-missing",
            field=field,
            expected="text that the font covers, or another font",
            data={"character": character, "codepoint": shown, "position": position, "font": font},
        )


class GeometryError(InputError):
    """A size or shape from which no part can be made."""


class NotFound(LetterplyError):
    """An id that the store does not hold."""

    def __init__(self, kind: str, name: str) -> None:
        super().__init__(
            f"There is no {kind} {name!r}.", code=f"{kind}-not-found", data={"id": name}
        )


class OverAllowance(LetterplyError):
    """An owner uses as much as it may: requests a minute, jobs under way or bytes stored."""


class Conflict(LetterplyError):
    """The same idempotency key with another request."""


class JobFailed(LetterplyError):
    """A worker ran out of time or memory, or died."""


def shown(value: object, most: int = 40) -> str:
    """Return a value for a message: short, whatever it is.

    >>> shown("9 km"), shown([1, 2]), shown(10**5000)
    ("'9 km'", '[1, 2]', 'a number too large to write')

    """
    if isinstance(value, str):
        return repr(value[:most])
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]  # as they are typed
    try:
        return repr(value)[:most]
    except ValueError:  # Python writes no whole number of thousands of digits out
        return "a number too large to write"
