"""A case file to a Case, or one CaseError with everything that is wrong with it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from shrinksim.case import section_checks
from shrinksim.case.checks import checked, parts_of
from shrinksim.case.fields import near, shown
from shrinksim.case.resolving import resolve, resolve_section
from shrinksim.case.schema import Case
from shrinksim.case.section_case import SectionCase
from shrinksim.case.textfile import read_text
from shrinksim.case.wording import MOST, sentences
from shrinksim.errors import CaseError

VIEWS = ("elevation", "section")

DEEPEST = 12
LONGEST_LINE = 2000
"""Characters; a key of very many parts would take tomllib hours."""


def load(path: Path | str) -> Case | SectionCase:
    """The case in a TOML file, resolved; CaseError names every fault of the file."""
    path = Path(path)
    where = _printable(str(path))
    text = read_text(path, where)
    return case_from(_parse(text, where), where, path.parent)


def case_from(
    tables: Mapping[str, Any], where: str, folder: Path
) -> Case | SectionCase:
    """The case in a mapping shaped like the file, of the view that it asks for.

    where : what messages call it.  folder : what relative file names start from.
    """
    if _depth(tables) > DEEPEST:
        message = f"{where}: tables within tables are nested deeper than {DEEPEST}"
        raise CaseError(message)
    view = tables.get("view", "elevation")
    problems: list[str] = []
    case: Case | SectionCase | None = None
    if view not in VIEWS:
        hint = near(view, VIEWS)
        problems += [f"view = {shown(view)} is not one of {', '.join(VIEWS)}{hint}"]
        view = next((v for v in VIEWS if v in hint), None)
        if view is None:
            raise CaseError(_printable(f"{where}: {problems[0]}"))
        tables = {**tables, "view": view}
    try:
        kind = SectionCase if view == "section" else Case
        case = kind.model_validate(tables)
    except ValidationError as fault:
        problems += sentences(fault, view)
    if view == "section":
        problems += section_checks.checked(section_checks.parts_of(tables), folder)
    else:
        problems += checked(parts_of(tables), folder)
    if problems or case is None:
        raise CaseError([_printable(f"{where}: {p}") for p in problems[:MOST]])
    if isinstance(case, SectionCase):
        return resolve_section(case, folder)
    return resolve(case, folder)


def _printable(text: str) -> str:
    """The text in one line that cannot upset a terminal."""
    return "".join(c if c.isprintable() else "?" for c in text)


def _parse(text: str, where: str) -> dict[str, Any]:
    """The file's tables."""
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            message = f"{where}: line {number} is over {LONGEST_LINE} characters long"
            raise CaseError(message)
    try:
        return tomllib.loads(text)
    except RecursionError:
        message = f"{where}: lists within lists are nested too deep"
    except ValueError as error:
        message = _printable(f"{where}: {_not_toml(text, str(error))}")
    raise CaseError(message)


def _not_toml(text: str, reason: str) -> str:
    """What keeps the file from being TOML, with the line and the usual remedy."""
    reason = reason[:200]
    found = re.search(r"\s*\(at line (\d+), column (\d+)\)", reason)
    if found is None:
        return f"is not valid TOML: {reason[:1].lower()}{reason[1:]}"
    number = int(found[1])
    line = text.split("\n")[number - 1].strip()
    reason = reason[: found.start()]
    sentence = f"line {number}: {shown(line)}: {reason[:1].lower()}{reason[1:]}"
    bare = re.fullmatch(r"([\w.-]+)\s*=\s*([^\s\"'\[{#][^\"'\[{#]*?)\s*(#.*)?", line)
    unquoted = reason.startswith(("Invalid value", "Expected newline"))
    if bare and unquoted:
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
