"""Names of the two bends of a section, and the offset due to a bend."""

from __future__ import annotations

CAMBER, SWEEP = "camber", "sweep"


def mid_offset(turn: float, heated: float, span: float) -> float:
    """Offset (m) of the middle of a span from its string; evenly bent over the heated
    length at its middle, straight beside it.
    """
    return turn * (span / 4.0 - heated / 8.0)
