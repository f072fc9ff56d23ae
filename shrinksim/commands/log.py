"""``log``: record a heat that was carried out, and evaluate the heats so far."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shrinksim.commands.terminal import DONE, wrapped
from shrinksim.errors import CaseError

if TYPE_CHECKING:
    from shrinksim.member.job.read import Job
    from shrinksim.member.log.log import Log, LoggedHeat, Reading

MOST = 1e6
"""Largest number of a card; larger ones are not from a plan."""

SIDES = ("top", "bottom", "right", "left")
EXAMPLE = 'shrinksim log purlin.toml -r "6 m: 62 mm to 55 mm" --note "windy"'


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    log = commands.add_parser(
        "log", help="record a heat that was carried out, and evaluate it",
        description="Add a heat to the job's log with the readings before and after it, "
        "and compare the movements of all logged heats with the plan.",
        epilog=f"Example: {EXAMPLE}",
    )  # fmt: skip
    log.add_argument("job", metavar="JOB", type=Path, help="the job file (TOML)")
    log.add_argument(
        "-r", "--reading", metavar="READING", nargs="+", action="extend", default=[],
        help='offsets from the string, with units: "STATION: BEFORE to AFTER"; with '
        '"STATION: AFTER" the one before comes from the log; without any the log is '
        "shown",
    )  # fmt: skip
    log.add_argument(
        "--ask", action="store_true", help="ask for the readings one by one"
    )
    log.add_argument(
        "--heat",
        metavar="N",
        type=int,
        help="number of the heat (default: the next one)",
    )
    log.add_argument(
        "--plan", metavar="DIR", type=Path,
        help="folder of the plan (default: results/JOB)",
    )  # fmt: skip
    log.add_argument(
        "--at",
        metavar="PLACE",
        help="where the heat was, from the marked end, with its unit, if not as planned",
    )
    log.add_argument(
        "--side", choices=SIDES, help="side of its open end, if not as planned"
    )
    log.add_argument(
        "--weather", metavar="TEXT", default="", help="weather during the heat"
    )
    log.add_argument(
        "--note",
        metavar="TEXT",
        default="",
        help="remark, such as deviations from the plan",
    )
    log.add_argument(
        "--strike",
        metavar="N",
        type=int,
        help="strike heat N, which was logged wrongly; say why with --note",
    )
    log.set_defaults(command=_log)


def _log(args: argparse.Namespace) -> int:
    """Add a line, or show the log; then the evaluation of the heats."""
    from shrinksim.process.machine import set_up_process

    set_up_process()
    from shrinksim.member.job.read import load_job
    from shrinksim.member.log.file import append, log_path, read_log, strike

    job = load_job(args.job)
    path = log_path(args.job)
    if args.strike is not None:
        strike(path, args.strike, args.note, job.title)
        print(f"Heat {args.strike} is struck in {path}.")
    elif args.reading or args.ask:
        heat = _heat(args, job, read_log(path))
        if args.ask:
            heat = _ask_readings(heat, job, read_log(path))
        heat = append(path, heat, job.title, job.print_units)
        print(f"Heat {heat.number} is in {path}.")
    else:
        _show(read_log(path), job)
    _print_findings(read_log(path), job)
    return DONE


def _heat(args: argparse.Namespace, job: Job, log: Log) -> LoggedHeat:
    """The heat: planned values, and those of the command line."""
    from shrinksim.member.log.log import LoggedHeat, now
    from shrinksim.member.plan.tables import planned_heat
    from shrinksim.units.quantity import quantity

    if args.heat is not None and args.heat < 1:
        message = f"--heat {args.heat}: heats count from 1"
        raise CaseError(message)
    number = args.heat or log.next_number
    folder = args.plan or Path("results") / args.job.stem
    card = planned_heat(folder, number) or {}
    at = quantity(args.at, "length") if args.at else _number(card, "at_m")
    side = args.side or card.get("side")
    if at is None or side not in SIDES:
        message = (
            f"no plan in {folder} has a heat {number}; name its folder with --plan, or "
            'say where the heat was, such as --at "6 m" --side top'
        )
        raise CaseError(message)
    if not 0.0 <= float(at) <= job.member.length:
        message = f"--at {args.at or at}: is off the member"
        raise CaseError(message)
    as_planned = not (args.at or args.side)
    heat = LoggedHeat(
        when=now(),
        number=number,
        at=float(at),
        side=side,
        pattern=str(card.get("words", "")) * as_planned,
        **_expected(card if as_planned else {}),
        readings=(),
        weather=args.weather,
        note=args.note,
    )
    return _with_readings(heat, args.reading, job, log)


def _expected(card: Mapping[str, Any]) -> dict[str, Any]:
    """Expected movement of the card, in rad; None and 1 without a card."""
    found: dict[str, Any] = {"expected": None, "sigma": None, "moment_ratio": None}
    for name, key, unit in (
        ("expected", "move_mrad", 1e-3), ("sigma", "sigma_mrad", 1e-3),
        ("moment_ratio", "moment_ratio", 1.0),
    ):  # fmt: skip
        value = _number(card, key)
        found[name] = None if value is None else unit * value
    factor = _number(card, "shop_factor")
    return found | {"factor": factor if factor and 0.0 < factor < 100.0 else 1.0}


def _number(card: Mapping[str, Any], key: str) -> float | None:
    """A plain number of a card, None where there is none."""
    value = card.get(key)
    plain = isinstance(value, (int, float)) and not isinstance(value, bool)
    return float(value) if plain and abs(value) < MOST else None  # type: ignore[operator]


def _with_readings(
    heat: LoggedHeat, texts: Sequence[str], job: Job, log: Log
) -> LoggedHeat:
    """The heat with readings as typed; every fault of them at once."""
    from dataclasses import replace

    readings: list[Reading] = []
    problems: list[str] = []
    for text in texts:
        try:
            readings.append(_reading(text, heat, job, log))
        except CaseError as error:
            problems += [f"reading {problem}" for problem in error.problems]
    if problems:
        raise CaseError(problems)
    return replace(heat, readings=tuple(readings))


def _reading(text: str, heat: LoggedHeat, job: Job, log: Log) -> Reading:
    """One reading, on the member, with the one before it."""
    from shrinksim.member.log.log import parse_reading, with_previous_reading

    found = _surveyed(parse_reading(text, heat.plane), job, log)
    found = with_previous_reading(found, log)
    if not 0.0 <= found.at <= job.member.length:
        message = f'"{found.texts[0]}" is off the member'
        raise CaseError(message)
    return found


def _surveyed(reading: Reading, job: Job, log: Log) -> Reading:
    """The reading with the job's own at that station before it, where it is the first."""
    from dataclasses import replace

    from shrinksim.casefile.fields import text_of

    since = log.after(job.survey.after_heat)
    if reading.before is not None or since.last(reading.plane, reading.at):
        return reading
    for at, offset in getattr(job.survey, reading.plane):
        if abs(at - reading.at) < 5e-3:
            text = text_of(offset, "length", job.print_units == "us")
            station, _, after = reading.texts
            return replace(reading, before=offset, texts=(station, text, after))
    return reading


def _ask_readings(heat: LoggedHeat, job: Job, log: Log) -> LoggedHeat:
    """The heat with readings, weather and note asked for; nothing is written yet."""
    from dataclasses import replace

    from shrinksim.units.tape import place

    units = job.print_units
    print(f"Heat {heat.number} at {place(heat.at, units)}, open at the {heat.side}.")
    print("Offsets from the string, with their unit; an empty line ends them.")
    readings = list(heat.readings)
    station = place(heat.at, units)
    while answer := _answer(
        _station_asked(station, readings), station * (not readings)
    ):
        try:
            since = log.after(job.survey.after_heat)
            readings.append(_reading(_pair(answer, heat, since), heat, job, log))
        except CaseError as error:
            print(*(wrapped(problem) for problem in error.problems), sep="\n")
    weather = heat.weather or _answer("  weather: ")
    note = heat.note or _answer("  note: ")
    return replace(heat, readings=tuple(readings), weather=weather, note=note)


def _station_asked(station: str, readings: Sequence[Reading]) -> str:
    """The question for a station: the heat's own is offered first."""
    return "  station, or empty: " if readings else f"  station [{station}]: "


def _pair(station: str, heat: LoggedHeat, log: Log) -> str:
    """Both offsets at a station as a reading; the log's last is offered as the first."""
    from shrinksim.units.quantity import quantity

    last = log.last(heat.plane, quantity(station, "length"))
    known = last.texts[2] if last else ""
    before = _answer(
        f"  before the heat [{known}]: " if known else "  before the heat: ", known
    )
    after = _answer("  now: ")
    return f"{station}: {before} to {after}" if before else f"{station}: {after}"


def _answer(
    question: str, otherwise: str = "", ask: Callable[[str], str] = input
) -> str:
    """The answer typed; the end of the input stops as Ctrl-C does."""
    try:
        return ask(question).strip() or otherwise
    except EOFError:
        raise KeyboardInterrupt from None


def _show(log: Log, job: Job) -> None:
    """The heats in the log, a line each."""
    from shrinksim.member.log.log import log_line

    if not log.heats:
        print(f"There is no heat in {log.path} yet. Such as: {EXAMPLE}")
    for heat in log.heats:
        print(wrapped(log_line(heat, job.print_units)))


def _print_findings(log: Log, job: Job) -> None:
    """Evaluation of the logged heats, and faults of the log."""
    from shrinksim.member.log.diagnosis import (
        checks_before_next_heat,
        findings_in_words,
    )
    from shrinksim.member.log.learn import evaluate_heats
    from shrinksim.member.plan.prior import prior_sigma

    findings = evaluate_heats(
        log.heats, job.member.length, job.survey.reading_error, prior_sigma(job),
        inverted_planes=job.survey.inverted_planes,
    )  # fmt: skip
    for sentence in log.faults:
        print(wrapped(sentence))
    for sentence in findings_in_words(findings):
        print(wrapped(sentence))
    checks = checks_before_next_heat(findings)
    if checks:
        print("Look at this before the next heat:")
        print("\n".join(wrapped(check, "  - ") for check in checks))
