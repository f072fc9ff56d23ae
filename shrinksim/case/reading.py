"""A case file to a Case, or one CaseError with everything that is wrong with it."""

from __future__ import annotations

import re
import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from shrinksim.case.checks import checked, parts_of
from shrinksim.case.fields import shown
from shrinksim.case.resolving import resolve
from shrinksim.case.schema import Case
from shrinksim.case.wording import near, sentences
from shrinksim.errors import CaseError

LARGEST_FILE = 1_000_000
DEEPEST = 12


def load(path: Path | str) -> Case:
    """The case in a TOML file, resolved; CaseError names every fault of the file."""
    path = Path(path)
    where = _printable(str(path))
    text = _read(path, where)
    return case_from(_parse(text, where), where, path.parent)


def case_from(tables: Mapping[str, Any], where: str, folder: Path) -> Case:
    """The case in a mapping shaped like the file.

    where : what messages call it.  folder : what relative file names start from.
    """
    if _depth(tables) > DEEPEST:
        message = f"{where}: tables within tables are nested deeper than {DEEPEST}"
        raise CaseError(message)
    problems: list[str] = []
    case = None
    try:
        case = Case.model_validate(tables)
    except ValidationError as fault:
        problems += sentences(fault)
    problems += checked(parts_of(tables), folder)
    if problems or case is None:
        raise CaseError([f"{where}: {problem}" for problem in problems])
    return resolve(case, folder)


def _printable(text: str) -> str:
    """A path as a message can show it."""
    return text if text.isprintable() else repr(text)


def _read(path: Path, where: str) -> str:
    """The file's text without a byte order mark and with plain line ends."""
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            message = f"{where}: is a folder; name the case file in it"
            raise CaseError(message)
        if not stat.S_ISREG(found.st_mode):
            message = f"{where}: is not an ordinary file"
            raise CaseError(message)
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        message = f"{where}: there is no such file{_neighbour(path)}"
        raise CaseError(message) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        message = f"{where}: cannot be read ({reason})"
        raise CaseError(message) from None
    if len(content) > LARGEST_FILE:
        message = f"{where}: is larger than 1 MB; a case file is a page of text"
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
    advice = "save it as UTF-8 text"
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        message = f"{where}: is in UTF-16; {advice}"
        raise CaseError(message)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        message = f"{where}: line {line} is not UTF-8; {advice}"
        raise CaseError(message) from None
    if not text.strip():
        message = f"{where}: is empty"
        raise CaseError(message)
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _parse(text: str, where: str) -> dict[str, Any]:
    """The file's tables."""
    try:
        return tomllib.loads(text)
    except RecursionError:
        message = f"{where}: lists within lists are nested too deep"
    except ValueError as error:
        message = f"{where}: {_not_toml(text, str(error))}"
    raise CaseError(message)


def _not_toml(text: str, reason: str) -> str:
    """What keeps the file from being TOML, with the line and the usual remedy."""
    reason = re.sub(r"[^\x20-\x7e]", "?", reason)[:200]
    found = re.search(r"\s*\(at line (\d+), column (\d+)\)", reason)
    if found is None:
        return f"is not valid TOML: {reason[:1].lower()}{reason[1:]}"
    number = int(found[1])
    line = text.split("\n")[number - 1].strip()
    reason = reason[: found.start()]
    sentence = f"line {number}: {shown(line)}: {reason[:1].lower()}{reason[1:]}"
    bare = re.fullmatch(r"([\w.-]+)\s*=\s*([^\s\"'\[{#][^\"'\[{#]*?)\s*(#.*)?", line)
    if bare and bare[2] not in {"true", "false"}:
        sentence += f'; put the value in quotes: {bare[1]} = "{bare[2]}"'
    return sentence


def _depth(tables: object) -> int:
    """How deep tables and lists are nested, counted without recursion."""
    deepest, layer = 0, [tables]
    while layer and deepest <= DEEPEST:
        deepest += 1
        inside: list[object] = []
        for entry in layer:
            if isinstance(entry, Mapping):
                inside += entry.values()
            elif isinstance(entry, (list, tuple)):
                inside += entry
        layer = inside
    return deepest
