"""A file's tables to the record that mirrors them, or everything wrong with them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from shrinksim.casefile.wording import Kind, sentences
from shrinksim.text.faults import MOST, refused

R = TypeVar("R", bound=BaseModel)


def read_record(
    tables: Mapping[str, Any],
    where: str,
    kind: Kind[R],
    faults: Callable[[R | None], Sequence[str]],
    before: Sequence[str] = (),
) -> R:
    """The record of a kind of file; CaseError names every fault of the tables.

    where : what messages call the file.  faults : of the record, what is wrong between
    its keys; it is given None where the tables make no record.  before : faults that
    were found already.
    """
    problems, record, more = list(before), None, 0
    try:
        record = kind.record.model_validate(tables)
    except ValidationError as fault:
        problems += sentences(fault, kind)
        more = max(0, fault.error_count() - MOST)
    problems += faults(record)
    if problems or record is None:
        raise refused(where, list(dict.fromkeys(problems)), more)
    return record
