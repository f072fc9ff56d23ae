"""The two bends of a section: their names, and the offset that one makes."""

from __future__ import annotations

CAMBER, SWEEP = "camber", "sweep"


def mid_offset(turn: float, heated: float, span: float) -> float:
    """How far (m) the middle of a span stands off its string; evenly bent over the
    heated length at its middle, straight beside it.
    """
    return turn * (span / 4.0 - heated / 8.0)
