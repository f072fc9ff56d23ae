"""Text with units to SI, and the case file to a validated record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from shrinksim.case.json_schema import case_schema
    from shrinksim.case.reading import case_from, load
    from shrinksim.case.resolving import resolved, toml_text
    from shrinksim.case.schema import Case
    from shrinksim.views.section.record import SectionCase

__all__ = [
    "Case",
    "SectionCase",
    "case_from",
    "case_schema",
    "load",
    "resolved",
    "toml_text",
]

_HOMES = {
    "Case": "case.schema",
    "SectionCase": "views.section.record",
    "case_schema": "case.json_schema",
    "case_from": "case.reading",
    "load": "case.reading",
    "resolved": "case.resolving",
    "toml_text": "case.resolving",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for; `quantity` needs none of them."""
    from importlib import import_module

    if name not in _HOMES:
        message = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(import_module(f"shrinksim.{_HOMES[name]}"), name)
