"""Error sentences for the tables and keys of a job file."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError

from shrinksim.case.fields import Written
from shrinksim.case.heating import COOLINGS, Torch
from shrinksim.case.schema import Numerics, SteelChoice, Surroundings
from shrinksim.case.wording import MOST, Step, key_path
from shrinksim.member.job.record import (
    HeatLimits,
    Jack,
    Job,
    JobMember,
    JobSupport,
    JobSurvey,
    JobWeight,
    Rig,
    Splice,
    Tolerance,
)
from shrinksim.text.quoting import near, shown

TABLES: dict[str, type[BaseModel]] = {
    "": Job,
    "member": JobMember,
    "steel": SteelChoice,
    "surroundings": Surroundings,
    "survey": JobSurvey,
    "tolerance": Tolerance,
    "rig": Rig,
    "support": JobSupport,
    "weight": JobWeight,
    "jack": Jack,
    "torch": Torch,
    "heats": HeatLimits,
    "splice": Splice,
    "numerics": Numerics,
}
"""The record behind each table of the file; coolings come by kind."""

EXAMPLES = {"length": "12 m", "at": "6 m"}
SEVERAL = ("support", "weight", "jack", "splice")
LISTS = ("camber", "sweep", "camber_other_edge", "sweep_other_edge")
PAIR = 'write [["0 m", "50 mm"], ["3 m", "62 mm"]]: station, offset'


def sentences(fault: ValidationError) -> list[str]:
    """One sentence for each fault, beginning with its key, up to ``MOST``."""
    found = []
    for error in fault.errors(include_url=False)[:MOST]:
        found += _sentence(error["type"], error["loc"], error["input"], error)
    return list(dict.fromkeys(found))


def _sentence(kind: str, loc: Sequence[Step], given: Any, error: Any) -> list[str]:
    """The sentences for one of pydantic's errors."""
    key = key_path(loc)
    match kind:
        case "value_error":
            problems = getattr(error["ctx"]["error"], "problems", ("cannot be read",))
            return [f"{key} = {problem}" for problem in problems]
        case "missing":
            return [_missing(loc)]
        case "extra_forbidden":
            return [_unknown(loc, given)]
        case "literal_error":
            words = re.findall(r"'([^']*)'", error["ctx"]["expected"])
            words = words or re.findall(r"\d+", error["ctx"]["expected"])
            listed = f"is not one of {', '.join(words)}"
            return [f"{key} = {shown(given)} {listed}{near(given, words)}"]
        case "union_tag_invalid" | "union_tag_not_found":
            return [_wrong_cooling(given)]
        case "bool_type":
            return [f"{key} = {shown(given)} is not true or false (without quotes)"]
        case "too_long" if error["ctx"]["max_length"] > 2:
            return [f"{key} has more entries than {error['ctx']['max_length']}"]
    return [_wrong_shape(key, loc, given)]


def _model(loc: Sequence[Step]) -> type[BaseModel] | None:
    """The record behind the table at ``loc``."""
    names = [step for step in loc if isinstance(step, str)]
    if names[:1] == ["cooling"]:
        return COOLINGS.get(names[1]) if len(names) > 1 else None
    return TABLES.get(names[0] if names else "")


def _keys(model: type[BaseModel]) -> list[str]:
    """The keys that a table may have."""
    return [field.alias or name for name, field in model.model_fields.items()]


def _missing(loc: Sequence[Step]) -> str:
    """A table, key or number that has to be there."""
    key, last = key_path(loc), loc[-1]
    if isinstance(last, int):
        return f"{key_path(loc[:-1])} is not a pair; {PAIR}"
    if len(loc) == 1 and last != "title":
        return f"{key} is missing; write a table [{last}]"
    return f"{key} is missing; write {_example(_model(loc[:-1]), last)}"


def _example(model: type[BaseModel] | None, key: str) -> str:
    """How a key is written: 'angle = "45 deg"'."""
    fields = model.model_fields if model else {}
    field = next((f for name, f in fields.items() if (f.alias or name) == key), None)
    if field is not None and get_origin(field.annotation) is Literal:
        return f"{key} = " + " or ".join(f'"{c}"' for c in get_args(field.annotation))
    if key in EXAMPLES:
        return f'{key} = "{EXAMPLES[key]}"'
    for written in field.metadata if field else ():
        if isinstance(written, Written) and written.schema.get("examples"):
            return f'{key} = "{written.schema["examples"][0]}"'
    return f'{key} = "..."'


def _unknown(loc: Sequence[Step], given: Any) -> str:
    """A key that its table does not have."""
    *parent, last = loc
    model, table = _model(parent), key_path(parent)
    where = f"a key of {table}" if table else "a table or key of a job"
    sentence = f"{key_path(loc)} = {shown(given)}: {shown(last)} is not {where}"
    hint = near(last, _keys(model)) if model else ""
    if not hint:
        owners = [name for name, m in TABLES.items() if name and last in _keys(m)]
        hint = f"; it belongs in {_header(owners[0])}" if owners else ""
    if not hint and model and table:
        hint = f"; it has {', '.join(_keys(model))}"
    return sentence + hint


def _header(table: str) -> str:
    return f"[[{table}]]" if table in SEVERAL else f"[{table}]"


def _wrong_cooling(given: Any) -> str:
    """A cooling whose kind is unknown, or that is no table."""
    kinds = list(COOLINGS)
    if not isinstance(given, Mapping):
        return f"cooling = {shown(given)} is not a table; write [cooling]"
    kind = given.get("kind")
    listed = f"is not one of {', '.join(kinds)}{near(kind, kinds)}"
    return f"cooling.kind = {shown(kind)} {listed}"


def _wrong_shape(key: str, loc: Sequence[Step], given: Any) -> str:
    """A single value for a table, a table for a list, and the like."""
    names = [step for step in loc if isinstance(step, str)]
    if names[:1] == ["survey"] and len(names) > 1 and names[1] in LISTS:
        return f"{key} = {shown(given)} is no list of readings; {PAIR}"
    if names and names[0] in SEVERAL:
        return f"{key} = {shown(given)}: write {_header(names[0])} in double brackets"
    if isinstance(given, list):
        return f"{key} = {shown(given)}: write [{names[-1]}] with single brackets"
    return f"{key} = {shown(given)} is not a table; write it as [{names[-1]}]"
