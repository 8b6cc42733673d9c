"""Methods of the two clients, made from what a call is.

A call says once what it is given, what it asks and what comes back; a client only carries it out:
`waited` makes the method of one that waits, `awaited` that of one that is awaited. Both have the
arguments and the docstring of the call.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Coroutine
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

from letterply_client._calls import Call

__all__ = ["awaited", "waited"]

P = ParamSpec("P")
T = TypeVar("T")


def waited(call: Callable[P, Call[T]]) -> Callable[Concatenate[Any, P], T]:
    """Return a method that carries out a call and returns what came of it."""

    @wraps(call)
    def method(self: Any, /, *args: P.args, **kwargs: P.kwargs) -> T:
        found: T = self._run(call(*args, **kwargs))
        return found

    return _told(method, call)


def awaited(
    call: Callable[P, Call[T]],
) -> Callable[Concatenate[Any, P], Coroutine[Any, Any, T]]:
    """Return a method that carries out a call on an event loop."""

    @wraps(call)
    async def method(self: Any, /, *args: P.args, **kwargs: P.kwargs) -> T:
        found: T = await self._run(call(*args, **kwargs))
        return found

    return _told(method, call)


_Method = TypeVar("_Method", bound=Callable[..., Any])


def _told(method: _Method, call: Callable[..., Any]) -> _Method:
    """Let a method tell the arguments of its call and what comes back, for `help` and the like."""
    told = inspect.signature(call)
    itself = inspect.Parameter("self", inspect.Parameter.POSITIONAL_OR_KEYWORD)
    back = str(told.return_annotation).removeprefix("Call[").removesuffix("]")
    method.__signature__ = told.replace(  # type: ignore[attr-defined]
        parameters=[itself, *told.parameters.values()], return_annotation=back
    )
    return method
