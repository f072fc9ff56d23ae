"""Which sections a job can be of."""

from __future__ import annotations

from collections.abc import Iterator

from shrinksim.errors import CaseError
from shrinksim.shop.sections.shape import Section


def plan_faults(section: Section) -> Iterator[str]:
    """A section that bends and twists otherwise than a beam in two planes."""
    try:
        section.elevation("strong")
    except CaseError as error:
        for problem in error.problems:
            yield f"section: plans are for plates and I-sections so far; {problem}"
