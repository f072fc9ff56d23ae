"""The files of a plan: plan.json, chalk_marks.csv, lines.csv; and plan.json read back."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shrinksim.errors import CaseError
from shrinksim.member.plan.chalk import card_marks
from shrinksim.member.plan.words import chalk_rows
from shrinksim.text.records import plain
from shrinksim.units.quantity import quantity

if TYPE_CHECKING:
    from shrinksim.member.job.read import Job
    from shrinksim.member.plan.records import Alternative, HeatCard, Plan

PLAN_FILE = "plan.json"
HEAD = ("heat", "what", "from", "middle", "to", "across")


def plan_record(plan: Plan, given: int = 0) -> dict[str, Any]:
    """The plan as plain JSON, every number with its unit in its name.

    given : heats that the log held when the plan was made.
    """
    mm = 1.0 / quantity("1 mm", "length")
    return plain({
        "title": plan.title,
        "estimate": plan.estimate,
        "input_hash": plan.input_hash,
        "heats_before": given,
        "heats": len(plan.cards),
        "heats_least": plan.least,
        "heats_most": plan.most,
        "chance_within_tolerance": plan.chance,
        "duration_h": plan.hours,
        "burnt_J": plan.gas,
        "shop_factor": plan.factor,
        "tolerance": [
            {
                "plane": now.plane, "deviation_mm": now.deviation * mm,
                "sigma_mm": now.sigma * mm, "source": now.source,
                "allowed_mm": None if now.allowed is None else now.allowed * mm,
                "inside": now.inside, "verdict": now.text,
            }
            for now in plan.verdict_before
        ],
        "expected_after": [
            {"plane": v.plane, "deviation_mm": v.deviation * mm, "inside": v.inside}
            for v in plan.verdict_after
        ],
        "cards": [_card(card) for card in plan.cards],
        "stop": plan.stop,
        "alternatives": [_way(row) for row in plan.alternatives],
        "cautions": plan.cautions,
    })  # fmt: skip


def _card(card: HeatCard) -> dict[str, Any]:
    """One heat."""
    return {
        "number": card.number, "at_m": card.at, "plane": card.plane, "side": card.side,
        "words": card.words, "patterns": [dict(p) for p in card.patterns],
        "target_C": card.target, "cooling": card.cooling,
        "moment_ratio": card.moment_ratio, "move_mrad": card.move * 1e3,
        "sigma_mrad": card.sigma * 1e3, "peak_temperature_C": card.peak,
        "heating_time_s": card.heating_time, "cooling_time_s": card.cooling_time,
        "burnt_J": card.gas, "hot_hinge_margin": card.hinge_margin,
        "drop_mm": card.drop * 1e3, "drop_at_m": card.drop_at,
        "cautions": card.cautions,
    }  # fmt: skip


def _way(row: Alternative) -> dict[str, Any]:
    """One alternative."""
    move = row.move_per_heat
    return {
        "name": row.name, "possible": row.possible, "heats": row.heats,
        "heats_least": row.least, "heats_most": row.most,
        "move_mrad": None if move is None else move * 1e3, "duration_h": row.hours,
        "burnt_J": row.gas, "moment_ratio": row.moment_ratio,
        "hot_hinge_margin": row.hinge_margin, "remark": row.remark,
    }  # fmt: skip


def write_chalk_marks(plan: Plan, job: Job, path: Path) -> None:
    """chalk_marks.csv: chalk marks in the reader's units, and as numbers in m."""
    numbers = [
        (mark, card) for card in plan.cards for mark in card_marks(card, job)
    ]  # fmt: skip
    rows = [
        [
            *(_safe(text) for text in row),
            *(f"{card.at + v:.4f}" for v in (mark.start, mark.end)),
            f"{mark.reach:.4f}",
        ]
        for row, (mark, card) in zip(chalk_rows(plan, job), numbers, strict=True)
    ]
    _write(path, [*HEAD, "from [m]", "to [m]", "reach from the edge [m]"], rows)


def write_lines(plan: Plan, path: Path) -> None:
    """lines.csv: offsets from the chord before, after each heat, and their bands."""
    columns = {"station [m]": plan.x}
    for plane, line in plan.before.items():
        columns[f"{plane} measured [mm]"] = 1e3 * line
        columns[f"{plane} measured, one standard deviation [mm]"] = (
            1e3 * plan.band_before[plane]
        )
    for card in plan.cards:
        name = f"{card.plane} after heat {card.number}"
        columns[f"{name} [mm]"] = 1e3 * card.line_after
        columns[f"{name}, one standard deviation [mm]"] = 1e3 * card.band_after
    rows = zip(*columns.values(), strict=True)
    _write(path, list(columns), [[f"{v:.6g}" for v in row] for row in rows])


def _write(path: Path, head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(head)
        writer.writerows(rows)


def _safe(text: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in "=+-@\t" and text[:1] else text


def planned_heat(folder: Path, number: int) -> Mapping[str, Any] | None:
    """The card for heat ``number`` of the log, with its shop factor; None if none.

    folder : of the plan, whose heats follow those that the log held then.  CaseError
    where there is a plan that cannot be read.
    """
    path = Path(folder) / PLAN_FILE
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError, RecursionError) as error:
        message = f"{path}: is no plan that can be read ({error})"
        raise CaseError(message) from None
    cards = record.get("cards") if isinstance(record, dict) else None
    if not isinstance(cards, list):
        message = f"{path}: is not a plan of heats"
        raise CaseError(message)
    given = record.get("heats_before", 0)
    own = number - given if isinstance(given, int) else number
    for card in cards:
        if isinstance(card, dict) and card.get("number") == own:
            return {"shop_factor": record.get("shop_factor", 1.0), **card}
    return None
