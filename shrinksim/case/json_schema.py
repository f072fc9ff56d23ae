"""The case file as a JSON schema, for editors that complete and check TOML."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import models_json_schema

from shrinksim.case.fields import Written
from shrinksim.case.schema import Case
from shrinksim.case.section_case import SectionCase
from shrinksim.case.wording import TABLES


def case_schema() -> dict[str, Any]:
    """JSON schema of a case file: an elevation (also without ``view``) or a section."""
    views: list[tuple[Any, Any]] = [(Case, "validation"), (SectionCase, "validation")]
    which, shared = models_json_schema(views, by_alias=True)
    tables = shared["$defs"]
    for model in {model for view in TABLES.values() for model in view.values()}:
        properties = tables[model.__name__]["properties"]
        for name, field in model.model_fields.items():
            _as_written(properties[field.alias or name], field.metadata)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Case of shrinksim",
        "oneOf": list(which.values()),
        "$defs": tables,
    }


def _as_written(key: dict[str, Any], metadata: list[Any]) -> None:
    """A key's default as a file has it, with its unit; none where it is automatic."""
    default = key.get("default")
    if default is None or isinstance(default, dict):
        key.pop("default", None)
        return
    for written in metadata:
        if isinstance(written, Written):
            key["default"] = written.write(default, False)
