"""A user's text file read whole, or one sentence on why it cannot be."""

from __future__ import annotations

import stat
from pathlib import Path

from shrinksim.case.fields import near
from shrinksim.errors import CaseError

LARGEST_FILE = 1_000_000


def read_text(path: Path, where: str) -> str:
    """The file's text without a byte order mark and with plain line ends.

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
    """A hint at a file of nearly the same name beside the missing one."""
    try:
        names = [entry.name for entry in path.parent.iterdir()][:1000]
    except OSError:
        return ""
    return near(path.name, names)


def _decoded(content: bytes, where: str) -> str:
    """UTF-8 text; other encodings are refused with a word on how to save the file."""
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
