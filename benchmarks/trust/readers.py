"""What reads files: for each kind the sound files to spoil, and the function to try.

Kinds whose reader is not in the package are left out with a word.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

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
    from shrinksim.case.reading import load

    case = path.with_name("with_steel.toml")
    case.write_text(WITH_STEEL.replace("NAME", path.name), encoding="utf-8")
    return load(case)


class OurFault(Exception):
    """A command that ended in a way that no file may bring about."""


def _check(path: Path) -> None:
    """``shrinksim check``: done, could not, or bad input with its sentences."""
    from shrinksim.cli import main
    from shrinksim.errors import CaseError

    said, complained = io.StringIO(), io.StringIO()
    with redirect_stdout(said), redirect_stderr(complained):
        code = main(["check", str(path)])
    lines = complained.getvalue().splitlines()
    if code not in (0, 1, 2) or any("fault of the program" in line for line in lines):
        raise OurFault(f"exit {code}: {complained.getvalue()[:300]}")
    if (code != 0) != bool(lines) or (code == 0) != bool(said.getvalue()):
        raise OurFault(f"exit {code} with {len(lines)} lines on standard error")
    if code:
        raise CaseError(lines)


def check_reader() -> Reader:
    """The command ``check`` on a case file; it meshes what is in order."""
    from shrinksim.preview import prepare  # noqa: F401 (loaded before memory is bounded)

    return Reader(tuple(_cases()), ".toml", _check, seconds=60.0, memory=2e9)


def case_reader() -> Reader:
    """A case file."""
    from shrinksim.case.reading import load

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
    return _beside("jobs", "shrinksim.member.job", "load_job")


def study_reader() -> Reader:
    """A study file, with the runs that it lists."""
    return _beside("studies", "shrinksim.study.study_file", "load_study")


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


READERS: dict[str, Callable[[], Reader]] = {
    "case": case_reader,
    "steel": steel_reader,
    "steel of a case": case_with_steel_reader,
    "check": check_reader,
    "job": job_reader,
    "study": study_reader,
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
