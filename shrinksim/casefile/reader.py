"""Reader of a file's tables to the record that mirrors them, with all faults."""

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
    """Record of a kind of file; CaseError names every fault of the tables.

    where : name of the file in messages.  faults : function of the record, or of None if
    the tables make none, that returns the faults between its keys.  before : faults
    found already.
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
