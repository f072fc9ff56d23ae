"""Reader of study files: a base case and the keys that vary.

    title = "Angle and depth of a vee"
    case = "../flat_bar_vee.toml"       # relative to this file
    [vary]
    heat.pattern.angle = ["20 deg", "45 deg"]
    heat.pattern.depth_ratio = { from = 0.5, to = 1.0, steps = 3 }

makes every combination; with `[sample] kind = "latin hypercube" runs = 40 seed = 1` the
ranges (without steps) and lists are sampled.  Every run is checked before the first.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shrinksim.casefile.keys import place_of, varied_tables
from shrinksim.casefile.layout import key_path
from shrinksim.casefile.reader import read_record
from shrinksim.casefile.tables import AnyCase
from shrinksim.casefile.wording import Kind
from shrinksim.errors import CaseError
from shrinksim.study.keys import Place, flat_keys, unknown_key
from shrinksim.study.record import StudyFile
from shrinksim.study.values import (
    MOST_RUNS,
    ValueList,
    Varied,
    count,
    grid,
    latin_hypercube,
    read_varied,
)
from shrinksim.text.faults import refused
from shrinksim.text.files import read_text, tables_of
from shrinksim.text.quoting import printable, shown
from shrinksim.views.reading import case_from

OFF = " is off the "
"""Part of the sentence about an output point outside of the member."""

MOST_MESSAGES = 50
"""Most sentences about runs that cannot be computed."""

Progress = Callable[[str, float, str], None]


@dataclass(frozen=True)
class PlannedRun:
    """One run of a study: the values of its keys as a case file has them, and the case.

    case : None for a run that is left out because of its ``problems``.
    """

    values: tuple[Any, ...]
    case: AnyCase | None
    problems: tuple[str, ...] = ()


@dataclass(frozen=True)
class Study:
    """Study: base case and planned runs.  keys : varied, as messages name them."""

    title: str
    base: Path
    keys: tuple[str, ...]
    runs: tuple[PlannedRun, ...]


def load_study(path: Path | str, progress: Progress | None = None) -> Study:
    """Study of a TOML file; CaseError names every fault of the file and its runs."""
    path = Path(path)
    where = printable(str(path))
    tables = tables_of(read_text(path, where), where)
    return study_from(tables, where, path.parent, progress)


def study_from(
    tables: Mapping[str, Any],
    where: str,
    folder: Path,
    progress: Progress | None = None,
) -> Study:
    """Study of a mapping shaped like the file.

    where : name of it in messages.  folder : that the name of the base case is relative to.
    """
    found: dict[str, Any] = {}

    def check(read: StudyFile | None) -> list[str]:
        asked = read or StudyFile.model_construct(
            case=tables.get("case"),
            vary=tables.get("vary"),
            sample=tables.get("sample"),
        )
        base, faults = _base(asked.case, folder)
        varied, wrong = _varied(asked.vary, asked.sample is not None)
        faults += wrong
        places: dict[str, Place] = {}
        if base is not None:
            places, wrong = _places(varied, base)
            faults += wrong
        if not faults and read is not None:
            many = read.sample.runs if read.sample else count(list(varied.values()))
            if many > MOST_RUNS:
                faults.append(
                    f"vary makes {many} runs, more than {MOST_RUNS}; vary less"
                )
        found.update(base=base, varied=list(varied.values()), places=places)
        return faults

    read = read_record(tables, where, Kind(StudyFile, "a key of a study"), check)
    base, values, places = found["base"], found["varied"], found["places"]
    draw = read.sample
    combinations = (
        latin_hypercube(values, draw.runs, draw.seed) if draw else grid(values)
    )
    home = (folder / read.case).parent
    runs = _planned(base, home, tuple(places.values()), combinations, progress)
    _refuse_invalid(runs, tuple(places), read.invalid, where)
    title = read.title or base.get("title") or Path(read.case).stem
    return Study(str(title), folder / read.case, tuple(places), tuple(runs))


def _base(name: object, folder: Path) -> tuple[dict[str, Any] | None, list[str]]:
    """Tables of the base case, and the faults of reading them."""
    if not (isinstance(name, str) and name.strip() and name.isprintable()):
        return None, []
    try:
        path = folder / name
        return tables_of(read_text(path, str(path)), str(path)), []
    except CaseError as error:
        return None, [f"case = {shown(name)}: {problem}" for problem in error.problems]


def _varied(given: object, sampled: bool) -> tuple[dict[str, Varied], list[str]]:
    """Values of each key of [vary], and their faults."""
    if given == {}:
        return {}, ["vary is missing; write a table [vary] with the keys that vary"]
    if not isinstance(given, Mapping):
        return {}, []
    found: dict[str, Varied] = {}
    faults = []
    for key, values in flat_keys(given):
        try:
            found[key] = read_varied(values, sampled)
        except CaseError as error:
            faults += [f"vary: {key} {problem}" for problem in error.problems]
    return found, faults


def _places(
    varied: Mapping[str, Varied], base: Mapping[str, Any]
) -> tuple[dict[str, Place], list[str]]:
    """Place of each key by the name of the key in messages, and faults of the keys."""
    found: dict[str, Place] = {}
    faults = []
    for key in varied:
        try:
            place = place_of(key, base)
        except CaseError as error:
            faults += [f"vary: {key} {problem}" for problem in error.problems]
            continue
        name = key_path(place)
        if name in found:
            faults.append(
                f"vary: {key} is {name}, which is there already; leave one out"
            )
        found[name] = place
    if not faults:
        faults = _unknown_keys(list(found.values()), list(varied.values()), base)
    return found, faults


def _unknown_keys(
    places: Sequence[Place], varied: Sequence[Varied], base: Mapping[str, Any]
) -> list[str]:
    """Faults of keys that no case has, for all varied kinds of pattern and cooling."""
    kinds = [
        (place, one)
        for place, one in zip(places, varied, strict=True)
        if isinstance(one, ValueList)
        and (place[-1] in ("kind", "view") or isinstance(one.values[0], Mapping))
    ]
    settings = grid([one for _, one in kinds])[:MOST_MESSAGES]
    faults = []
    for place, one in zip(places, varied, strict=True):
        first = one.values[0] if isinstance(one, ValueList) else one.at(0.0)
        reasons = []
        for setting in settings:
            at = (*(p for p, _ in kinds), place)
            try:
                tables = varied_tables(base, at, (*setting, first))
            except CaseError as error:
                reasons += error.problems
                continue
            reasons.append(unknown_key(place, tables))
        if reasons and all(reasons):
            faults.append(f"vary: {key_path(place)}: {reasons[0]}")
    return faults


def _planned(
    base: Mapping[str, Any],
    folder: Path,
    places: tuple[Place, ...],
    combinations: Sequence[tuple[Any, ...]],
    progress: Progress | None,
) -> list[PlannedRun]:
    """Every run with its case, or with its faults."""
    runs = []
    for k, values in enumerate(combinations):
        tables = varied_tables(base, places, values)
        if isinstance(base.get("title"), str) and ("title",) not in places:
            values_text = ", ".join(
                f"{place[-1]} {value_text(value)}"
                for place, value in zip(places, values, strict=True)
            )
            tables["title"] = f"{base['title']}: {values_text}"[:200].strip()
        runs.append(_checked(tables, values, folder))
        if progress is not None and len(combinations) >= 100:
            progress("check", (k + 1) / len(combinations), f"{k + 1} runs")
    return runs


def _checked(
    tables: dict[str, Any], values: tuple[Any, ...], folder: Path
) -> PlannedRun:
    """Run of its tables; output points outside of the member are left out."""
    try:
        return PlannedRun(values, case_from(tables, "", folder))
    except CaseError as error:
        problems = [p.removeprefix(": ") for p in error.problems]
    others = [p for p in problems if not (p.startswith("output.points") and OFF in p)]
    if others:
        return PlannedRun(values, None, tuple(others))
    output = {k: v for k, v in tables["output"].items() if k != "points"}
    return _checked(tables | {"output": output}, values, folder)


def value_text(value: object) -> str:
    """Value in one line; a table by its values."""
    if isinstance(value, Mapping):
        return " ".join(value_text(part) for part in value.values())
    if isinstance(value, list):
        return " ".join(map(value_text, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def _refuse_invalid(
    runs: Sequence[PlannedRun], keys: tuple[str, ...], invalid: str, where: str
) -> None:
    """Raise CaseError when runs cannot be computed, unless they are to be left out."""
    wrong: dict[str, list[int]] = {}
    for k, run in enumerate(runs):
        for problem in run.problems:
            wrong.setdefault(problem, []).append(k)
    valid = sum(run.case is not None for run in runs)
    if not wrong or (invalid == "leave out" and valid):
        return
    messages = []
    for problem, which in list(wrong.items())[:MOST_MESSAGES]:
        if len(which) == len(runs):
            messages.append(f"every run: {problem}")
            continue
        first = which[0]
        values = zip(keys, runs[first].values, strict=True)
        of = ", ".join(f"{key} = {shown(value)}" for key, value in values)
        more = f" and {len(which) - 1} more" if len(which) > 1 else ""
        messages.append(f"run {first + 1}{more} ({of}): {problem}")
    if valid:
        messages.append(
            f"{len(runs) - valid} of {len(runs)} runs cannot be computed; change what "
            'varies, or write invalid = "leave out" to do the others'
        )
    raise refused(where, messages)
