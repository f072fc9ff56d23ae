"""``calibrate``: compute many heats and fit a formula for quick estimates to them."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shrinksim.commands.terminal import (
    DONE,
    FAILED,
    refuse_folder,
    stoppable,
    stopped_with,
    wrapped,
)
from shrinksim.errors import CaseError

if TYPE_CHECKING:
    from shrinksim.calibration.formula_use import Calibration

STORE = "calibration_runs"


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    calibrate = commands.add_parser(
        "calibrate",
        help="fit a formula for quick estimates to many computed heats",
        description="Compute the heats of a calibration that are not finished yet, fit "
        "a formula to their permanent rotations, and write it with its error, its range "
        "and the data. "
        "Stopped or cut off, the same command goes on from there.",
    )
    calibrate.add_argument(
        "study", metavar="FILE", type=Path, help="the calibration file (TOML)"
    )
    calibrate.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        help="folder for the page (default: results/FILE)",
    )
    calibrate.add_argument(
        "--store", metavar="DIR", type=Path,
        help=f"folder that keeps finished runs (default: {STORE} beside --out)",
    )  # fmt: skip
    calibrate.add_argument(
        "--jobs", metavar="N", type=int, choices=range(1, 65), default=None,
        help="runs at the same time, 1 to 64 (default: one for each processor)",
    )  # fmt: skip
    calibrate.add_argument("--quiet", action="store_true", help="show no progress")
    calibrate.add_argument(
        "--force", action="store_true", help="replace an earlier calibration there"
    )
    calibrate.set_defaults(command=_calibrate)


def _calibrate(args: argparse.Namespace) -> int:
    """Compute, fit, write the folder, print the formulas."""
    from shrinksim.process.machine import set_up_process
    from shrinksim.process.stopping import install_stop_handlers

    install_stop_handlers()
    set_up_process()
    from shrinksim.calibration.calibrate import calibrations
    from shrinksim.calibration.file import load_calibrating
    from shrinksim.calibration.page import PAGE, write_calibrations
    from shrinksim.process.progress import shown_progress

    folder = args.out or Path("results") / args.study.stem
    store = args.store or folder.absolute().parent / STORE
    asked = load_calibrating(args.study)
    refuse_folder(folder, args.force)
    try:
        with shown_progress(args.quiet) as report:
            say = stoppable(report)
            found = calibrations(asked, store, args.jobs, say)
            say("write", 0.0, "figures and page")
            try:
                write_calibrations(asked, found, folder, args.study, args.force)
            except CaseError as error:  # of the disk: the file was in order
                print("; ".join(error.problems), file=sys.stderr)
                return FAILED
            say("write", 1.0, "done")
    except KeyboardInterrupt:
        return stopped_with(store)
    for one in found:
        print(formula_summary(one.calibration))
    print(f"Page: {folder / PAGE}")
    return DONE


def formula_summary(calibration: Calibration) -> str:
    """A formula and its scatter, in a few lines."""
    record: Any = calibration.record
    heats, scatter, fresh = record["heats"], record["scatter"], record["fresh"]
    left = ", ".join(f"{n} {why}" for why, n in heats["left_out"].items())
    lines = [
        f"{calibration.of}: {heats['fitted']} heats fitted"
        + (f", left out: {left}" if left else ""),
        _formula(record["formula"]),
        f"  scatter {scatter['absolute_mrad']:.2f} mrad and "
        f"{scatter['relative']:.0%} of the rotation, "
        f"{scatter['explained_left_out']:.0%} of the variance explained",
    ]
    if fresh["heats"]:
        lines.append(
            f"  {fresh['heats']} fresh heats: {fresh['within_two_sigma']} within two "
            f"standard deviations, root mean square {fresh['rms_mrad']:.2f} mrad"
        )
    return "\n".join(lines)


def _formula(text: str) -> str:
    """A formula in lines that break between its terms, not inside of them."""
    from shrinksim.calibration.words import unbroken

    return wrapped(unbroken(text), "  ").replace("\u00a0", " ")
