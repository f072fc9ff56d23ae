"""The commands.  Exit codes: 0 done, 1 failed, 2 bad input, 130 stopped by Ctrl-C.

Nothing heavy is imported before a command needs it.
"""

from __future__ import annotations

import argparse
import os
import shutil
import signal
import sys
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from shrinksim import __version__
from shrinksim.errors import CaseError, NotConverged

if TYPE_CHECKING:
    from shrinksim.case.schema import Case
    from shrinksim.case.section_case import SectionCase
    from shrinksim.progress import Progress

DONE, FAILED, BAD_INPUT, STOPPED = 0, 1, 2, 130

TRACEBACK = "SHRINKSIM_TRACEBACK"
"""Environment variable: when set, faults of the program show where they arose."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command; returns the exit code."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # type: ignore[attr-defined]
    parser = _parser()
    args = parser.parse_args(argv)
    if args.command is None:
        parser.print_help()
        return BAD_INPUT
    try:
        return args.command(args)
    except CaseError as error:
        return _say(BAD_INPUT, *error.problems)
    except NotConverged as error:
        return _say(FAILED, str(error))
    except KeyboardInterrupt:
        return _say(STOPPED, "stopped; nothing unfinished is kept")
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED
    except MemoryError:
        return _say(FAILED, "out of memory; use larger elements or a shorter patch")
    except Exception as error:
        if os.environ.get(TRACEBACK):
            raise
        return _say(FAILED, _our_fault(error))


def _parser() -> argparse.ArgumentParser:
    """The command line."""
    parser = argparse.ArgumentParser(
        prog="shrinksim",
        description="Predict how far heat moves a steel plate or I-beam for good.",
        epilog="Try: shrinksim check cases/flat_bar_vee.toml",
    )
    parser.add_argument(
        "--version", action="version", version=f"%(prog)s {__version__}"
    )
    parser.set_defaults(command=None)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    run = commands.add_parser("run", help="compute a case and write its results")
    run.add_argument("case", metavar="CASE", type=Path, help="the case file (TOML)")
    run.add_argument(
        "--out", metavar="DIR", type=Path, help="results folder (results/CASE)"
    )
    run.add_argument(
        "--refine", action="store_true", help="repeat on another mesh: how sure is it?"
    )
    run.add_argument("--quiet", action="store_true", help="no progress")
    run.add_argument(
        "--force", action="store_true", help="replace results of an earlier run"
    )
    run.set_defaults(command=_run)
    check = commands.add_parser("check", help="what is wrong with a case, what it does")
    check.add_argument("case", metavar="CASE", type=Path, help="the case file (TOML)")
    check.set_defaults(command=_check)
    doctor = commands.add_parser("doctor", help="what is missing on this machine")
    doctor.set_defaults(command=_doctor)
    return parser


def _run(args: argparse.Namespace) -> int:
    """Compute a case, write its folder, print what came out."""
    case = _load(args.case)
    folder = args.out or Path("results") / args.case.stem
    from shrinksim.chain import run
    from shrinksim.output.report import write_results
    from shrinksim.progress import shown_progress

    refuse_folder(folder, args.force)
    with shown_progress(args.quiet) as report:
        result = run(case, progress=_stoppable(report), refine=args.refine)
        report("write", 0.0, "figures and report")
        written = write_results(result, folder, args.case, args.force)
        report("write", 1.0, "done")
    print(outcome(result.summary(), case.print_units))
    print(f"Report: {written / 'report.html'}")
    return DONE if result.outcome == "complete" else FAILED


def _check(args: argparse.Namespace) -> int:
    """Say everything that is wrong with a case, else what running it would do."""
    case = _load(args.case)
    from shrinksim.preview import prepare

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


def _doctor(args: argparse.Namespace) -> int:  # noqa: ARG001 (the commands' shape)
    """Say what is missing on this machine, and how to get it."""
    from shrinksim.doctor import examine
    from shrinksim.machine import settle

    settle()
    findings = examine()
    for finding in findings:
        print(f"{'ok     ' if finding.fine else 'MISSING'}  {finding.text}")
        if finding.remedy:
            print(f"         {finding.remedy}")
    if all(finding.fine for finding in findings):
        print("Nothing is missing.")
        return DONE
    return FAILED


def _load(path: Path) -> Case | SectionCase:
    """The case, after the process is set up for what comes."""
    from shrinksim.machine import settle

    settle()
    from shrinksim.case.reading import load

    return load(path)


def refuse_folder(folder: Path, force: bool) -> None:
    """CaseError, before anything is computed, if the results could not be written."""
    from shrinksim.output.report import refuse_taken

    refuse_taken(folder, force)
    parent = next(p for p in folder.absolute().parents if p.exists())
    if not (parent.is_dir() and os.access(parent, os.W_OK | os.X_OK)):
        message = (
            f"{folder} cannot be made: {parent} cannot be written; name another folder "
            "with --out"
        )
        raise CaseError(message)


def outcome(summary: dict[str, Any], units: str) -> str:
    """What came out, for the terminal.  ``summary`` as in summary.json."""
    section = summary.get("view") == "section"
    moved = _section_rows if section else _elevation_rows
    margin = summary["hot_hinge_margin"]
    rows = moved(summary, units) | {
        "peak temperature": _shown(
            summary, "peak_temperature_C", "degC", "temperature", units
        ),
        "heating time": _shown(summary, "heating_time_s", "s", "time", units),
        "residual tension": _shown(
            summary, "max_residual_tension_MPa", "MPa", "stress", units
        ),
        "hot-hinge margin": "no moment on it" if margin is None else f"{margin:.2f}",
    }
    rows = {name: value for name, value in rows.items() if value}
    if not summary["converged"]:
        rows = {"outcome": "hot hinge: the member folds while hot"} | rows
    refinement = summary.get("refinement")
    if refinement:
        rows["change on another mesh"] = _change(refinement)
    wide = max(map(len, rows)) + 2
    table = "\n".join(f"  {name:<{wide}}{value}" for name, value in rows.items())
    texts = [caution["text"] for caution in summary["cautions"]]
    return "\n".join([summary["title"], table, *cautions(texts)])


def _shown(
    summary: dict[str, Any], key: str, unit: str, dimension: str, units: str
) -> str:
    """A value of the summary in the reader's units, "" if there is none."""
    from shrinksim.case.quantity import quantity, show

    if summary[key] is None:  # a member that folds leaves no cold stress
        return ""
    return show(quantity(f"{summary[key]!r} {unit}", dimension), dimension, units)


def _elevation_rows(summary: dict[str, Any], units: str) -> dict[str, str]:
    """How a patch of the elevation moved."""
    turn = summary["rotation_mrad"]
    closes = "the open end closes" if turn >= 0 else "the open end opens further"
    return {
        "rotation for good": f"{turn:.2f} mrad ({closes})",
        "shortening": _shown(summary, "shortening_mm", "mm", "length", units),
    }


NOTHING = 0.05
"""mrad; a bend under this is not printed beside one that is."""


def _section_rows(summary: dict[str, Any], units: str) -> dict[str, str]:
    """How a heated length moved in the section view: what there is of it."""
    rows = {}
    sides = {"camber": ("top", "bottom"), "sweep": ("right", "left")}
    for name, (plus, minus) in sides.items():
        turn = summary[f"{name}_rotation_mrad"]
        if abs(turn) >= NOTHING:
            curvature = _shown(summary, f"{name}_per_m", "rad/m", "curvature", units)
            hollow = plus if turn > 0 else minus
            rows[f"{name} for good"] = (
                f"{abs(turn):.2f} mrad, {curvature.lstrip('-')} ({hollow} hollow)"
            )
    rows = rows or {"camber and sweep": f"none (under {NOTHING} mrad)"}
    rows["shortening"] = _shown(summary, "shortening_mm", "mm", "length", units)
    angle = summary["angular_change_mrad"]
    if angle is not None:
        way = "to the heated face" if angle >= 0 else "from the heated face"
        rows["angular change"] = f"{abs(angle):.2f} mrad ({way})"
        across = _shown(summary, "transverse_shrinkage_mm", "mm", "length", units)
        change = "wider" if across.startswith("-") else "narrower"
        rows[f"{change} across"] = across.lstrip("-")
    if summary["converged"]:
        rows["tendon force"] = _shown(summary, "tendon_force_kN", "kN", "force", units)
    return rows


def _change(refinement: dict[str, float]) -> str:
    """What another mesh changed."""
    if "camber_change_percent" in refinement:
        camber, sweep = (
            refinement[f"{name}_change_percent"] for name in ("camber", "sweep")
        )
        return f"camber {camber:+.2f} %, sweep {sweep:+.2f} % of the larger"
    return f"{refinement['rotation_change_mrad']:+.2f} mrad"


def cautions(texts: Sequence[str]) -> list[str]:
    """Cautions as an indented list, with a heading if there are any."""
    return ["", "Take care:", *(wrapped(text, "  - ") for text in texts)] * bool(texts)


def wrapped(text: str, mark: str = "") -> str:
    """Text in lines of a terminal's width, indented under its mark."""
    wide = min(max(shutil.get_terminal_size((88, 24)).columns, 40), 100)
    return textwrap.fill(text, wide, initial_indent=mark, subsequent_indent="    ")


def _say(code: int, *sentences: str) -> int:
    """Sentences to standard error; returns the code."""
    for sentence in sentences:
        print(sentence, file=sys.stderr)
    return code


def _our_fault(error: Exception) -> str:
    """A sentence for a fault that is not the user's."""
    said = str(error).split("\n")[0][:200]
    return (
        f"shrinksim failed ({type(error).__name__}: {said}); this is a fault of the "
        f"program, please report it with the case file ({TRACEBACK}=1 shows where)"
    )


def _stoppable(report: Progress) -> Progress:
    """The progress; each report makes SIGTERM end the run as Ctrl-C does.

    Once is not enough: gmsh puts the default, sudden end back.
    """

    def report_on(stage: str, fraction: float, text: str) -> None:
        signal.signal(signal.SIGTERM, _terminated)
        report(stage, fraction, text)

    return report_on


def _terminated(number: int, frame: object) -> NoReturn:  # noqa: ARG001 (a signal's)
    """End a run as Ctrl-C does, so that unfinished files go."""
    raise KeyboardInterrupt
