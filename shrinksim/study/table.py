"""Table of a study: runs.csv with the main numbers, runs.jsonl with everything."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shrinksim.errors import CaseError
from shrinksim.process.drafts import write_atomically
from shrinksim.runs.store import Failure, Row
from shrinksim.study.file import Study, value_text
from shrinksim.study.values import in_common_unit

CSV, JSONL = "runs.csv", "runs.jsonl"

LEFT_OUT, NOT_YET = "left out", "not done yet"

UNITS = {
    "_mm_s": "mm/s",
    "_per_mille": "per mille",
    "_per_m": "1/m",
    "_percent": "%",
    "_mrad": "mrad",
    "_MPa": "MPa",
    "_kN": "kN",
    "_mm": "mm",
    "_C": "degC",
    "_J": "J",
    "_s": "s",
}
"""Endings of the names in a summary, and their units; longest first."""


@dataclass(frozen=True)
class StudyRows:
    """Runs of a study in their order; None for one that is not computed."""

    study: Study
    runs: tuple[Row | Failure | None, ...]

    @property
    def outcomes(self) -> tuple[str, ...]:
        """Outcome of each run: complete, the failure, left out, or not done yet."""
        return tuple(
            run.outcome if run else NOT_YET if plan.case else LEFT_OUT
            for plan, run in zip(self.study.runs, self.runs, strict=True)
        )

    def reason(self, number: int) -> str:
        """Reason of a run without a movement, "" for one with it."""
        run = self.runs[number]
        return run.reason if run else "; ".join(self.study.runs[number].problems)


def table(rows: StudyRows) -> dict[str, list[Any]]:
    """Columns (name with unit -> values, None where there is none), one row for each run.

    First the varied keys, then the results, then their numerical errors where known.
    """
    columns: dict[str, list[Any]] = {}
    for k, key in enumerate(rows.study.keys):
        name, values = _varied(key, [run.values[k] for run in rows.study.runs])
        columns[name] = values
    columns["outcome"] = list(rows.outcomes)
    found = [_numbers(run.summary or {}) if run else {} for run in rows.runs]
    names = dict.fromkeys(name for numbers in found for name in numbers)
    for name in sorted(names, key=lambda n: n.startswith(ERROR)):
        columns[name] = [numbers.get(name) for numbers in found]
    columns["computing time [s]"] = [
        run.record.get("seconds") if run else None for run in rows.runs
    ]
    columns["cautions"] = [_cautions(run.summary if run else None) for run in rows.runs]
    columns["reason"] = [rows.reason(k) for k in range(len(rows.runs))]
    columns["run"] = list(range(1, len(rows.runs) + 1))
    columns["key"] = [run.key if run else None for run in rows.runs]
    return columns


ERROR = "numerical error: "
"""Prefix of the columns with the numerical error due to mesh and steps."""


def _varied(key: str, values: list[Any]) -> tuple[str, list[Any]]:
    """Name and values of a varied column: numbers in a common unit where possible."""
    found = in_common_unit(values)
    if found is None:
        return key, [value_text(value) for value in values]
    numbers, unit = found
    return f"{key} [{unit or '1'}]", numbers


def _numbers(summary: Mapping[str, Any]) -> dict[str, float]:
    """Numbers of a summary under their names with units."""
    found: dict[str, float] = {}
    for name, value in summary.items():
        many = value if isinstance(value, list) else [value]
        for k, one in enumerate(many):
            if _is_number(one):
                of = f" of pattern {k}" if len(many) > 1 else ""
                found[_headed(name, of)] = one
    for name, value in (summary.get("refinement") or {}).items():
        if _is_number(value) and "_error" in name:
            found[ERROR + _headed(name.replace("_error", ""))] = value
    return found


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _headed(name: str, more: str = "") -> str:
    """Heading "rotation [mrad]" of the name "rotation_mrad"."""
    for end, unit in UNITS.items():
        if name.endswith(end):
            return f"{name.removesuffix(end).replace('_', ' ')}{more} [{unit}]"
    return f"{name.replace('_', ' ')}{more} [1]"


def _cautions(summary: Mapping[str, Any] | None) -> str:
    return "; ".join(c["code"] for c in (summary or {}).get("cautions", ()))


def write_rows(rows: StudyRows, folder: Path) -> tuple[Path, Path]:
    """Write runs.csv and runs.jsonl into the folder, each atomically."""
    columns = table(rows)
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(columns)
    for row in zip(*columns.values(), strict=True):
        writer.writerow([_cell(value) for value in row])
    lines = [
        json.dumps(_full_record(rows, k), ensure_ascii=False)
        for k in range(len(rows.runs))
    ]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_atomically(folder / CSV, text.getvalue())
        write_atomically(folder / JSONL, "\n".join(lines) + "\n")
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        message = (
            f"{folder}: the table of runs cannot be written: {reason}; the runs are kept "
            "in the store; make room and start again"
        )
        raise CaseError(message) from error
    return folder / CSV, folder / JSONL


def _cell(value: Any) -> str:
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    return f"{value:.7g}" if isinstance(value, float) else str(value)


def _full_record(rows: StudyRows, number: int) -> dict[str, Any]:
    """Full record of a run, for its line of runs.jsonl."""
    plan, run = rows.study.runs[number], rows.runs[number]
    return {
        "run": number + 1,
        "varied": dict(zip(rows.study.keys, plan.values, strict=True)),
        "outcome": rows.outcomes[number],
        "reason": rows.reason(number),
        "key": run.key if run else None,
        "summary": run.summary if run else None,
        "input": run.input if run else None,
        "record": dict(run.record) if run else None,
    }
