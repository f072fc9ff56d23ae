"""Terms that a formula may have, the published shape's two first.

Each is a product of variables of `measures`: what the free turn depends on, what the help
of a moment depends on, and the squares that a straight line in logarithms would miss.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.calibration.variables import Term

ALWAYS = 2
"""Terms of the published shape, 1 and M/Mp, that every formula has."""

MOST = 16

SIMPLE = "dwoshayktjf"
CURVED: tuple[Term, ...] = (
    ("m", "m"), ("m", "m", "m"),
    *((("m", "m", name)) for name in "dwoshyjf"),
    ("m", "w", "w"), ("m", "s", "s"), ("m", "w", "s"), ("m", "o", "s"),
    ("w", "w"), ("s", "s"), ("o", "o"), ("d", "d"),
    ("w", "s"), ("d", "w"), ("d", "s"), ("o", "s"), ("o", "w"), ("a", "w"), ("a", "s"),
    ("h", "w"), ("h", "s"), ("y", "w"), ("y", "s"),
)  # fmt: skip


MANY = 100
"""Heats from which on the curved terms are offered, too: fewer would choose among nearly
as many terms as there are heats, and take some by chance."""


def candidates(values: Mapping[str, FloatArray]) -> list[Term]:
    """The terms for heats; values (n,) tell which variables vary at all."""
    free = [(name,) for name in SIMPLE]
    helped = [("m", name) for name in SIMPLE]
    terms = [(), ("m",), *free, *helped, ("m", "m")]
    if len(values["m"]) >= MANY:
        terms += [term for term in CURVED if term not in terms]
    return [t for t in terms if all(np.ptp(values[name]) > 0.0 for name in t)]
