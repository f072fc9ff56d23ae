"""Graph partition by level sets, for nested dissection (George and Liu 1981)."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True)
def breadth_first(starts, links, piece, mark, root, distance, queue):
    """Breadth-first search: distances (n,) from ``root`` in the piece ``mark``.

    starts, links : rows of the symmetric graph.  ``queue`` gets the vertices in the
    order in which they are reached; returns their number.
    """
    piece[root] = -mark
    queue[0] = root
    distance[root] = 0
    end, k = 1, 0
    while k < end:
        v = queue[k]
        k += 1
        for e in range(starts[v], starts[v + 1]):
            w = links[e]
            if piece[w] == mark:
                piece[w] = -mark
                distance[w] = distance[v] + 1
                queue[end] = w
                end += 1
    for k in range(end):
        piece[queue[k]] = mark
    return end


@njit(cache=True)
def cut(starts, links, piece, mark, weight, part, key, side, tally):
    """Best cut of the vertices ``part`` of a piece at a level of their keys (n,) >= 0.

    key <= level is side 0, its neighbours beyond are the separator, side 2, the rest
    side 1.  Both sides must have a fifth of the weight, and a separator costs more
    far from the middle.  tally : (2, largest key + 1), work space.  Returns the cost of
    the separator, or inf.
    """
    tally[:] = 0
    total = 0
    for v in part:
        first = key[v]
        for e in range(starts[v], starts[v + 1]):
            w = links[e]
            if piece[w] == mark and key[w] < first:
                first = key[w]
        total += weight[v]
        tally[0, key[v]] += weight[v]
        tally[1, key[v]] -= weight[v]
        tally[1, first] += weight[v]
    low, apart, level, least = 0, 0, -1, np.inf
    for c in range(tally.shape[1]):
        low += tally[0, c]
        apart += tally[1, c]
        high = total - low - apart
        if 5 * min(low, high) >= total:
            cost = apart * (1.0 + ((low - high) / total) ** 2)
            if cost < least:
                level, least = c, cost
    for v in part:
        side[v] = 0 if key[v] <= level else 1
    for sweep in range(2):
        # first mark side 1 next to side 0, then give back what separates nothing
        for v in part:
            if side[v] == 1 + sweep:
                found = False
                for e in range(starts[v], starts[v + 1]):
                    w = links[e]
                    found |= piece[w] == mark and side[w] == sweep
                if found and sweep == 0:
                    side[v] = 2
                if not found and sweep == 1:
                    side[v] = 0
                    least -= weight[v]
    return least
