"""All faults of a file as one error, up to a number of sentences."""

from __future__ import annotations

from collections.abc import Sequence

from shrinksim.errors import CaseError
from shrinksim.text.quoting import printable

MOST = 100
"""Most faults of one file that are put into words."""


def refused(where: str, problems: Sequence[str], more: int = 0) -> CaseError:
    """Error of a file with these problems, its name before each.

    more : number of further faults that are not put into words.
    """
    messages = [printable(f"{where}: {problem}") for problem in problems[:MOST]]
    left = more + max(0, len(problems) - MOST)
    if left:
        messages[MOST - 1 :] = [
            f"{printable(where)}: {left + 1} more faults like these"
        ]
    return CaseError(messages)
