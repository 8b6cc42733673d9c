"""Texts that know the words they were made of, so that they can be said in another language.

In: a template in English and the values that stand in its braces. Out: a text, the English
sentence as ever, and beside it template and values, from which a catalogue of templates in another
language makes the same sentence. A value is a figure, a name that stays as it is, a text of the
same kind, or several of them, which are listed. What people wrote is a value and never a template.

Plain texts that are put together from such (by `f""` or `join`) forget their words; `+` keeps them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, LiteralString

__all__ = ["Said", "as_it_is", "named", "say", "say_together"]


class Said(str):
    """A text with the words that it was made of.

    Attributes:
        template: the English words, values in braces; empty for a text that stays as it is.
        values: what stands in the braces.
        whole: whether it was made a whole sentence: a capital in front, a full stop at the end.

    """

    __slots__ = ("template", "values", "whole")

    template: str
    values: Mapping[str, Any]
    whole: bool

    def __new__(
        cls,
        text: str,
        template: str = "",
        values: Mapping[str, Any] | None = None,
        whole: bool = False,
    ) -> Said:
        """Return a text that is said by a template."""
        made = super().__new__(cls, text)
        made.template, made.values, made.whole = template, dict(values or {}), whole
        return made

    @classmethod
    def __get_pydantic_core_schema__(cls, kind: type, handler: Callable[[type], Any]) -> Any:
        """Tell those who store values that it is stored as its text; read back, it stays so."""
        called = {"type": "no-info", "function": cls}
        return {"type": "function-after", "function": called, "schema": handler(str)}

    def __getnewargs__(self) -> tuple[str, str, Mapping[str, Any], bool]:  # type: ignore[override]
        """Return what it is made of, for a copy."""
        return str(self), self.template, self.values, self.whole

    def __add__(self, other: str) -> Said:
        """Return both, one after the other."""
        return say_together(self, other)

    def __radd__(self, other: str) -> Said:
        """Return both, one after the other."""
        return say_together(other, self)


def say(template: LiteralString, /, **values: Any) -> Said:
    """Return a text in English that can be said in other languages.

    >>> told = say("{names} should be {wide} wide", names=("oak", "pine"), wide="2 mm")
    >>> told, told.template
    ('oak and pine should be 2 mm wide', '{names} should be {wide} wide')

    """
    told = {name: _told(value) for name, value in values.items()}
    return Said(template.format(**told), template, values)


def _told(value: object) -> object:
    if isinstance(value, str) or not isinstance(value, Sequence):
        return value
    *most, end = (str(_told(one)) for one in value)
    return f"{', '.join(most)} and {end}" if most else end


def say_together(*texts: str) -> Said:
    """Return texts one after the other, as they are.

    >>> (say("a gap") + "; " + say("a hole")).template
    '{t0}{t1}'

    """
    parts = {f"t{number}": text for number, text in enumerate(texts)}
    return Said("".join(texts), "".join("{" + name + "}" for name in parts), parts)


def named(text: str) -> Said:
    """Return the name of a thing of the catalogue: another language may have its own for it."""
    return Said(text, text.replace("{", "{{").replace("}", "}}"))


def as_it_is(text: str) -> Said:
    """Return a text that is the same in every language: a name, or what has no words yet."""
    return Said(text)
