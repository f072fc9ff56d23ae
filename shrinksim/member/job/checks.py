"""Checks across the keys of a job file.

As in the checks of a case, every check returns sentences that begin with a key, and
runs on whatever parts of the file could be read.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from shrinksim.casefile.checks import (
    dimension_faults,
    is_quenched,
    read,
    steel_faults,
)
from shrinksim.casefile.heating import AnyCooling, StillAir, Torch
from shrinksim.casefile.heating_checks import cooling_faults, quench_faults, torches
from shrinksim.casefile.tables import SteelChoice, Surroundings
from shrinksim.errors import CaseError
from shrinksim.member.job.readings_file import columns_in
from shrinksim.member.job.record import (
    MOST_LOADS,
    HeatLimits,
    Jack,
    Job,
    JobMember,
    JobSupport,
    JobSurvey,
    JobWeight,
    Splice,
    Tolerance,
)
from shrinksim.member.job.shapes import plan_faults
from shrinksim.member.line import PLANES
from shrinksim.text.files import read_text
from shrinksim.units.tape import place

APART = 0.05
"""m, supports nearer to one another than this are a slip."""


def job_faults(tables: Mapping[str, Any], job: Job | None, folder: Path) -> list[str]:
    """Faults between the keys of a job.

    job : of the tables, None where they make none.  folder : holds the job's file.
    """
    if job is not None:  # its tables are read already
        fields = Job.model_fields.items()
        tables = {field.alias or name: getattr(job, name) for name, field in fields}
    units = "us" if tables.get("print_units") == "us" else "metric"
    piece = read(JobMember, tables.get("member"))
    survey = read(JobSurvey, tables.get("survey"))
    steel = read(SteelChoice, tables.get("steel"))
    _, hottest, faults = steel_faults(steel, folder)
    length, sound = None, False
    if piece is not None:
        wrong = dimension_faults(piece.case_member("camber"))
        wrong = wrong or [f"member.{fault}" for fault in plan_faults(piece.shape)]
        faults += wrong
        length, sound = piece.length, not wrong
    faults += _of_the_places(tables, length, units)
    if survey is not None:
        faults += _of_the_survey(survey, length, units)
        faults += _of_the_files(survey, folder)
        if survey.as_lies == "on supports":
            faults += supports_missing(_list(JobSupport, tables, "support"))
    tolerance = read(Tolerance, tables.get("tolerance"))
    if tolerance is not None:
        faults += _of_the_tolerance(tolerance, piece if sound else None)
    faults += _of_the_torch(tables, hottest, is_quenched(steel, folder), units)
    if sound and piece is not None:
        faults += _of_the_heats(read(HeatLimits, tables.get("heats", {})), piece, units)
    return list(dict.fromkeys(faults))


def _list(kind: Any, tables: Mapping[str, Any], key: str) -> list[tuple[int, Any]]:
    """The entries of a list of tables that could be read, with their numbers."""
    given = tables.get(key)
    given = given[:MOST_LOADS] if isinstance(given, (list, tuple)) else ()
    found = [(i, read(kind, entry)) for i, entry in enumerate(given)]
    return [(i, entry) for i, entry in found if entry is not None]


def supports_missing(supports: Sequence[tuple[int, JobSupport]]) -> list[str]:
    """A sentence when fewer than two supports carry the member."""
    if len({round(s.at, 3) for _, s in supports if s.gap == 0.0}) >= 2:
        return []
    return [
        "support: at least two [[support]] without a gap have to carry the member, "
        'such as at = "1 m" and at = "11 m"'
    ]


def _of_the_places(
    tables: Mapping[str, Any], length: float | None, units: str
) -> Iterator[str]:
    """Places beyond the member, supports on one another, weights without a mass."""
    kinds = {"support": JobSupport, "weight": JobWeight, "jack": Jack, "splice": Splice}
    for name, kind in kinds.items():
        for i, entry in _list(kind, tables, name):
            half = 0.5 * getattr(entry, "spread", 0.0)
            low, high = entry.at - half, entry.at + half
            if length is not None and (low < -1e-9 or high > length + 1e-9):
                yield (
                    f"{name}[{i}].at = {place(entry.at, units)} is beyond the "
                    f"member, which is {place(length, units)} long"
                )
            both = isinstance(entry, JobWeight) and entry.mass is not None
            if isinstance(entry, JobWeight) and both == (entry.force is not None):
                which = "both; leave one out" if both else "missing; write one"
                yield f"{name}[{i}].mass or {name}[{i}].force: {which}"
    rests = sorted(_list(JobSupport, tables, "support"), key=lambda pair: pair[1].at)
    for (i, one), (j, other) in itertools.pairwise(rests):
        if other.at - one.at < APART:
            yield f"support[{j}] stands where support[{i}] does; leave one out"


def _of_the_survey(
    survey: JobSurvey, length: float | None, units: str
) -> Iterator[str]:
    """Missing, duplicate or out-of-range readings."""
    lists = {
        name: getattr(survey, name)
        for name in ("camber", "sweep", "camber_other_edge", "sweep_other_edge")
    }
    if survey.file is not None and any(lists.values()):
        yield "survey: readings are in file and in lists; leave one of them out"
    if survey.file is None and not any(lists.values()):
        yield (
            'survey: there are no readings; name a table, file = "readings.csv", or '
            'write camber = [["0 m", "50 mm"], ["3 m", "62 mm"]]'
        )
    other = bool(survey.camber_other_edge or survey.sweep_other_edge)
    if other and survey.edge_spacing is None:
        yield (
            "survey.edge_spacing is missing; the second edge's readings need the "
            "distance between the edges"
        )
    yield from _lines_missing(survey, [name for name in lists if lists[name]])
    for name, pairs in lists.items():
        for i, (at, _) in enumerate(pairs):
            if length is not None and at > length + 1e-9:
                yield (
                    f"survey.{name}[{i}] is at {place(at, units)}, beyond the "
                    f"member, which is {place(length, units)} long"
                )


def _of_the_files(survey: JobSurvey, folder: Path) -> list[str]:
    """A table of readings that cannot be opened, or whose line has no stated side."""
    if survey.file is None:
        return []
    try:
        text = read_text(folder / survey.file, survey.file.as_posix())
    except CaseError as error:
        return [f"survey.file: {problem}" for problem in error.problems]
    return list(_lines_missing(survey, columns_in(text)))


def _lines_missing(survey: JobSurvey, columns: Collection[str]) -> Iterator[str]:
    """Planes read from a line whose side is not stated."""
    what = "string" if survey.tool == "string" else "laser line"
    choices = {
        "camber": (
            f'write "top" if the {what} runs over the member so that a larger gap is a '
            'lower member, "bottom" if under it'
        ),
        "sweep": (
            f'write "right" if the {what} runs along its right side, seen from the '
            "marked end, so that a larger gap is a member further left, "
            '"left" if along its left'
        ),
    }
    for plane in PLANES:
        given = survey.camber_line if plane == "camber" else survey.sweep_line
        was_read = any(name.startswith(plane) for name in columns)
        if survey.measures_gaps and was_read and given is None:
            yield f"survey.{plane}_line is missing: {choices[plane]}"


def _of_the_tolerance(tolerance: Tolerance, piece: JobMember | None) -> Iterator[str]:
    """No tolerance at all, or a standard for rolled shapes on a plate."""
    own = (tolerance.camber, tolerance.sweep, tolerance.twist)
    if tolerance.standard is None and all(value is None for value in own):
        yield (
            'tolerance: nothing is given; write standard = "ASTM A6" or "EN 10034", or '
            'own values, such as camber = "10 mm"'
        )
    plate = piece is not None and piece.section == "plate"
    if plate and tolerance.standard is not None:
        yield (
            f"tolerance.standard = {tolerance.standard!r} is for rolled shapes; write "
            'own values for a plate, such as camber = "5 mm"'
        )


def _of_the_torch(
    tables: Mapping[str, Any], hottest: float, quenched: bool, units: str
) -> Iterator[str]:
    """Torch and cooling, as in a case."""
    air = read(Surroundings, tables.get("surroundings", {}))
    ambient = air.ambient if air else None
    torch = read(Torch, tables.get("torch", {}))
    yield from torches(torch, [], ambient, hottest, units)
    if torch is not None and torch.drive == "at once":
        yield "torch.drive = 'at once' is not for a plan; hold the torch"
    cooling = read(AnyCooling, tables.get("cooling", {}))
    if cooling is not None:
        yield from cooling_faults("cooling", cooling, ambient, units)
        yield from quench_faults("cooling", cooling, quenched)
        if not isinstance(cooling, StillAir) and cooling.on is not None:
            yield "cooling.on is for a section's surfaces; use reach or everywhere"


def _of_the_heats(
    limits: HeatLimits | None, piece: JobMember, units: str
) -> Iterator[str]:
    """A spacing that is longer than the member."""
    if limits is None or limits.spacing is None:
        return
    if limits.spacing > piece.length:
        yield (
            f"heats.spacing = {place(limits.spacing, units)} is more than the "
            f"member is long, {place(piece.length, units)}"
        )
