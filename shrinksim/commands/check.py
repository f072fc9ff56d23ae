"""``check``: faults of a case file, or a preview of its run."""

from __future__ import annotations

import argparse
from pathlib import Path

from shrinksim.commands.terminal import DONE, cautions, load_case, wrapped


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    check = commands.add_parser(
        "check",
        help="check a case file and preview its run",
        description="Print all faults of a case file, or a preview of its run: steps, "
        "computing time, and the cautions that are known before.",
    )
    check.add_argument("case", metavar="CASE", type=Path, help="the case file (TOML)")
    check.set_defaults(command=_check)


def _check(args: argparse.Namespace) -> int:
    """Print all faults of a case, else a preview of its run."""
    case = load_case(args.case)
    from shrinksim.views.reading import prepare

    preview = prepare(case)
    print(f"{args.case}: the file is in order.\n")
    for line in preview.lines:
        print(wrapped(line))
    print(
        f"\n{preview.unknowns} unknowns on {preview.elements} elements, about "
        f"{preview.steps} steps, about {preview.seconds:.0f} s on this machine."
    )
    print("\n".join(cautions([caution.text for caution in preview.cautions])))
    return DONE
