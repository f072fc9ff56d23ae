"""JSON schemas of case files, for editors that complete and check TOML."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from shrinksim.casefile.fields import Written

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(title: str, *records: type[BaseModel]) -> dict[str, Any]:
    """JSON schema of a file that mirrors one of the records."""
    wanted: list[tuple[Any, Any]] = [(record, "validation") for record in records]
    which, shared = models_json_schema(wanted, by_alias=True)
    tables = shared["$defs"]
    for model in {model for record in records for model in _within(record)}:
        properties = tables[model.__name__]["properties"]
        for name, field in model.model_fields.items():
            _as_written(properties[field.alias or name], field.metadata)
    found = list(which.values())
    top = found[0] if len(found) == 1 else {"oneOf": found}
    return {"$schema": DIALECT, "title": title, **top, "$defs": tables}


def _within(part: Any) -> Iterator[type[BaseModel]]:
    """Records in a record or in an annotation."""
    if isinstance(part, type) and issubclass(part, BaseModel):
        yield part
        for field in part.model_fields.values():
            yield from _within(field.annotation)
        return
    for inner in get_args(part):
        yield from _within(inner)


def _as_written(key: dict[str, Any], metadata: list[Any]) -> None:
    """Set a key's default as a file has it, with its unit; none where it is automatic."""
    default = key.get("default")
    if default is None or isinstance(default, dict):
        key.pop("default", None)
        return
    for written in metadata:
        if isinstance(written, Written):
            key["default"] = written.write(default, False)
