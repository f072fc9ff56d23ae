"""Keys that a study varies."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from shrinksim.casefile.keys import Place
from shrinksim.casefile.layout import key_path
from shrinksim.casefile.wording import sentences
from shrinksim.study.values import is_range
from shrinksim.views import DEFAULT, VIEWS
from shrinksim.views.reading import kind_of


def flat_keys(tables: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    """(key, value) of [vary], whose keys may be dotted with and without quotes."""
    for key, given in tables.items():
        name = f"{before}.{key}" if before else key
        if isinstance(given, Mapping) and not is_range(given):
            yield from flat_keys(given, name)
        else:
            yield name, given


def unknown_key(place: Place, tables: Mapping[str, Any]) -> str:
    """Reason why the case of the tables has no key at the place, "" if it has one."""
    kind = kind_of(VIEWS.get(str(tables.get("view", DEFAULT)), VIEWS[DEFAULT]))
    try:
        kind.record.model_validate(tables)
    except ValidationError as fault:
        messages = sentences(fault, kind)
        for error in fault.errors(include_url=False):
            if error["type"] != "extra_forbidden":
                continue
            wrong = kind.layout.path(error["loc"])
            if key_path(place) == wrong or key_path(place).startswith(f"{wrong}."):
                ends = [
                    s.split(": ", 1)[1] for s in messages if s.startswith(f"{wrong} = ")
                ]
                return ends[0] if ends else "is not a key of a case"
    return ""
