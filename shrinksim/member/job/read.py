"""A job file to a Job, or one CaseError with everything that is wrong with it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from shrinksim.case.reader import read_record
from shrinksim.case.resolving import with_flame
from shrinksim.case.wording import Kind
from shrinksim.member.job.checks import checked
from shrinksim.member.job.record import Job
from shrinksim.member.log.log import LoggedHeat, line_of
from shrinksim.runs.store import PHYSICS
from shrinksim.text.files import read_text, tables_of
from shrinksim.text.quoting import printable

__all__ = ["Job", "hash_of_job", "job_from", "job_tables", "load_job"]


def load_job(path: Path | str) -> Job:
    """The job in a TOML file, resolved; CaseError names every fault of the file."""
    path = Path(path)
    where = printable(str(path))
    return job_from(tables_of(read_text(path, where), where), where, path.parent)


def job_from(tables: Mapping[str, Any], where: str, folder: Path) -> Job:
    """The job in a mapping shaped like the file.

    where : what messages call it.  folder : what relative file names start from.
    """
    kind = Kind(Job, "a table or key of a job")
    job = read_record(tables, where, kind, lambda job: checked(tables, job, folder))
    return _resolved(job, folder)


def _resolved(job: Job, folder: Path) -> Job:
    """The job with its torch filled in and the whole paths of its files."""
    update: dict[str, Any] = {"torch": with_flame(job.torch)}
    curve = job.steel.curve or "ellipse"
    steel: dict[str, Any] = {"curve": curve}
    if job.steel.file is not None:
        steel = {"file": (folder / job.steel.file).resolve()}
    update["steel"] = job.steel.model_copy(update=steel)
    if job.survey.file is not None:
        file = (folder / job.survey.file).resolve()
        update["survey"] = job.survey.model_copy(update={"file": file})
    return job.model_copy(update=update)


def job_tables(job: Job) -> dict[str, Any]:
    """The job as tables of a job file, in its own units; it reads back as itself."""
    context = {"units": job.print_units}
    tables = job.model_dump(
        mode="json", by_alias=True, exclude_none=True, context=context
    )
    if job.steel.hardening != "mixed":
        del tables["steel"]["kinematic_share"]
    if job.torch.drive == "travel":
        del tables["torch"]["target"], tables["torch"]["patience"]
    return {key: value for key, value in tables.items() if value not in ({}, [])}


def hash_of_job(job: Job, heats: Sequence[LoggedHeat] = ()) -> str:
    """First 16 hex digits of the SHA-256 of all that a plan is made from.

    The job, the files that it names, the heats of its log, and the program's physics.
    """
    text = json.dumps([PHYSICS, job_tables(job)], sort_keys=True)
    text += "".join(f"\n{line_of(heat, job.print_units)}" for heat in heats)
    for file in (job.survey.file, job.steel.file):
        if file is not None:
            text += Path(file).read_text(encoding="utf-8")
    return hashlib.sha256(text.encode()).hexdigest()[:16]
