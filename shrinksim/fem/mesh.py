"""The mesh record: six-node triangles, regions and named edges.

Sides are straight, except on the arcs of a section's outline.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from shrinksim.arrays import FloatArray, IntArray


@dataclass(frozen=True)
class Mesh:
    """Six-node triangles (T6): three corners counter-clockwise, then the middles of
    sides 1-2, 2-3, 3-1.

    points : (n, 2) m.  triangles : (e, 6) node numbers.  region : (e,) index into
    ``regions``.  edges : name -> (f, 3) node numbers: first end, second end, middle.
    """

    points: FloatArray
    triangles: IntArray
    region: IntArray
    regions: tuple[str, ...] = ("plate",)
    edges: Mapping[str, IntArray] = field(default_factory=dict)
