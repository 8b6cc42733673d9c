"""Operations of one kind with one cutter in, the same work in a short order out.

What may be done apart is: the holes of a part need not be cut right before its outline, those of
another may come between if that is shorter. What is inside comes before what holds it, and paths
of one part that meet stay in the order they were listed in, as passes and finishing rounds are.
An outline is cut in one go. Where each path begins is decided with the order
(`letterply.cutting.model.EntryOptions`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from letterply.cutting.model import Operation, OperationKind
from letterply.cutting.order.sequence import short_tour
from letterply.cutting.toolpath import Toolpath

__all__ = ["in_short_order"]

_Floats = NDArray[np.float64]

_MOST_STOPS = 1500
"""More paths than that are not ordered one by one but operation by operation."""


@dataclass(frozen=True, slots=True, eq=False)
class _Stop:
    """Paths of one operation that are done in one go.

    Attributes:
        operation: the operation.
        paths: in order.
        entries: (k, 2) where each way to do them begins.
        exits: (k, 2) where it ends.
        choices: (k, m) the way of each of the m paths.

    """

    operation: Operation
    paths: tuple[Toolpath, ...]
    entries: _Floats
    exits: _Floats
    choices: NDArray[np.int64]

    @property
    def box(self) -> _Floats:
        """West, south, east, north."""
        points = np.vstack([p.ends[:, :2] for p in self.paths])
        return np.concatenate((points.min(axis=0), points.max(axis=0)))

    def taken(self, way: int) -> tuple[Toolpath, ...]:
        """Return the paths as one of the ways has them."""
        return tuple(
            p.taken(k) for p, k in zip(self.paths, self.choices[way].tolist(), strict=True)
        )


def _stop(operation: Operation, paths: tuple[Toolpath, ...]) -> _Stop:
    """Return a stop: its first path may begin by any way, each other by the one nearest to it."""
    entries, exits = _open(paths[0])
    choices = [np.arange(len(entries))]
    for path in paths[1:]:
        begins, ends = _open(path)
        away = ((exits[:, None] - begins[None]) ** 2).sum(axis=2)
        choices.append(away.argmin(axis=1))
        exits = ends[choices[-1]]
    return _Stop(operation, paths, entries, exits, np.column_stack(choices))


def _open(path: Toolpath) -> tuple[_Floats, _Floats]:
    if path.entry_options is None:
        return path.start[None, :2], path.ends[-1:, :2]
    return path.entry_options.entries, path.entry_options.exits


def in_short_order(
    operations: Sequence[Operation],
    containers: Mapping[str, str] | None = None,
    *,
    apart: bool = True,
) -> list[Operation]:
    """Return the operations with short ways between them; one that is interrupted comes in pieces.

    Args:
        operations: of one kind with one cutter, in the order in which paths that meet are done.
        containers: mark of a part that lies in a hole of another -> mark of that one: everything on
            the first is done before anything on the second.
        apart: whether the paths of an operation may be done apart and in any order.

    """
    marks: dict[str, list[Operation]] = {}
    for op in operations:
        if op.paths:
            marks.setdefault(op.mark, []).append(op)
    listed = [
        op for _, ops in sorted(marks.items()) for op in sorted(ops, key=lambda o: not o.inside)
    ]
    apart &= sum(len(op.paths) for op in listed) <= _MOST_STOPS
    stops = [stop for op in listed for stop in _stops(op, apart=apart)]
    if not stops:
        return []
    counts = [len(s.entries) for s in stops]
    owner = np.repeat(np.arange(len(stops)), counts)
    tour = short_tour(
        np.vstack([s.entries for s in stops]),
        np.vstack([s.exits for s in stops]),
        stops=owner,
        before=_before(stops, containers or {}),
    )
    number = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    return _joined([(stops[owner[w]], int(number[w])) for w in tour])


def _stops(operation: Operation, *, apart: bool) -> list[_Stop]:
    outline = operation.kind is OperationKind.PROFILE and not operation.inside
    if outline or not apart:
        return [_stop(operation, operation.paths)]
    return [_stop(operation, (path,)) for path in operation.paths]


_FREE = (OperationKind.SCRIBE, OperationKind.DRILL)
"""Work whose paths may cross in any order."""


def _before(stops: Sequence[_Stop], containers: Mapping[str, str]) -> list[tuple[int, int]]:
    """Return which stop comes before which."""
    marks: dict[str, list[int]] = {}
    for k, stop in enumerate(stops):
        marks.setdefault(stop.operation.mark, []).append(k)
    boxes = np.array([s.box for s in stops])
    inside = np.array([s.operation.inside for s in stops])
    found: list[tuple[int, int]] = []
    for own in marks.values():
        if stops[own[0]].operation.kind in _FREE:
            continue
        box, inner = boxes[own], inside[own]
        low, high = box[:, None, :2], box[None, :, 2:]
        reach = (low <= high).all(axis=2)
        first = (reach & reach.T) | (inner[:, None] & ~inner[None, :])
        found += [(own[a], own[b]) for a, b in np.argwhere(np.triu(first, 1)).tolist()]
    for nested_part, container in containers.items():
        while container and container not in marks:
            container = containers.get(container, "")
        found += [(a, b) for a in marks.get(nested_part, ()) for b in marks.get(container, ())]
    return found


def _joined(tour: Sequence[tuple[_Stop, int]]) -> list[Operation]:
    """Return operations again: stops of one that follow each other are one."""
    found: list[Operation] = []
    last: Operation | None = None
    for stop, way in tour:
        paths = stop.taken(way)
        if stop.operation is last:
            found[-1] = replace(found[-1], paths=found[-1].paths + paths)
        else:
            found.append(replace(stop.operation, paths=paths))
        last = stop.operation
    return found
