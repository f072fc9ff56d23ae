"""Quotation of values in messages: short, in one line, with a hint at similar words."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable


def kind_of(given: object) -> str:
    """Kind of a TOML value in words."""
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
    """Value as a message quotes it: short, texts in quotes."""
    if isinstance(given, (list, tuple, dict)):
        return kind_of(given)
    text = repr(given) if isinstance(given, str) else str(given)
    return text if len(text) <= 62 else text[:58] + "..."


def bare(key: str) -> str:
    """Key as a message names it: quoted if it has unusual characters."""
    return key if re.fullmatch(r"[A-Za-z0-9_-]{1,40}", key) else shown(key)


def near(given: object, choices: Iterable[str]) -> str:
    """Question "did you mean" with the choice closest to ``given``, or "".

    >>> near("stirp", ["vee", "strip", "line"])
    "; did you mean 'strip'?"
    """
    alike = difflib.get_close_matches(str(given)[:60].lower(), choices, n=1)
    return f"; did you mean {alike[0]!r}?" if alike else ""


def printable(text: str) -> str:
    """Text in one line without control characters."""
    return "".join(c if c.isprintable() else "?" for c in text)
