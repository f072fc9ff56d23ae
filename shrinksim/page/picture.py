"""What a figure of the report is: its plate, and the file drawn from it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Drawing:
    """A figure: file name, heading and caption.

    draw : takes a result of its view and returns a Figure of its own.
    """

    name: str
    heading: str
    caption: str
    draw: Callable[[Any], Figure]


@dataclass(frozen=True)
class Picture:
    """A drawn figure: its plate, what it says to who cannot see it, and its file."""

    plate: Drawing
    alt: str
    svg: bytes
