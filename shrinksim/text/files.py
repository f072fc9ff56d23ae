"""Reading of a text file and of its TOML; errors are one sentence."""

from __future__ import annotations

import re
import stat
import tomllib
from pathlib import Path
from typing import Any

from shrinksim.errors import CaseError
from shrinksim.text.quoting import near, printable, shown

LARGEST_FILE = 1_000_000
LONGEST_LINE = 2000
"""Characters; tomllib takes hours for a key of very many parts."""


def read_text(path: Path, where: str) -> str:
    """Text of the file without a byte order mark and with plain line ends.

    where : begins the message of the CaseError.
    """
    try:
        kind = path.stat().st_mode
        if not stat.S_ISREG(kind):
            what = "a folder" if stat.S_ISDIR(kind) else "not an ordinary file"
            message = f"{where}: is {what}; name a text file"
            raise CaseError(message)
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except (FileNotFoundError, NotADirectoryError):
        message = f"{where}: there is no such file{_neighbour(path)}"
        raise CaseError(message) from None
    except CaseError:
        raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        message = f"{where}: cannot be read ({reason})"
        raise CaseError(message) from None
    if len(content) > LARGEST_FILE:
        message = f"{where}: is larger than 1 MB, far more than a page of text"
        raise CaseError(message)
    return _decoded(content, where)


def _neighbour(path: Path) -> str:
    """Hint at a file of a similar name beside the missing one."""
    try:
        names = [entry.name for entry in path.parent.iterdir()][:1000]
    except OSError:
        return ""
    return near(path.name, names)


def _decoded(content: bytes, where: str) -> str:
    """UTF-8 text; CaseError with a remedy for other encodings."""
    fault, text = "", ""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        fault = "is in UTF-16; save it as UTF-8 text"
    else:
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = content.count(b"\n", 0, error.start) + 1
            fault = f"line {line} is not UTF-8; save it as UTF-8 text"
    if not fault and not text.strip():
        fault = "is empty"
    if fault:
        message = f"{where}: {fault}"
        raise CaseError(message)
    return text.replace("\r\n", "\n").replace("\r", "\n")


def tables_of(text: str, where: str) -> dict[str, Any]:
    """Tables of a TOML text; ``where`` begins the message of the CaseError."""
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            message = f"{where}: line {number} is over {LONGEST_LINE} characters long"
            raise CaseError(message)
    try:
        return tomllib.loads(text)
    except RecursionError:
        message = f"{where}: lists within lists are nested too deep"
    except ValueError as error:
        message = printable(f"{where}: {_not_toml(text, str(error))}")
    raise CaseError(message)


def _not_toml(text: str, reason: str) -> str:
    """Sentence on a TOML error, with the line and the usual remedy."""
    reason = reason[:200]
    found = re.search(r"\s*\(at line (\d+), column (\d+)\)", reason)
    if found is None:
        return f"is not valid TOML: {reason[:1].lower()}{reason[1:]}"
    number = int(found[1])
    line = text.split("\n")[number - 1].strip()
    reason = reason[: found.start()]
    sentence = f"line {number}: {shown(line)}: {reason[:1].lower()}{reason[1:]}"
    plain = re.fullmatch(r"([\w.-]+)\s*=\s*([^\s\"'\[{#][^\"'\[{#]*?)\s*(#.*)?", line)
    unquoted = reason.startswith(("Invalid value", "Expected newline"))
    if plain and unquoted and len(line) <= 100:
        sentence += f'; put the value in quotes: {plain[1]} = "{plain[2]}"'
    return sentence
