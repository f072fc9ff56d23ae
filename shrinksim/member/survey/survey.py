"""Evaluate the survey of a job: fitted lines and tolerance verdicts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import CaseError
from shrinksim.member.job.read import Job
from shrinksim.member.job.readings_file import read_csv
from shrinksim.member.line import PLANES, Bend, Plane
from shrinksim.member.log.log import LoggedHeat
from shrinksim.member.setup.rig import FACES, rest_on_supports, sag_off_chord
from shrinksim.member.setup.setup import rigging_of, upright_plane
from shrinksim.member.survey.readings import (
    Readings,
    checked_readings,
    sag_cautions,
    twist_rate,
)
from shrinksim.member.survey.shape import Shape, fit_shape
from shrinksim.member.survey.splice import joints, weld_cautions
from shrinksim.member.survey.tolerance import (
    StraightnessLimit,
    Verdict,
    straightness_limit,
    straightness_verdict,
    twist_verdict,
)
from shrinksim.text.quoting import printable

Columns = Mapping[str, tuple[FloatArray, FloatArray]]
OTHER = " other edge"
SETTLED = 3
"""Fits, each with the sag of the one before taken off, that a member on cribs needs."""


@dataclass(frozen=True)
class SurveyResult:
    """Result of a survey: fitted lines, verdicts, and what the log adds to them.

    shapes : of the planes that were read.  allowed : m off the chord in a plane.

    heated : (side, m) of heats that were given so far.  remarks : remarks on the
    readings, the twist and the splices.  logged : the heats as logged.  hold : why no
    heat is to be given now.  stale : that the readings are from before heats in the log.
    log_remarks : what the log tells, and what to check.
    """

    shapes: Mapping[Plane, Shape]
    allowed: Mapping[Plane, float]
    verdicts: tuple[Verdict, ...] = ()
    heated: tuple[tuple[str, float], ...] = ()
    remarks: tuple[str, ...] = ()
    logged: tuple[LoggedHeat, ...] = ()
    hold: tuple[str, ...] = ()
    stale: tuple[str, ...] = ()
    log_remarks: tuple[str, ...] = ()

    @property
    def bends(self) -> dict[Plane, tuple[Bend, ...]]:
        """Bends of each plane."""
        return {plane: shape.bends for plane, shape in self.shapes.items()}


def evaluate_survey(job: Job) -> SurveyResult:
    """Read, fit and judge; CaseError with every fault of the readings."""
    columns = reading_columns(job)
    readings: dict[Plane, Readings] = {}
    faults: list[str] = []
    for plane in PLANES:
        if plane in columns:
            try:
                readings[plane] = _cleaned(job, plane, *columns[plane])
            except CaseError as error:
                faults += error.problems
    if faults:
        raise CaseError(faults)
    shapes = _fitted(job, readings)
    limits: dict[Plane, StraightnessLimit] = {p: job_limit(job, p) for p in shapes}
    allowed: dict[Plane, float] = {}
    for plane, found in limits.items():
        if found.allowed is not None:
            allowed[plane] = found.allowed
    verdicts = verdicts_on(
        job,
        {p: s.line for p, s in shapes.items()},
        {p: s.band for p, s in shapes.items()},
    )
    remarks = tuple(_remarks(job, columns, readings, shapes, limits))
    return SurveyResult(
        shapes=shapes,
        allowed=allowed,
        verdicts=verdicts,
        heated=(),
        remarks=remarks,
    )


def reading_columns(job: Job) -> Columns:
    """Stations and readings (k,) m of every column, from the file or the lists."""
    survey = job.survey
    if survey.file is not None:
        name = printable(survey.file.name)
        return read_csv(survey.file, name, job.member.length, job.print_units)
    lists = {
        "camber": survey.camber,
        "sweep": survey.sweep,
        "camber" + OTHER: survey.camber_other_edge,
        "sweep" + OTHER: survey.sweep_other_edge,
    }
    return {
        name: (frozen([at for at, _ in pairs]), frozen([off for _, off in pairs]))
        for name, pairs in lists.items()
        if pairs
    }


def _cleaned(job: Job, plane: Plane, x: FloatArray, reading: FloatArray) -> Readings:
    return checked_readings(
        plane, x, reading, length=job.member.length, block=job.survey.block,
        error=job.survey.reading_error, units=job.print_units,
        line_on=job.survey.line_on(plane),
    )  # fmt: skip


def _fitted(job: Job, readings: Mapping[Plane, Readings]) -> dict[Plane, Shape]:
    """The shapes, free of the sag that a member read on its supports has."""
    splices = [splice.at for splice in job.splices]
    length, units = job.member.length, job.print_units
    shapes: dict[Plane, Shape] = {}
    for plane, read in readings.items():
        shapes[plane] = fit_shape(read, length, splices, units)
    plane = upright_plane(job.rig.up)
    if job.survey.as_lies == "free" or plane not in readings:
        return shapes
    read = readings[plane]
    for _ in range(SETTLED):
        bends = {p: shape.bends for p, shape in shapes.items()}
        standing = rest_on_supports(
            rigging_of(job), bends.get("camber", ()), bends.get("sweep", ())
        )
        sag = sag_off_chord(standing, np.asarray(read.x))
        free = replace(read, offset=frozen(read.offset - FACES[job.rig.up][1] * sag))
        shapes[plane] = fit_shape(free, length, splices, units)
    return shapes


def job_limit(job: Job, plane: Plane) -> StraightnessLimit:
    """Allowed offset of a plane by the job's tolerance."""
    own = job.tolerance.camber if plane == "camber" else job.tolerance.sweep
    member = job.member
    return straightness_limit(
        plane, member.shape, member.length, job.tolerance.standard, own
    )


def verdicts_on(
    job: Job, line: Mapping[Plane, FloatArray], band: Mapping[Plane, FloatArray]
) -> tuple[Verdict, ...]:
    """Tolerance verdicts on lines (k,) m with their bands."""
    found = [
        straightness_verdict(
            plane, line[plane], band[plane], job_limit(job, plane), job.print_units
        )
        for plane in line
    ]
    return tuple(verdict for verdict in found if verdict is not None)


def _remarks(
    job: Job,
    columns: Columns,
    readings: Mapping[Plane, Readings],
    shapes: Mapping[Plane, Shape],
    limits: Mapping[Plane, StraightnessLimit],
) -> Iterator[str]:
    """Cautions on the readings, planes without a tolerance, twist, splices."""
    units = job.print_units
    for plane, shape in shapes.items():
        yield from (caution.text for caution in shape.cautions)
        sag = sag_cautions(readings[plane], job.survey.tool, units)
        yield from (caution.text for caution in sag)
        if limits[plane].allowed is None:
            yield f"{plane}: no tolerance: {limits[plane].source}."
        yield from (joint.text for joint in joints(shape, units))
    yield from twist_remarks(job, columns)
    for splice in job.splices:
        section = job.member.shape
        for caution in weld_cautions(splice.at, section, job.member.length, units):
            yield caution.text


def twist_remarks(job: Job, columns: Columns) -> Iterator[str]:
    """The twist of every plane whose two edges were read."""
    for plane in PLANES:
        if plane not in columns or plane + OTHER not in columns:
            continue
        if job.survey.edge_spacing is None:
            message = (
                "survey.edge_spacing is missing; the second edge's readings need the "
                "distance between the edges"
            )
            raise CaseError(message)
        (x, one), (x2, two) = columns[plane], columns[plane + OTHER]
        both, i, j = np.intersect1d(
            np.round(x, 4), np.round(x2, 4), return_indices=True
        )
        error = job.survey.reading_error
        rate, sigma, _ = twist_rate(
            both, one[i], two[j], job.survey.edge_spacing, error
        )
        verdict = twist_verdict(rate, sigma, job.tolerance.twist, job.print_units)
        yield f"{verdict} (from the {plane} of both edges)."
        if job.tolerance.twist is not None and abs(rate) > job.tolerance.twist:
            yield "Heats against twist are not planned here."
