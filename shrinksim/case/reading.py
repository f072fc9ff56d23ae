"""A case file to a Case, or one CaseError with everything that is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from shrinksim.case.resolving import resolve, resolve_section
from shrinksim.case.schema import Case
from shrinksim.case.wording import MOST, sentences
from shrinksim.errors import CaseError
from shrinksim.text.files import read_text, tables_of
from shrinksim.text.quoting import near, printable, shown
from shrinksim.views.elevation.case_checks import checked, parts_of
from shrinksim.views.section import case_checks as section_checks
from shrinksim.views.section.record import SectionCase

VIEWS = ("elevation", "section")

DEEPEST = 12


def load(path: Path | str) -> Case | SectionCase:
    """The case in a TOML file, resolved; CaseError names every fault of the file."""
    path = Path(path)
    where = printable(str(path))
    text = read_text(path, where)
    return case_from(tables_of(text, where), where, path.parent)


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
            raise CaseError(printable(f"{where}: {problems[0]}"))
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
        raise CaseError([printable(f"{where}: {p}") for p in problems[:MOST]])
    if isinstance(case, SectionCase):
        return resolve_section(case, folder)
    return resolve(case, folder)


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
