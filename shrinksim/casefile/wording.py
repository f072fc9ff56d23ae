"""Sentences for the faults of a file's tables and keys that pydantic finds.

The wording and paths of pydantic do not leave this module.  The record that mirrors a
kind of file gives all that the sentences need.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Generic, Literal, TypeVar, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from shrinksim.casefile.fields import Example, KeyFault, Missing, Written
from shrinksim.casefile.layout import Layout, Step, keys_of, layout_of, pair_in
from shrinksim.text.faults import MOST
from shrinksim.text.quoting import near, shown

R = TypeVar("R", bound=BaseModel)


@dataclass(frozen=True)
class Kind(Generic[R]):
    """Kind of file.  record : mirrors it.  entry : noun of its parts, "a table or key of
    a case".

    others : view -> record of the other views, whose keys a file may have by mistake.
    """

    record: type[R]
    entry: str
    others: Mapping[str, type[BaseModel]] = field(default_factory=dict)

    @property
    def layout(self) -> Layout:
        """Layout of its tables."""
        return layout_of(self.record)


def sentences(fault: ValidationError, kind: Kind[Any]) -> list[str]:
    """Sentences, one for each fault, beginning with its key, up to ``MOST``."""
    found = []
    for error in fault.errors(include_url=False)[:MOST]:
        found += _sentence(error["type"], error["loc"], error["input"], error, kind)
    return list(dict.fromkeys(found))


def _sentence(
    fault: str, loc: Sequence[Step], given: Any, error: Any, kind: Kind[Any]
) -> list[str]:
    """Sentences for one of pydantic's errors."""
    layout = kind.layout
    key = layout.path(loc)
    match fault:
        case "value_error":
            wrong = error["ctx"]["error"]
            problems = getattr(wrong, "problems", ("cannot be read",))
            at = layout.path([step for step in loc if step != "[key]"])
            between = " " if isinstance(wrong, KeyFault) else " = "
            return [f"{at}{between}{problem}" for problem in problems]
        case "missing":
            return [_missing(loc, layout)]
        case "extra_forbidden":
            return [_unknown(loc, given, kind)]
        case "literal_error":
            choices = re.findall(r"'[^']*'|\d+", error["ctx"]["expected"])
            words = [choice.strip("'") for choice in choices]
            listed = f"is not one of {', '.join(words)}"
            return [f"{key} = {shown(given)} {listed}{near(given, words)}"]
        case "union_tag_invalid" | "union_tag_not_found":
            return [_wrong_kind(loc, given, kind)]
        case "bool_type":
            return [f"{key} = {shown(given)} is not true or false (without quotes)"]
        case "too_short":
            empty = f"{key} is empty; write at least one {layout.header(loc)}"
            return [] if given else [empty]
        case "too_long" if error["ctx"]["max_length"] > 2:
            return [f"{key} has more entries than {error['ctx']['max_length']}"]
    return [_wrong_shape(key, loc, given, layout)]


def _missing(loc: Sequence[Step], layout: Layout) -> str:
    """Sentence for a missing table, key or coordinate."""
    key, last = layout.path(loc), loc[-1]
    if isinstance(last, int):
        pair = _pair(loc, layout)
        advice = f"; {pair.advice}" if pair else ""
        return f"{layout.path(loc[:-1])} is not a pair{advice}"
    if layout.is_table(loc):
        how = "a table" if len(loc) == 1 else "at least one"
        return f"{key} is missing; write {how} {layout.header(loc)}"
    field = layout.field(loc)
    for mark in field.metadata if field else ():
        if isinstance(mark, Missing):
            return f"{key} is missing; {mark.text}"
    return f"{key} is missing; write {_example(field, last)}"


def _pair(loc: Sequence[Step], layout: Layout) -> Any:
    """Pair annotation of the value at ``loc``."""
    for end in range(len(loc), 0, -1):
        if isinstance(loc[end - 1], str) and (pair := pair_in(layout.field(loc[:end]))):
            return pair
    return None


def _example(field: FieldInfo | None, key: str) -> str:
    """Example of a key: 'angle = "45 deg"'."""
    if field is not None and get_origin(field.annotation) is Literal:
        return f"{key} = " + " or ".join(f'"{c}"' for c in get_args(field.annotation))
    pair = pair_in(field)
    if pair is not None:
        return f"{key} = {pair.example}"
    marks = field.metadata if field else ()
    for mark in marks:
        if isinstance(mark, Example):
            return f'{key} = "{mark.text}"'
    for mark in marks:
        if isinstance(mark, Written) and mark.schema.get("examples"):
            return f'{key} = "{mark.schema["examples"][0]}"'
    return f'{key} = "..."'


def _unknown(loc: Sequence[Step], given: Any, kind: Kind[Any]) -> str:
    """Sentence for a key that its table does not have."""
    *parent, last = loc
    layout = kind.layout
    table = layout.path(parent)
    model = layout.tables.get(layout.place(parent))
    table = getattr(model, "NAME", table)
    where = f"a key of {table}" if table else kind.entry
    sentence = f"{layout.path(loc)} = {shown(given)}: {shown(last)} is not {where}"
    return sentence + _hint(parent, str(last), kind)


def _hint(parent: Sequence[Step], key: str, kind: Kind[Any]) -> str:
    """Hint at the table or view of a misplaced key."""
    layout = kind.layout
    model = layout.tables.get(layout.place(parent))
    for view, record in kind.others.items():
        other = layout_of(record).tables.get(layout.place(parent))
        if other is not None and key in keys_of(other):
            instead = getattr(model, "INSTEAD", {}).get(key)
            advice = f"; write {instead}" if instead else ""
            return f'; it is for view = "{view}"{advice}'
    if kinds := _kinds_with(parent, key, layout):
        return f"; it is for kind = {' or '.join(map(shown, kinds))}"
    for view, record in kind.others.items():
        if _kinds_with(parent, key, layout_of(record)):
            return f'; it is for view = "{view}"'
    hint = near(key, keys_of(model)) if model else ""
    if not hint:
        tables = layout.tables.items()
        owners = [at for at, owner in tables if at and key in keys_of(owner)]
        hint = f"; it belongs in {layout.header(owners[0])}" if owners else ""
    if not hint and model and parent:
        hint = f"; it has {', '.join(keys_of(model))}"
    return hint


def _kinds_with(parent: Sequence[Step], key: str, layout: Layout) -> list[str]:
    """Other kinds of the same table (pattern or cooling) that have a key."""
    kinds = layout.kinds.get(layout.place(parent)[:-1], {})
    return [name for name, model in kinds.items() if key in keys_of(model)]


def _wrong_kind(loc: Sequence[Step], given: Any, kind: Kind[Any]) -> str:
    """Sentence for a table whose kind is missing or unknown, or for no table."""
    layout = kind.layout
    key, place = layout.path(loc), layout.place(loc)
    kinds, by = list(layout.kinds[place]), layout.kind_key(place)
    if not isinstance(given, Mapping):
        return f"{key} = {shown(given)} is not a table; write {layout.header(loc)}"
    if by not in given:
        return f"{key}.{by} is missing; write {by} = one of {', '.join(kinds)}"
    asked = given[by]
    for view, record in kind.others.items():
        if isinstance(asked, str) and asked in layout_of(record).kinds.get(place, {}):
            own = kind.record.model_fields["view"]
            (name,) = get_args(own.annotation)
            return (
                f'{key}.kind = {shown(asked)} is for view = "{view}"; '
                f"the {name} view has {', '.join(kinds)}"
            )
    listed = f"is not one of {', '.join(kinds)}{near(asked, kinds)}"
    return f"{key}.{by} = {shown(asked)} {listed}"


def _wrong_shape(key: str, loc: Sequence[Step], given: Any, layout: Layout) -> str:
    """Sentence for a value of the wrong shape: a value for a table, a table for a list."""
    value = f"{key} = {shown(given)}"
    header = layout.header(loc)
    if header.startswith("[[") and isinstance(loc[-1], str):
        return f"{value}: write {header} with double brackets"
    pair = _pair(loc, layout)
    if pair is not None:
        field = layout.field(loc)
        if field is not None and get_origin(field.annotation) is dict:
            return f"{value} is not a table of named {loc[-1]}"
        return f"{value} {pair.what}; {pair.advice}"
    if isinstance(given, list) and not header.startswith("[["):
        return f"{value}: write {header} with single brackets"
    return f"{value} is not a table; write it as {header}"
