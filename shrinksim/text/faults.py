"""All that is wrong with a file as one error, up to as many sentences as anybody reads."""

from __future__ import annotations

from collections.abc import Sequence

from shrinksim.errors import CaseError
from shrinksim.text.quoting import printable

MOST = 100
"""Faults of one file that are put into words; nobody reads more."""


def refused(where: str, problems: Sequence[str], more: int = 0) -> CaseError:
    """The error of a file with these problems, its name before each.

    more : faults that were found and not put into words.
    """
    said = [printable(f"{where}: {problem}") for problem in problems[:MOST]]
    left = more + max(0, len(problems) - MOST)
    if left:
        said[MOST - 1 :] = [f"{printable(where)}: {left + 1} more faults like these"]
    return CaseError(said)
