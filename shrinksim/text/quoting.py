"""How sentences quote what a file says: short, in one line, with a hint where one fits."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable


def kind_of(given: object) -> str:
    """A TOML value's kind in plain words."""
    match given:
        case bool():
            return "true or false"
        case int() | float():
            return "a number"
        case str():
            return "a text"
        case list() | tuple():
            return "a list"
        case dict():
            return "a table"
        case _:
            return "a date or time"


def shown(given: object) -> str:
    """A value as a message quotes it: short, texts in quotes."""
    if isinstance(given, (list, tuple, dict)):
        return kind_of(given)
    text = repr(given) if isinstance(given, str) else str(given)
    return text if len(text) <= 62 else text[:58] + "..."


def bare(key: str) -> str:
    """A key as a message names it: as it is, or quoted when it is an odd one."""
    return key if re.fullmatch(r"[A-Za-z0-9_-]{1,40}", key) else shown(key)


def near(given: object, choices: Iterable[str]) -> str:
    """A question whether another word was meant, when one is close to ``given``.

    >>> near("stirp", ["vee", "strip", "line"])
    "; did you mean 'strip'?"
    """
    alike = difflib.get_close_matches(str(given)[:60].lower(), choices, n=1)
    return f"; did you mean {alike[0]!r}?" if alike else ""


def printable(text: str) -> str:
    """The text in one line that cannot upset a terminal."""
    return "".join(c if c.isprintable() else "?" for c in text)
