"""What is offered from the top of the package: cases, sweeps, surveys and plans."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from shrinksim.casefile.origin import changed
from shrinksim.errors import CaseError
from shrinksim.member.job.read import job_from, load_job
from shrinksim.member.job.record import Job
from shrinksim.member.plan.plan import make_plan
from shrinksim.member.plan.records import Plan
from shrinksim.member.survey.survey import SurveyResult, evaluate_survey
from shrinksim.runs.run import Progress
from shrinksim.runs.store import Failure, Row
from shrinksim.runs.sweep import run_cases
from shrinksim.views.reading import case_from


def case(**tables: Any) -> Any:
    """A case from tables like those of a file, with the same checks.

    ``case(member={"section": "plate", ...}, steel={"grade": "S235"}, heat=[{"pattern":
    [...]}])``; a title is not
    needed.  Relative file names start from the current folder.  Raises CaseError with
    every fault.
    """
    return case_from({"title": "case", **tables}, "case", Path())


def sweep(
    base: Any,
    vary: Mapping[str, Sequence[Any]],
    store: Path | str | None = None,
    jobs: int | None = 0,
    progress: Progress | None = None,
) -> list[dict[str, Any]]:
    """Compute every combination of values of a case's keys; rows as plain records.

    vary : key -> values as a file has them; of a key that holds a list, a list of lists.
    store : folder that keeps finished runs;
    without one they are not kept.  jobs : worker processes, 0 in this one, None one for
    each processor.  A row holds the varied keys, "outcome", "reason", the numbers of
    summary.json, and the codes of its "cautions"; the numerical error is that of `run`.
    Raises CaseError with the faults of all combinations before anything is computed.
    """
    if isinstance(vary, str) or not vary:
        message = 'sweep: nothing varies; write {"heat.pattern.angle": ["20 deg", ...]}'
        raise CaseError(message)
    varied = [dict(zip(vary, values, strict=True)) for values in product(*_lists(vary))]
    cases, problems = [], []
    for values in varied:
        try:
            cases.append(changed(base, getattr(base, "_origin", None), values))
        except CaseError as error:
            problems += [p for p in error.problems if p not in problems]
    if problems:
        raise CaseError(problems)
    with TemporaryDirectory() as scratch:
        runs = run_cases(cases, store or scratch, jobs, progress)
    return [values | _row(run) for values, run in zip(varied, runs, strict=True)]


def _row(run: Row | Failure) -> dict[str, Any]:
    """Outcome, numbers, numerical errors and codes of the cautions of a run."""
    summary = run.summary or {}
    refinement = summary.get("refinement") or {}
    errors = {k: v for k, v in refinement.items() if "_error" in k}
    return {
        "outcome": run.outcome,
        "reason": run.reason,
        **dict(_numbers(summary)),
        **errors,
        "cautions": [caution["code"] for caution in summary.get("cautions", ())],
    }


def _lists(vary: Mapping[str, Sequence[Any]]) -> Iterator[Sequence[Any]]:
    """The values of each key; a single one counts as a list of it."""
    for key, values in vary.items():
        single = isinstance(values, (str, Mapping)) or not isinstance(values, Iterable)
        found = [values] if single else list(values)
        if not found:
            message = f"sweep: {key} has no values; give at least one"
            raise CaseError(message)
        yield found


def _numbers(summary: Mapping[str, Any]) -> Iterator[tuple[str, float | None]]:
    """The plain numbers of a summary."""
    for key, value in summary.items():
        number = isinstance(value, (int, float)) and not isinstance(value, bool)
        if number or (value is None and key != "refinement"):
            yield key, value


def _job(job: Job | Path | str | Mapping[str, Any]) -> Job:
    """A job, of a file or of tables like those of one."""
    if isinstance(job, Job):
        return job
    if isinstance(job, Mapping):
        return job_from(job, "job", Path())
    return load_job(job)


def survey(job: Job | Path | str | Mapping[str, Any]) -> SurveyResult:
    """What a member's readings say: its bends, and whether it is straight enough.

    job : a job file, or tables like those of one.  Raises CaseError with every fault.
    """
    return evaluate_survey(_job(job))


def plan(
    job: Job | Path | str | Mapping[str, Any],
    store: Path | str = Path("results") / "store",
    jobs: int | None = None,
    progress: Progress | None = None,
) -> Plan:
    """The heats that straighten a measured member.

    store : folder that keeps finished runs of heats.  jobs : worker processes, None one
    for each processor, 0 in this one.  Raises CaseError with every fault of the job,
    NotConverged where no heat can be computed.
    """
    asked = _job(job)
    found = evaluate_survey(asked)
    return make_plan(asked, found, store=Path(store), jobs=jobs, progress=progress)
