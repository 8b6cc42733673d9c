"""Peeling: the branches of an axis that are taken off its leaves.

Edges as pairs of nodes in, marks out. An axis is a graph: a *leaf* is a node of one edge.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["peeled"]

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
