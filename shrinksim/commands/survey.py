"""``survey``: bends of a member from its readings, and whether it is straight."""

from __future__ import annotations

import argparse
from pathlib import Path

from shrinksim.commands.terminal import DONE


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    survey = commands.add_parser(
        "survey",
        help="fit the bends of a member to its readings, and check straightness",
        description="Fit the bends of a member to its string or laser readings: place, "
        "angle, standard deviation, and whether it is within tolerance. Nothing is "
        "written.",
    )
    survey.add_argument("job", metavar="JOB", type=Path, help="the job file (TOML)")
    survey.set_defaults(command=_survey)


def _survey(args: argparse.Namespace) -> int:
    """Fit the line, print its bends and the verdicts."""
    from shrinksim.process.machine import set_up_process

    set_up_process()
    from shrinksim.commands.planned import surveyed
    from shrinksim.member.job.read import load_job
    from shrinksim.member.survey.survey import evaluate_survey

    job = load_job(args.job)
    print(surveyed(evaluate_survey(job), job))
    return DONE
