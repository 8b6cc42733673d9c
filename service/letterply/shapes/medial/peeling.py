"""Peeling and pruning: the branches of an axis that are taken off its leaves.

Peeling goes by the angle of a corner, pruning by what would be missed without the branch.

Edges as pairs of nodes in, marks out. An axis is a graph: a *leaf* is a node of one edge.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["peeled", "pruned"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
_Marks = NDArray[np.bool_]


def peeled(
    edges: _Ints, radii: _Floats, shallow: _Marks, starts: _Marks | None = None
) -> tuple[_Marks, _Ints]:
    """Take shallow edges off the leaves, one after another.

    Args:
        edges: (m, 2) pairs of nodes.
        radii: (n,) of the nodes: an edge goes only where the radius falls towards the leaf.
        shallow: (m,) which edges may go.
        starts: (n,) at which leaves to begin; None for all.

    Returns:
        which edges are left (m,), and what is left of components that lose all their edges:
        (k, 2), the node with their largest radius and the edge that went last.

    """
    n = len(radii)
    # The loop below touches one element at a time: plain lists are several times faster.
    may_go, size = shallow.tolist(), radii.tolist()
    order = np.argsort(edges.ravel(), kind="stable")
    first = np.searchsorted(edges.ravel()[order], np.arange(n + 1)).tolist()
    owner = (order // 2).tolist()
    other = edges[:, ::-1].ravel()[order].tolist()
    degrees = np.bincount(edges.ravel(), minlength=n)
    leaves = degrees == 1
    queue = np.flatnonzero(leaves if starts is None else leaves & starts).tolist()
    degree = degrees.tolist()
    alive = [True] * len(edges)
    centres: list[tuple[int, int]] = []
    while queue:
        leaf = queue.pop()
        for at in range(first[leaf], first[leaf + 1]):
            e = owner[at]
            if not alive[e]:
                continue
            far = other[at]
            if may_go[e] and size[leaf] <= size[far]:
                alive[e] = False
                degree[leaf] -= 1
                degree[far] -= 1
                if degree[far] == 1:
                    queue.append(far)
                elif not degree[far]:
                    centres.append((far, e))
            break
    return np.array(alive, dtype=bool), np.array(centres, dtype=np.int64).reshape(-1, 2)


def pruned(edges: _Ints, radii: _Floats, lengths: _Floats, tolerance_mm: float) -> _Marks:
    """Take off the branches without which the union of all discs shrinks by a tolerance at most.

    A branch from a leaf (radius a) over a length s to a junction (radius b) sticks out of the
    junction's disc by s + a - b. It goes as a whole or not at all, so that a sharp corner keeps
    its point, and only towards a larger disc; what went before it counts. The last branch of a
    component stays.

    Args:
        edges: (m, 2) pairs of nodes.
        radii: (n,) of the nodes.
        lengths: (m,) of the edges.
        tolerance_mm: how far discs that are missed may stick out.

    Returns:
        which edges are left (m,).

    """
    n = len(radii)
    size, length = radii.tolist(), lengths.tolist()
    order = np.argsort(edges.ravel(), kind="stable")
    first = np.searchsorted(edges.ravel()[order], np.arange(n + 1)).tolist()
    owner = (order // 2).tolist()
    other = edges[:, ::-1].ravel()[order].tolist()
    degree = np.bincount(edges.ravel(), minlength=n).tolist()
    alive = [True] * len(edges)
    missed = [0.0] * n
    queue = [node for node in range(n) if degree[node] == 1]
    while queue:
        node = queue.pop()
        out, ends, tip = missed[node], False, size[node]
        branch: list[int] = []
        while out <= tolerance_mm and not ends:
            ways = (k for k in range(first[node], first[node + 1]) if alive[owner[k]])
            k = next(k for k in ways if not branch or owner[k] != branch[-1])
            branch.append(owner[k])
            out += length[owner[k]] + size[node] - size[other[k]]
            node = other[k]
            ends = degree[node] != 2
        if not ends or degree[node] == 1 or out > tolerance_mm or tip > size[node]:
            continue
        for e in branch:
            alive[e] = False
        degree[node] -= 1
        missed[node] = max(missed[node], out)
        if degree[node] == 1:
            queue.append(node)
    return np.array(alive, dtype=bool)
