"""A case file to the case of its view, or one CaseError with all that is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from shrinksim.casefile.origin import remember
from shrinksim.casefile.reader import read_record
from shrinksim.casefile.wording import Kind
from shrinksim.errors import CaseError
from shrinksim.text.files import read_text, tables_of
from shrinksim.text.quoting import near, printable, shown
from shrinksim.views import DEFAULT, VIEWS
from shrinksim.views.preview import Preview
from shrinksim.views.view import View

DEEPEST = 12


def load(path: Path | str) -> Any:
    """The case in a TOML file, resolved; CaseError names every fault of the file."""
    path = Path(path)
    where = printable(str(path))
    text = read_text(path, where)
    return case_from(tables_of(text, where), where, path.parent)


def case_from(tables: Mapping[str, Any], where: str, folder: Path) -> Any:
    """The case in a mapping shaped like the file, of the view that it asks for.

    where : what messages call it.  folder : what relative file names start from.
    """
    if _depth(tables) > DEEPEST:
        message = f"{where}: tables within tables are nested deeper than {DEEPEST}"
        raise CaseError(message)
    view, problems = _view_of(tables)
    if view is None:
        raise CaseError(printable(f"{where}: {problems[0]}"))
    if problems:
        tables = {**tables, "view": view.name}

    def between(case: Any) -> list[str]:
        return view.faults(tables, case, folder)

    case = read_record(tables, where, kind_of(view), between, problems)
    found = view.resolve(case, folder)
    return remember(found, case_from, tables, where, folder)


def kind_of(view: View) -> Kind[Any]:
    """The case files of a view, as sentences about them need to know."""
    others = {name: v.record for name, v in VIEWS.items() if name != view.name}
    return Kind(view.record, "a table or key of a case", others)


def _view_of(tables: Mapping[str, Any]) -> tuple[View | None, list[str]]:
    """The view that a file asks for, or probably means, and what is wrong with that."""
    asked = tables.get("view", DEFAULT)
    if isinstance(asked, str) and asked in VIEWS:
        return VIEWS[asked], []
    hint = near(asked, VIEWS)
    meant = next((v for name, v in VIEWS.items() if repr(name) in hint), None)
    return meant, [f"view = {shown(asked)} is not one of {', '.join(VIEWS)}{hint}"]


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


def prepare(case: Any) -> Preview:
    """What running a case would do.  Raises CaseError for what cannot be drawn."""
    return VIEWS[case.view].prepare(case)
