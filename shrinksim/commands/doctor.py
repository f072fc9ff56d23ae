"""``doctor``: parts that are missing on this machine."""

from __future__ import annotations

import argparse

from shrinksim.commands.terminal import DONE, FAILED


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    doctor = commands.add_parser("doctor", help="check this machine for missing parts")
    doctor.set_defaults(command=_doctor)


def _doctor(args: argparse.Namespace) -> int:  # noqa: ARG001 (the commands' shape)
    """Print the parts that are missing on this machine, and how to get them."""
    from shrinksim.process.doctor import examine
    from shrinksim.process.machine import set_up_process

    set_up_process()
    findings = examine()
    for finding in findings:
        print(f"{'ok     ' if finding.fine else 'MISSING'}  {finding.text}")
        if finding.remedy:
            print(f"         {finding.remedy}")
    if all(finding.fine for finding in findings):
        print("Nothing is missing.")
        return DONE
    return FAILED
