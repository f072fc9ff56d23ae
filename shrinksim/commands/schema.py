"""``schema``: what may stand in a file, for editors that complete and check TOML."""

from __future__ import annotations

import argparse
import json
from importlib import import_module
from pathlib import Path
from typing import Any

from shrinksim.commands.terminal import DONE
from shrinksim.errors import CaseError

CASE, SECTION = "case.schema:Case", "views.section.record:SectionCase"
KINDS = {
    "case": ("Case of shrinksim", (CASE, SECTION)),
    "elevation": ("Case of shrinksim, elevation", (CASE,)),
    "section": ("Case of shrinksim, section", (SECTION,)),
    "job": ("Job of shrinksim", ("member.job.record:Job",)),
}
"""Kind of file -> title, and the records (module:name) it may mirror."""


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    schema = commands.add_parser(
        "schema",
        help="what may stand in a file, for editors (JSON schema)",
        description="Write the JSON schema of a kind of file. Editors that know TOML "
        "complete and check with it: many take it from a first line "
        "'#:schema ./case.schema.json' in the file.",
    )
    schema.add_argument(
        "--kind",
        choices=list(KINDS),
        default="case",
        help="kind of file (default: case, of either view)",
    )
    schema.add_argument(
        "--out", metavar="FILE", type=Path, help="write it there, not to the screen"
    )
    schema.set_defaults(command=_schema)


def _schema(args: argparse.Namespace) -> int:
    """Print or write the schema."""
    text = json.dumps(schema_for(args.kind), indent=2, ensure_ascii=False) + "\n"
    if args.out is None:
        print(text, end="")
        return DONE
    from shrinksim.process.drafts import write_whole

    try:
        if args.out.exists() and not _a_schema(args.out):
            message = f"{args.out} is there and is no JSON schema; name another file"
            raise CaseError(message)
        write_whole(args.out, text)
    except OSError as error:
        message = f"{args.out} cannot be written: {error.strerror or error}"
        raise CaseError(message) from error
    return DONE


def schema_for(kind: str) -> dict[str, Any]:
    """JSON schema of a kind of file, one of ``KINDS``."""
    from shrinksim.case.json_schema import schema_of

    title, places = KINDS[kind]
    records = []
    for place in places:
        module, name = place.split(":")
        records.append(getattr(import_module(f"shrinksim.{module}"), name))
    return schema_of(title, *records)


def _a_schema(path: Path) -> bool:
    """Whether a file is one that this command may replace."""
    with path.open("rb") as file:
        return b'"$schema"' in file.read(200)
