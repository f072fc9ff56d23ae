"""Results that are the same up to rounding."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest


def alike(one: Any, other: Any) -> bool:
    """Whether two records hold the same, numbers to a relative 1e-6.

    The last bits of a run may differ between a process that compiled its kernels and one
    that found them on the disk.
    """
    if isinstance(one, Mapping):
        return one.keys() == other.keys() and all(alike(one[k], other[k]) for k in one)
    if isinstance(one, (list, tuple)):
        return len(one) == len(other) and all(map(alike, one, other))
    if isinstance(one, float):
        return other == pytest.approx(one, rel=1e-6, abs=1e-9)
    return one == other
