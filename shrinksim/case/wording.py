"""What is wrong with a case's tables and keys, in sentences of our own.

pydantic finds the faults; its wording and its paths stay inside this module.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from shrinksim.case.fields import Point, Written
from shrinksim.case.heating import COOLINGS, PATTERNS, Heat, Torch
from shrinksim.case.schema import Case
from shrinksim.text.quoting import bare, near, shown
from shrinksim.views.section.record import ALONG, SectionCase, SectionHeat

Step = int | str

MOST = 100
"""Faults of one file that are put into words; nobody reads more."""


def _tables(
    case: type[BaseModel], heat: type[BaseModel], kinds: Mapping[str, type[BaseModel]]
) -> dict[tuple[str, ...], type[BaseModel]]:
    """The record behind each table of the file; patterns and coolings by kind."""
    top = {
        (name,): field.annotation
        for name, field in case.model_fields.items()
        if isinstance(field.annotation, type)
        and issubclass(field.annotation, BaseModel)
    }
    patterns = {("heat", "pattern", kind): model for kind, model in kinds.items()}
    torches = {(*place, "torch"): Torch for place in patterns}
    coolings = {("heat", "cooling", kind): model for kind, model in COOLINGS.items()}
    return {(): case, **top, ("heat",): heat, **patterns, **torches, **coolings}


KINDS = {"elevation": PATTERNS, "section": ALONG}
TABLES = {
    "elevation": _tables(Case, Heat, PATTERNS),
    "section": _tables(SectionCase, SectionHeat, ALONG),
}
OTHER = {"elevation": "section", "section": "elevation"}
INSTEAD = {
    ("section", "load.moment"): "; write camber_moment or sweep_moment",
    ("elevation", "load.camber_moment"): "; write moment",
    ("elevation", "load.sweep_moment"): "; write moment",
}


def sentences(fault: ValidationError, view: str = "elevation") -> list[str]:
    """One sentence for each fault, beginning with its key, up to ``MOST``."""
    found = []
    for error in fault.errors(include_url=False)[:MOST]:
        found += _sentence(error["type"], error["loc"], error["input"], error, view)
    return list(dict.fromkeys(found))


def key_path(loc: Sequence[Step]) -> str:
    """A key as heat[0].pattern[1].angle, without the kinds that pydantic puts in."""
    text, before = "", ""
    for step in loc:
        if isinstance(step, int):
            text += f"[{step}]"
            continue
        if before in {"pattern", "cooling"} and step in {*PATTERNS, *ALONG, *COOLINGS}:
            before = step
            continue
        text += f".{bare(step)}" if text else bare(step)
        before = step
    return text


def _sentence(
    kind: str, loc: Sequence[Step], given: Any, error: Any, view: str
) -> list[str]:
    """The sentences for one of pydantic's errors."""
    key = key_path(loc)
    match kind:
        case "value_error":
            problems = getattr(error["ctx"]["error"], "problems", ("cannot be read",))
            loc = [step for step in loc if step != "[key]"]
            return [f"{key_path(loc)} = {problem}" for problem in problems]
        case "missing":
            return [_missing(loc, view)]
        case "extra_forbidden":
            return [_unknown(loc, given, view)]
        case "literal_error":
            choices = [
                str(c) for c in re.findall(r"'[^']*'|\d+", error["ctx"]["expected"])
            ]
            words = [choice.strip("'") for choice in choices]
            listed = f"is not one of {', '.join(words)}"
            return [f"{key} = {shown(given)} {listed}{near(given, words)}"]
        case "union_tag_invalid" | "union_tag_not_found":
            return [_wrong_kind(key, given, view)]
        case "bool_type":
            return [f"{key} = {shown(given)} is not true or false (without quotes)"]
        case "too_short":
            empty = f"{key} is empty; write at least one [[{_bare(loc)}]]"
            return [] if given else [empty]
        case "too_long" if error["ctx"]["max_length"] > 2:
            return [f"{key} has more entries than {error['ctx']['max_length']}"]
    return [_wrong_shape(key, loc, given)]


def _missing(loc: Sequence[Step], view: str) -> str:
    """A table, key or coordinate that has to be there."""
    key, last = key_path(loc), loc[-1]
    if isinstance(last, int):
        return f'{key_path(loc[:-1])} is not a pair; write ["0 mm", "25 mm"] for x, y'
    if len(loc) == 1 and last != "title":
        header = "[[heat]]" if last == "heat" else f"[{last}]"
        return f"{key} is missing; write a table {header}"
    if last == "pattern":
        return f"{key} is missing; write at least one [[heat.pattern]]"
    if last == "on" and view == "section":
        return f'{key} is missing; name a surface: on = "top" of a plate, "flange top"'
    example = _example(_model_of(loc[:-1], view), last)
    return f"{key} is missing; write {example}" if example else f"{key} is missing"


def _example(model: type[BaseModel] | None, key: str) -> str:
    """How a key is written: 'angle = "45 deg"'."""
    field = _field(model, key)
    if field is None:
        return ""
    if get_origin(field.annotation) is Literal:
        return f"{key} = " + " or ".join(f'"{c}"' for c in get_args(field.annotation))
    if field.annotation == Point:
        return f'{key} = ["0 mm", "25 mm"]'
    for written in field.metadata:
        if isinstance(written, Written) and written.schema.get("examples"):
            return f'{key} = "{written.schema["examples"][0]}"'
    return f'{key} = "..."'


def _field(model: type[BaseModel] | None, key: str) -> FieldInfo | None:
    """The record's field for a key of the file."""
    fields = model.model_fields if model else {}
    return next((f for name, f in fields.items() if (f.alias or name) == key), None)


def _keys(model: type[BaseModel]) -> list[str]:
    """The keys that a table may have."""
    return [field.alias or name for name, field in model.model_fields.items()]


def _model_of(loc: Sequence[Step], view: str) -> type[BaseModel] | None:
    """The record behind the table at ``loc``."""
    return TABLES[view].get(tuple(step for step in loc if isinstance(step, str)))


def _unknown(loc: Sequence[Step], given: Any, view: str) -> str:
    """A key that its table does not have."""
    *parent, last = loc
    model, other = _model_of(parent, view), _model_of(parent, OTHER[view])
    table = key_path(parent)
    where = f"a key of {table}" if table else "a table or key of a case"
    sentence = f"{key_path(loc)} = {shown(given)}: {shown(last)} is not {where}"
    if other and last in _keys(other):
        instead = INSTEAD.get((view, key_path(loc)), "")
        return f'{sentence}; it is for view = "{OTHER[view]}"{instead}'
    if kinds := _kinds_with(parent, last, view):
        return f"{sentence}; it is for kind = {' or '.join(map(shown, kinds))}"
    if _kinds_with(parent, last, OTHER[view]):
        return f'{sentence}; it is for view = "{OTHER[view]}"'
    hint = near(last, _keys(model)) if model else ""
    if not hint:
        tables = TABLES[view].items()
        owners = [owner for owner, m in tables if owner and last in _keys(m)]
        hint = f"; it belongs in [{'.'.join(owners[0][:2])}]" if owners else ""
    if not hint and model and table:
        hint = f"; it has {', '.join(_keys(model))}"
    return sentence + hint


def _kinds_with(parent: Sequence[Step], key: str | int, view: str) -> list[str]:
    """Other kinds of the same table, a pattern or a cooling, that have a key."""
    place = tuple(step for step in parent if isinstance(step, str))
    if len(place) != 3:
        return []
    tables = TABLES[view].items()
    return [
        at[2] for at, m in tables if at[:2] == place[:2] and key in _keys(m)
        if len(at) == 3
    ]  # fmt: skip


def _wrong_kind(key: str, given: Any, view: str) -> str:
    """A pattern or cooling whose kind is missing, unknown, or that is no table."""
    of_pattern = key.endswith("]")
    kinds = list(KINDS[view] if of_pattern else COOLINGS)
    header = "[[heat.pattern]]" if of_pattern else "[heat.cooling]"
    if not isinstance(given, Mapping):
        return f"{key} = {shown(given)} is not a table; write {header}"
    if "kind" not in given:
        return f"{key}.kind is missing; write kind = one of {', '.join(kinds)}"
    kind = given["kind"]
    if of_pattern and isinstance(kind, str) and kind in KINDS[OTHER[view]]:
        return (
            f'{key}.kind = {shown(kind)} is for view = "{OTHER[view]}"; '
            f"the {view} view has {', '.join(kinds)}"
        )
    listed = f"is not one of {', '.join(kinds)}{near(kind, kinds)}"
    return f"{key}.kind = {shown(kind)} {listed}"


def _wrong_shape(key: str, loc: Sequence[Step], given: Any) -> str:
    """A single value for a table, a table for a list, and the like."""
    names = [step for step in loc if isinstance(step, str)]
    bare = _bare(loc)
    if isinstance(loc[-1], str) and names[-1] in {"heat", "pattern"}:
        return f"{key} = {shown(given)}: write [[{bare}]] with double brackets"
    if names[-1] in {"from", "to"} or names[:2] == ["output", "points"][: len(names)]:
        pair = 'write ["0 mm", "25 mm"] for x, y'
        if len(names) == 2 and names[0] == "output":
            return f"{key} = {shown(given)} is not a table of named points"
        return f"{key} = {shown(given)} is not a pair of lengths; {pair}"
    if isinstance(given, list):
        return f"{key} = {shown(given)}: write [{bare}] with single brackets"
    header = f"[[{bare}]]" if names[-1] == "heat" else f"[{bare}]"
    return f"{key} = {shown(given)} is not a table; write it as {header}"


def _bare(loc: Sequence[Step]) -> str:
    """The name of a table's header: "heat.pattern"."""
    return re.sub(r"\[\d+\]", "", key_path(loc))
