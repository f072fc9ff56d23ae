"""What reads files: for each kind the sound files to spoil, and the function to try.

Kinds whose reader is not in the package are left out with a word.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

import readers_more as more

ROOT = Path(__file__).parent.parent.parent
CASES = ROOT / "cases"
STEELS = ROOT / "shrinksim" / "shop" / "data" / "steels"

OWN_STEEL = """\
name = "girder steel"
limit = "600 degC"
limit_source = "order of the owner"
yield_stress = "225 MPa"
yield_stress_source = "made up"
curve = "plateau"

[columns]
temperature = { unit = "degC", values = [20, 200, 400, 600, 800] }
[columns.modulus]
unit = "GPa"
values = [206, 190, 160, 90, 20]
source = "made up"
[columns.elongation]
unit = "mm/m"
values = [0, 2.2, 5.2, 8.4, 11.5]
source = "made up"
[columns.specific_heat]
unit = "J/kg K"
values = [450, 520, 600, 700, 700]
source = "made up"

[transformation]
heating = ["720 degC", "840 degC"]
heating_source = "made up"
cooling = ["680 degC", "600 degC"]
cooling_source = "made up"
strain = "-0.0035"
strain_source = "made up"
latent_heat = "60 kJ/kg"
latent_heat_source = "made up"
"""
WITH_STEEL = """\
title = "a plate of a steel of our own"
[member]
section = "plate"
width = "100 mm"
thickness = "10 mm"
[steel]
file = "NAME"
[[heat]]
[[heat.pattern]]
kind = "vee"
angle = "45 deg"
depth_ratio = 0.75
open = "top"
"""


@dataclass(frozen=True)
class Reader:
    """texts : sound files.  suffix : of the spoiled ones.  read : raises CaseError.

    seconds : that reading one file may take.  memory : bytes, beyond what is loaded.
    """

    texts: tuple[str, ...]
    suffix: str
    read: Callable[[Path], object]
    seconds: float = 5.0
    memory: float = 1e9


def _files(*folders: Path, ending: str = "toml") -> tuple[str, ...]:
    found = [path for folder in folders for path in sorted(folder.rglob(f"*.{ending}"))]
    return tuple(path.read_text(encoding="utf-8") for path in found)


def _cases() -> Iterator[str]:
    """Shipped files that are cases; jobs and studies lie in the same folder."""
    for text in _files(CASES):
        if "[[heat.pattern]]" in text and "\n[survey]" not in text:
            yield text


def _case_with_steel(path: Path) -> object:
    """Read a sound case whose steel is in ``path``."""
    from shrinksim.views.reading import load

    case = path.with_name("with_steel.toml")
    case.write_text(WITH_STEEL.replace("NAME", path.name), encoding="utf-8")
    return load(case)


def _check(path: Path) -> object:
    """``shrinksim check``: done, could not, or bad input with its sentences."""
    return more.command(["check", str(path)], codes=(0, 1, 2))


def check_reader() -> Reader:
    """The command ``check`` on a case file; it meshes what is in order."""
    from shrinksim.views.reading import prepare  # noqa: F401 (loaded before memory is bounded)

    return Reader(tuple(_cases()), ".toml", _check, seconds=60.0, memory=2e9)


def case_reader() -> Reader:
    """A case file."""
    from shrinksim.views.reading import load

    texts = tuple(_cases())
    return Reader((*texts, WITH_STEEL.replace("NAME", "own.toml")), ".toml", load)


def steel_reader() -> Reader:
    """A steel file."""
    from shrinksim.shop.steel_file import read_grade

    return Reader(
        (*_files(STEELS), OWN_STEEL, OWN_STEEL, OWN_STEEL), ".toml", read_grade
    )


def case_with_steel_reader() -> Reader:
    """A steel file that a sound case names."""
    return Reader((*_files(STEELS), OWN_STEEL, OWN_STEEL), ".toml", _case_with_steel)


def job_reader() -> Reader:
    """A job file; names of files in it made whole, since the spoiled one lies elsewhere."""
    return _beside("jobs", "shrinksim.member.job.read", "load_job")


def study_reader() -> Reader:
    """A study file, with the runs that it lists."""
    return _beside("studies", "shrinksim.study.file", "load_study")


def _beside(folder: str, module: str, function: str) -> Reader:
    """The reader of the files in a folder of the cases."""
    texts = []
    for path in sorted((CASES / folder).glob("*.toml")):
        text = path.read_text(encoding="utf-8")
        for name in re.findall(r'"([^"\n]+\.(?:toml|csv))"', text):
            text = text.replace(f'"{name}"', f'"{(path.parent / name).resolve()}"')
        texts.append(text)
    return _later(module, function, tuple(texts), ".toml")


def _later(module: str, function: str, texts: tuple[str, ...], suffix: str) -> Reader:
    """A reader that may not be in the package yet (ImportError, AttributeError)."""
    read = getattr(import_module(module), function)
    if not texts:
        message = f"no sound file for {module}.{function}"
        raise ImportError(message)
    return Reader(texts, suffix, read)


def _jobs() -> tuple[str, ...]:
    """The shipped jobs, and one that is small."""
    return (*job_reader().texts, more.JOB, more.JOB)


def readings_reader() -> Reader:
    """A table of readings."""
    shipped = _files(CASES / "jobs", ending="csv")
    return Reader((*shipped, *more.READINGS), ".csv", more.readings)


def survey_of_readings_reader() -> Reader:
    """The command ``survey`` on a table of readings."""
    shipped = _files(CASES / "jobs", ending="csv")
    return Reader((*shipped, *more.READINGS), ".csv", more.survey_of_readings)


def survey_reader() -> Reader:
    """The command ``survey`` on a job."""
    return Reader(_jobs(), ".toml", more.survey)


def log_reader() -> Reader:
    """The command ``log`` on a log."""
    return Reader(more.LOG, ".txt", more.log)


def typed_reader() -> Reader:
    """What is typed into the command ``log``."""
    return Reader(more.TYPED, ".txt", more.typed)


def plan_of_log_reader() -> Reader:
    """A plan that the command ``log`` looks into."""
    return Reader((json.dumps(more.PLAN, indent=1),), ".json", more.plan_of_log)


def listed_study_reader() -> Reader:
    """The command ``study --list``."""
    return Reader(study_reader().texts, ".toml", more.listed_study)


def calibration_reader() -> Reader:
    """The design of a calibration."""
    return Reader(_files(CASES / "calibrations"), ".toml", more.calibration)


def calibration_record_reader() -> Reader:
    """A calibration of one's own."""
    return Reader(more.calibration_texts(), ".json", more.calibration_record)


def compare_reader() -> Reader:
    """Several cases for a comparison."""
    return Reader(tuple(_cases()), ".toml", more.sides)


def store_reader() -> Reader:
    """The index of a store."""
    return Reader((more.index_text(),), ".jsonl", more.store)


def seal_reader() -> Reader:
    """The seal of a results folder."""
    return Reader((more.seal_text(),), ".json", more.seal)


def schema_reader() -> Reader:
    """A file that ``schema --out`` would replace."""
    return Reader((more.schema_text(),), ".json", more.schema)


def case_by_schema_reader() -> Reader:
    """A case file: what is read, the schema takes, too."""
    read = more.by_schema("shrinksim.views.reading:load", "case")
    return Reader(tuple(_cases()), ".toml", read)


def job_by_schema_reader() -> Reader:
    """A job file, likewise."""
    read = more.by_schema("shrinksim.member.job.read:load_job", "job")
    return Reader(_jobs(), ".toml", read)


READERS: dict[str, Callable[[], Reader]] = {
    "case": case_reader,
    "steel": steel_reader,
    "steel of a case": case_with_steel_reader,
    "check": check_reader,
    "job": job_reader,
    "study": study_reader,
    "readings": readings_reader,
    "survey, readings": survey_of_readings_reader,
    "survey, job": survey_reader,
    "log": log_reader,
    "typed into log": typed_reader,
    "plan of a log": plan_of_log_reader,
    "study --list": listed_study_reader,
    "calibration": calibration_reader,
    "own calibration": calibration_record_reader,
    "compare": compare_reader,
    "store": store_reader,
    "seal": seal_reader,
    "schema --out": schema_reader,
    "case by schema": case_by_schema_reader,
    "job by schema": job_by_schema_reader,
}


def named(
    name: str, given: str | None = None, sound: list[Path] | None = None
) -> Reader:
    """The reader called ``name``, or ``given`` as module:function with sound files."""
    if given is None:
        return READERS[name]()
    module, function = given.split(":")
    files = sound or []
    texts = tuple(path.read_text(encoding="utf-8") for path in files)
    return _later(module, function, texts, files[0].suffix if files else ".toml")
