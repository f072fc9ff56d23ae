"""Read a job file: a Job, or one CaseError with every fault of the file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from shrinksim.casefile.reader import read_record
from shrinksim.casefile.resolving import with_flame
from shrinksim.casefile.wording import Kind
from shrinksim.member.job.checks import job_faults
from shrinksim.member.job.record import Job
from shrinksim.text.files import read_text, tables_of
from shrinksim.text.quoting import printable

__all__ = ["Job", "job_from", "job_tables", "load_job"]


def load_job(path: Path | str) -> Job:
    """Read and resolve a job from a TOML file; CaseError names every fault."""
    path = Path(path)
    where = printable(str(path))
    return job_from(tables_of(read_text(path, where), where), where, path.parent)


def job_from(tables: Mapping[str, Any], where: str, folder: Path) -> Job:
    """Build a job from tables shaped like the file.

    where : what messages call it.  folder : what relative file names start from.
    """
    kind = Kind(Job, "a table or key of a job")
    job = read_record(tables, where, kind, lambda job: job_faults(tables, job, folder))
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
    """Tables of a job file, in the job's units; they read back as the same job."""
    context = {"units": job.print_units}
    tables = job.model_dump(
        mode="json", by_alias=True, exclude_none=True, context=context
    )
    if job.steel.hardening != "mixed":
        del tables["steel"]["kinematic_share"]
    if job.torch.drive == "travel":
        del tables["torch"]["target"], tables["torch"]["patience"]
    return {key: value for key, value in tables.items() if value not in ({}, [])}
