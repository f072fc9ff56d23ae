"""``schema``: JSON schema of a kind of file, for editors that complete and check TOML."""

from __future__ import annotations

import argparse
import json
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shrinksim.commands.terminal import DONE
from shrinksim.errors import CaseError
from shrinksim.text.quoting import near, shown

if TYPE_CHECKING:
    from pydantic import BaseModel

RECORDS = {
    "job": ("Job of shrinksim", "member.job.record:Job"),
    "study": ("Study of shrinksim", "study.record:StudyFile"),
    "calibration": ("Calibration of shrinksim", "calibration.record:CalibrationFile"),
}
"""Kind of file that is no case -> title, and the record (module:name) it mirrors."""


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    schema = commands.add_parser(
        "schema",
        help="write the JSON schema of a kind of file, for editors",
        description="Write the JSON schema of a kind of file. Editors that know TOML "
        "complete and check with it: many take it from a first line "
        "'#:schema ./case.schema.json' in the file.",
    )
    schema.add_argument(
        "--kind",
        default="case",
        help="kind of file: case (of any view, the default), the name of a view for "
        f"its cases alone, or {', '.join(RECORDS)}",
    )
    schema.add_argument(
        "--out", metavar="FILE", type=Path, help="file to write (default: the screen)"
    )
    schema.set_defaults(command=_schema)


def _schema(args: argparse.Namespace) -> int:
    """Print or write the schema."""
    text = json.dumps(schema_for(args.kind), indent=2, ensure_ascii=False) + "\n"
    if args.out is None:
        print(text, end="")
        return DONE
    from shrinksim.process.drafts import write_atomically

    try:
        if args.out.exists() and not _a_schema(args.out):
            message = f"{args.out} is there and is no JSON schema; name another file"
            raise CaseError(message)
        write_atomically(args.out, text)
    except OSError as error:
        message = f"{args.out} cannot be written: {error.strerror or error}"
        raise CaseError(message) from error
    return DONE


def kinds() -> dict[str, tuple[str, tuple[type[BaseModel], ...]]]:
    """Kind of file -> title, and the records that it may mirror."""
    from shrinksim.views import VIEWS

    cases = {name: view.record for name, view in VIEWS.items()}
    found = {"case": ("Case of shrinksim", tuple(cases.values()))}
    for name, record in cases.items():
        found[name] = (f"Case of shrinksim, {name}", (record,))
    for kind, (title, place) in RECORDS.items():
        module, name = place.split(":")
        record = getattr(import_module(f"shrinksim.{module}"), name)
        found[kind] = (title, (record,))
    return found


def schema_for(kind: str) -> dict[str, Any]:
    """JSON schema of a kind of file, one of ``kinds``."""
    from shrinksim.casefile.json_schema import schema_of

    known = kinds()
    if kind not in known:
        message = f"--kind {shown(kind)} is not one of {', '.join(known)}"
        raise CaseError(message + near(kind, known))
    title, records = known[kind]
    return schema_of(title, *records)


def _a_schema(path: Path) -> bool:
    """Whether a file is one that this command may replace."""
    with path.open("rb") as file:
        return b'"$schema"' in file.read(200)
