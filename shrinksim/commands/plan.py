"""``plan``: the heats that straighten a measured member, one card each."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from shrinksim.commands.terminal import (
    DONE,
    refuse_folder,
    stoppable,
    stopped_with,
    wrapped,
)
from shrinksim.errors import CaseError

if TYPE_CHECKING:
    from shrinksim.member.job.read import Job
    from shrinksim.member.plan.next_heat import MovementFactor
    from shrinksim.member.survey.survey import SurveyResult

STORE = Path("results") / "store"
"""Finished runs of heats, for all plans made here."""


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    plan = commands.add_parser(
        "plan",
        help="plan the heats that straighten a measured member",
        description="Fit the member's bends, compute the movement by heats under the "
        "moment on the member, and write a card for each heat. Heats that were computed "
        "before are taken from the store.",
    )
    plan.add_argument("job", metavar="JOB", type=Path, help="the job file (TOML)")
    plan.add_argument(
        "--out", metavar="DIR", type=Path,
        help="folder for the plan (default: results/JOB)",
    )  # fmt: skip
    plan.add_argument(
        "--store", metavar="DIR", type=Path, default=STORE,
        help=f"folder that keeps finished runs of heats (default: {STORE})",
    )  # fmt: skip
    plan.add_argument(
        "--jobs", metavar="N", type=_count,
        help="runs at the same time, at most 1024 (default: one for each processor)",
    )  # fmt: skip
    plan.add_argument("--quiet", action="store_true", help="show no progress")
    plan.add_argument(
        "--force", action="store_true", help="replace an earlier plan in the folder"
    )
    plan.set_defaults(command=_plan)


def _count(text: str) -> int:
    """A number of processes; 0 computes in this one."""
    if not text.isdigit() or int(text) > 1024:
        message = f"{text!r} is no number of processes"
        raise argparse.ArgumentTypeError(message)
    return int(text)


def _plan(args: argparse.Namespace) -> int:
    """Make the plan, write its folder, print its summary."""
    from shrinksim.process.machine import set_up_process

    set_up_process()
    from shrinksim.commands.planned import planned
    from shrinksim.member.job.read import load_job
    from shrinksim.member.plan.page import PAGE, write_plan
    from shrinksim.member.plan.plan import make_plan
    from shrinksim.process.progress import shown_progress

    job = load_job(args.job)
    folder = args.out or Path("results") / args.job.stem
    refuse_folder(folder, args.force)
    _refuse_inside(args.store, folder)
    survey, movement_factor = _known(job, args.job)
    try:
        with shown_progress(args.quiet) as report:
            plan = make_plan(
                job, survey, store=args.store, jobs=args.jobs,
                progress=stoppable(report), movement_factor=movement_factor,
            )  # fmt: skip
            report("write", 0.0, "page and drawings")
            written = write_plan(plan, job, folder, args.job, args.force)
            report("write", 1.0, "done")
    except KeyboardInterrupt:
        return stopped_with(args.store)
    for text in (*survey.hold, *survey.stale):
        print(wrapped(text), end="\n\n")
    print(planned(plan, job))
    print(f"Plan: {written / PAGE}")
    return DONE


def _refuse_inside(store: Path, folder: Path) -> None:
    """CaseError when the store would stand in the folder that is replaced as a whole."""
    if store.absolute().is_relative_to(folder.absolute()):
        message = (
            f"--store {store}: is inside {folder}, which is replaced; name another"
        )
        raise CaseError(message)


def _known(job: Job, path: Path) -> tuple[SurveyResult, MovementFactor | None]:
    """The survey with the logged heats, and the movement factor from them."""
    from shrinksim.member.log.file import log_path, read_log
    from shrinksim.member.log.learn import evaluate_heats
    from shrinksim.member.plan.logged_heats import with_logged_heats
    from shrinksim.member.plan.next_heat import factor_from_log
    from shrinksim.member.plan.prior import prior_sigma
    from shrinksim.member.survey.survey import evaluate_survey

    log = read_log(log_path(path))
    findings = evaluate_heats(
        log.heats, job.member.length, job.survey.reading_error, prior_sigma(job),
        inverted_planes=job.survey.inverted_planes,
    )  # fmt: skip
    survey = with_logged_heats(job, evaluate_survey(job), log, findings)
    return survey, factor_from_log(findings.factor) if findings.heats else None
