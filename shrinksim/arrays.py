"""Array types and the dimension letters used in every docstring.

n nodes, e elements, a nodes of an element (6), q points of an element,
f boundary edges, b points of an edge, s saved times, k table rows, m unknowns.
Stress order xx yy xy; strain with engineering shear. SI units, temperatures in degC.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]
IntArray = NDArray[np.integer[Any]]

KELVIN = 273.15
STEFAN_BOLTZMANN = 5.670374419e-8
GRAVITY = 9.81


def frozen(values: object, dtype: type = np.float64) -> NDArray[Any]:
    """A read-only contiguous copy of ``values``, for the fields of frozen records."""
    array = np.array(values, dtype=dtype, order="C")
    array.flags.writeable = False
    return array


def sealed(array: NDArray[Any]) -> NDArray[Any]:
    """The same numbers, read-only, for large arrays that nobody else writes to."""
    view = array.view()
    view.flags.writeable = False
    return view
