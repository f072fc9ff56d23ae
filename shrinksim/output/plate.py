"""What a figure of the report is: its plate, and the files drawn from it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Plate:
    """A figure: file name, heading, caption, and whether it is a map (shown as PNG).

    draw : takes a result of its view and returns a Figure of its own.
    """

    name: str
    heading: str
    caption: str
    draw: Callable[[Any], Figure]
    map: bool = False


@dataclass(frozen=True)
class Picture:
    """A drawn figure: its plate, what it says to who cannot see it, and its files."""

    plate: Plate
    alt: str
    png: bytes
    svg: bytes
