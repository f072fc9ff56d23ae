"""Cases at random through the whole chain: each comes out, or says why it physically
cannot; heat and forces balance; the mirrored case gives the mirrored result; a change of
1 % in one input changes the result by a few per cent.

    python benchmarks/trust/random_cases.py                    # 300 cases, an hour
    python benchmarks/trust/random_cases.py --cases 100 --seed 2 --out some.jsonl
    python benchmarks/trust/random_cases.py --one 17           # one of them, told
    python benchmarks/trust/random_cases.py --table            # what is there already

Results are lines of JSON, one for each case; a case that is there is not run again.  The
numerics are coarse: how exact they are is tried elsewhere.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import platform
import random
import re
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from functools import partial
from pathlib import Path
from typing import Any

from random_jobs import Tables, drawn, mirrored

ROOT = Path(__file__).parent.parent.parent
RECORD = ROOT / "results" / f"random_cases_{platform.machine()}.jsonl"
BRIEF = (
    "seed", "number", "outcome", "why", "seconds", "twin", "apart", "faults",
    "imbalance", "residual", "rotation_mrad", "camber_rotation_mrad",
    "sweep_rotation_mrad", "error",
)  # fmt: skip
"""What is kept of a case in the benchmark's results."""

BALANCE = 5e-3
"""Of the heat absorbed, that may be unaccounted for."""
SHARE, FLOOR = 0.05, 0.05
"""A mirrored or nudged case may differ by this share and so many mrad or mm/m."""
NUDGE = 1.01
PATIENCE = 300.0
"""s that one run may take."""

PHYSICAL = {
    "target out of reach": r"cannot reach its target|speed of the torch is not found",
    "torch too strong": r"too strong for its target",
    "lit on hot steel": r"already when its torch is lit",
}
"""Reason -> what the message says when a job cannot be done as it is described."""
MOVED = {
    "elevation": ("rotation_mrad", "shortening_mm"),
    "section": ("camber_rotation_mrad", "sweep_rotation_mrad", "shortening_mm"),
}
ERRORS = {
    "rotation_mrad": "rotation_error_mrad",
    "camber_rotation_mrad": "camber_error_mrad",
    "sweep_rotation_mrad": "sweep_error_mrad",
    "shortening_mm": "shortening_error_mm",
}


class TooLong(Exception):
    """A run took more than ``PATIENCE``."""


def _too_long(number: int, frame: object) -> None:  # noqa: ARG001 (a signal's)
    raise TooLong


def outcome_of(tables: Tables) -> dict[str, Any]:
    """What a case came to: ``outcome`` in a word, ``why``, and its numbers."""
    from shrinksim import CaseError, NotConverged, run
    from shrinksim.views.reading import case_from

    start = time.perf_counter()
    signal.signal(signal.SIGALRM, _too_long)
    signal.setitimer(signal.ITIMER_REAL, PATIENCE)
    row: dict[str, Any] = {}
    try:
        result = run(case_from(tables, "random", Path()))
        row = numbers_of(result)
    except CaseError as error:
        row = {"outcome": "refused", "why": str(error)}
    except NotConverged as error:
        said = str(error)
        causes = [name for name, text in PHYSICAL.items() if re.search(text, said)]
        row = {"outcome": causes[0] if causes else "not converged", "why": said}
    except TooLong:
        row = {"outcome": "too long", "why": f"over {PATIENCE:g} s"}
    except Exception as error:
        row = {"outcome": "crash", "why": f"{type(error).__name__}: {error}"}
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
    return row | {"seconds": time.perf_counter() - start}


def numbers_of(result: Any) -> dict[str, Any]:
    """What is judged of a result."""
    import numpy as np

    summary = result.summary()
    energy = summary["energy_J" if summary["view"] == "elevation" else "energy_J_per_m"]
    refinement = summary["refinement"] or {}
    T, strain = result.heat.temperature, result.strain
    whole = all(
        bool(np.isfinite(a).all())
        for a in (T, strain.displacement, strain.stress, strain.plastic_strain)
    )
    return {
        "outcome": summary["outcome"],
        "why": "",
        **{name: summary[name] for name in MOVED[summary["view"]]},
        "error": {k: refinement.get(v) for k, v in ERRORS.items() if v in refinement},
        "imbalance": energy["imbalance"],
        "residual": summary["largest_residual"],
        "margin": summary["hot_hinge_margin"],
        "peak_C": summary["peak_temperature_C"],
        "coldest_C": float(T.min()),
        "cautions": [caution.code for caution in result.cautions],
        "finite": whole and not _not_a_number(summary),
        "from_plastic": _from_plastic(summary),
        "steps": summary["steps"],
        "unknowns": summary["unknowns"],
    }


def _not_a_number(value: Any) -> bool:
    """Whether nan or inf is anywhere in a summary."""
    if isinstance(value, dict):
        return any(map(_not_a_number, value.values()))
    if isinstance(value, (list, tuple)):
        return any(map(_not_a_number, value))
    return isinstance(value, float) and not math.isfinite(value)


def _from_plastic(summary: dict[str, Any]) -> list[float]:
    """Movements found anew from the plastic strain, in mrad (unit moment theorem)."""
    if summary["view"] == "elevation":
        found = summary["rotation_from_plastic_mrad"]
        return [] if found is None else [found]
    # curvature times the share of the length that is hot, as in the summary
    length = summary["heated_length_mm"] * summary["heated_share"]
    names = ("camber_from_plastic_per_m", "sweep_from_plastic_per_m")
    return [summary[name] * length for name in names]


def faults_of(tables: Tables, row: dict[str, Any]) -> list[str]:
    """What must not be in a result, whatever the case."""
    outcome, view = row["outcome"], tables.get("view", "elevation")
    if outcome in {"crash", "too long", "not converged"}:
        return [f"{outcome}: {row['why']}"]
    if outcome in PHYSICAL or outcome == "refused":
        return []  # with its reason, which the table shows
    found = []
    if abs(row["imbalance"]) > BALANCE:
        found.append(f"heat: {100 * row['imbalance']:.2f} % is unaccounted for")
    if not row["finite"]:
        found.append("a number that is none")
    if outcome == "hot hinge":
        return found + _hinge_faults(tables, row)
    if row["residual"] > _wanted():
        found.append(f"forces are {row['residual']:.1e} out of balance")
    held = tables["torch"]["drive"] == "held"
    target = tables["torch"].get("target", "0 degC")
    if held and abs(row["peak_C"] - float(target.split()[0])) > 12.0:
        found.append(f"the hottest steel is at {row['peak_C']:.0f} degC, not {target}")
    coldest = min(float(tables["surroundings"]["ambient"].split()[0]), 15.0)
    told = "coarse elements" in row["cautions"]
    if row["coldest_C"] < coldest - 15.0 and not told:
        found.append(f"steel at {row['coldest_C']:.0f} degC, colder than what cools it")
    free = tables["load"].get("removed") != "never"
    for name, again in zip(MOVED[view], row["from_plastic"], strict=False):
        if free and abs(row[name] - again) > 0.01 * abs(row[name]) + 0.02:
            found.append(f"{name} {row[name]:.3f}, from the plastic strain {again:.3f}")
    return found


def _wanted() -> float:
    """Out of balance over the internal forces that a step may have."""
    from shrinksim.strain import Control

    return Control().tolerance


def _hinge_faults(tables: Tables, row: dict[str, Any]) -> list[str]:
    """A member that folds has a load that its hot section cannot carry."""
    if tables["load"]["kind"] == "none":
        return ["hot hinge without a load"]
    if row["margin"] is not None and row["margin"] > 1.25:
        return [f"hot hinge with a margin of {row['margin']:.2f}"]
    return []


def nudged(tables: Tables, rng: random.Random) -> tuple[Tables, str]:
    """The case with one of its inputs 1 % larger, and which."""
    tables = json.loads(json.dumps(tables))
    heat = tables["heat"][0]
    places = [(tables["torch"], k) for k in ("speed", "power", "target", "efficiency")]
    places += [(tables["member"], k) for k in ("width", "thickness")]
    places += [(heat["pattern"][0], k) for k in ("angle", "depth_ratio", "width")]
    places += [(tables["load"], k) for k in ("moment", "camber_moment", "stiffness")]
    places += [(heat["cooling"], "reach"), (tables["steel"], "yield_stress")]
    table, key = rng.choice([(t, k) for t, k in places if k in t])
    given = table[key]
    if isinstance(given, str):
        number, unit = given.split(maxsplit=1)
        table[key] = f"{float(number) * NUDGE:.9g} {unit}"
    else:
        table[key] = given * NUDGE
    return tables, key


def apart(
    tables: Tables, one: dict[str, Any], other: dict[str, Any], signs: tuple[float, ...]
) -> tuple[float, list[str]]:
    """Largest difference over what is allowed, and in words where it is more."""
    worst, found = 0.0, []
    if {one["outcome"], other["outcome"]} == {"complete", "hot hinge"}:
        near = min(r["margin"] or 9.0 for r in (one, other))
        return (0.0, []) if near < 1.3 else (9.0, ["one folds, the other does not"])
    if one["outcome"] != other["outcome"]:
        return 9.0, [f"one {one['outcome']}, the other {other['outcome']}"]
    if one["outcome"] != "complete":
        return 0.0, []
    names = MOVED[tables.get("view", "elevation")]
    largest = max(abs(one[name]) for name in names if name.endswith("mrad"))
    for name, sign in zip(names, signs, strict=False):
        scale = largest if name.endswith("mrad") else abs(one[name])
        errors = [r["error"].get(name) or 0.0 for r in (one, other)]
        allowed = SHARE * scale + math.hypot(*errors)
        allowed += FLOOR if name.endswith("mrad") else 1e-3
        difference = abs(sign * other[name] - one[name])
        worst = max(worst, difference / allowed)
        if difference > allowed:
            found.append(f"{name} {one[name]:.3f} and {sign * other[name]:.3f}")
    return worst, found


def tried(seed: int, number: int) -> dict[str, Any]:
    """One case, and its mirrored or nudged twin; a line of the record."""
    tables = drawn(seed, number)
    row = outcome_of(tables)
    faults = faults_of(tables, row)
    twin: dict[str, Any] = {}
    found: list[str] = []
    rng = random.Random(f"{seed}/{number}/twin")
    done = row["outcome"] in {"complete", "hot hinge"}
    section = tables.get("view") == "section"
    if done and number % 4 == 0:
        other = outcome_of(mirrored(tables))
        signs = (1.0, -1.0, 1.0) if section else (1.0, 1.0)
        worst, found = apart(tables, row, other, signs)
        twin = {"twin": "mirrored", "apart": worst, "other": other}
    elif done and number % 4 in (1, 2):
        changed, key = nudged(tables, rng)
        other = outcome_of(changed)
        worst, found = apart(tables, row, other, (1.0, 1.0, 1.0))
        twin = {"twin": f"{key} + 1 %", "apart": worst, "other": other}
    if twin:
        faults += [f"{twin['twin']}: {text}" for text in found]
    return {"seed": seed, "number": number, "tables": tables, **row, **twin,
            "faults": faults}  # fmt: skip


def rows_in(path: Path, seed: int) -> list[dict[str, Any]]:
    """Lines of the record that are of this seed."""
    if not path.exists():
        return []
    lines = path.read_text(encoding="utf-8").splitlines()
    return [row for line in lines if (row := json.loads(line))["seed"] == seed]


def _start() -> None:
    """A worker's process: one thread, compiled kernels kept."""
    from shrinksim.process.machine import set_up_process

    set_up_process()
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def computed(seed: int, numbers: list[int], at_once: int) -> Iterator[dict[str, Any]]:
    """The rows as they come."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(at_once, context, initializer=_start) as pool:
        waiting = [pool.submit(partial(tried, seed), n) for n in numbers]
        for done in as_completed(waiting):
            yield done.result()


def show(rows: list[dict[str, Any]]) -> None:
    """The tables: what came out by view, then what is wrong."""
    print(f"{'outcome':22} elevation  section")
    for outcome, _ in Counter(row["outcome"] for row in rows).most_common():
        some = [row["tables"] for row in rows if row["outcome"] == outcome]
        sections = sum("view" in tables for tables in some)
        print(f"{outcome:22} {len(some) - sections:9} {sections:8}")
    for kind in ("mirrored", "+ 1 %"):
        found = sorted(r["apart"] for r in rows if r.get("twin", "").endswith(kind))
        if found:
            print(
                f"{kind}: {len(found)} twins, difference over what is allowed: median "
                f"{found[len(found) // 2]:.2f}, largest {found[-1]:.2f}"
            )
    done = [row for row in rows if "imbalance" in row]
    if done:
        balance = max(abs(row["imbalance"]) for row in done)
        ends = [r["residual"] for r in done if r["outcome"] == "complete"]
        print(f"largest imbalance of heat {100 * balance:.3f} %", end=", ")
        print(f"of forces {max(ends, default=0.0):.1e}")
    seconds = sorted(row["seconds"] for row in rows)
    print(
        f"a run takes {seconds[len(seconds) // 2]:.1f} s, at most {seconds[-1]:.1f} s"
    )
    rows = sorted(rows, key=lambda row: row["number"])
    for row in rows:
        if row["why"] and not row["faults"]:
            print(f"  {row['seed']}/{row['number']} said why: {row['why'][:200]}")
    for row in rows:
        for fault in row["faults"]:
            view = row["tables"].get("view", "elevation")
            print(f"  {row['seed']}/{row['number']} {view}: {fault}")
    print(f"{len(rows)} cases, {sum(bool(row['faults']) for row in rows)} with a fault")


def keep(rows: list[dict[str, Any]], path: Path) -> None:
    """What came of each case in short; its tables follow from seed and number."""
    short = [
        {"view": row["tables"].get("view", "elevation")}
        | {name: row[name] for name in BRIEF if name in row}
        for row in sorted(rows, key=lambda row: row["number"])
    ]
    lines = ",\n".join(json.dumps(row) for row in short)
    path.write_text(f"[\n{lines}\n]\n", encoding="utf-8")


def main() -> int:
    """Run what is not there yet, print the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--at-once", type=int, default=2)
    parser.add_argument("--out", type=Path, default=RECORD)
    parser.add_argument("--one", type=int, help="run this case alone and tell all")
    parser.add_argument("--brief", type=Path, help="write what came of them here")
    parser.add_argument("--table", action="store_true", help="run nothing")
    options = parser.parse_args()
    if options.one is not None:
        from shrinksim.casefile.resolving import toml_text

        print(toml_text(drawn(options.seed, options.one)))
        print(json.dumps(tried(options.seed, options.one), indent=1))
        return 0
    rows = rows_in(options.out, options.seed)
    there = {row["number"] for row in rows}
    missing = [n for n in range(options.cases) if n not in there]
    if missing and not options.table:
        options.out.parent.mkdir(parents=True, exist_ok=True)
        with options.out.open("a", encoding="utf-8") as file:
            for row in computed(options.seed, missing, options.at_once):
                file.write(json.dumps(row) + "\n")
                file.flush()
                rows.append(row)
    if rows:
        show(rows)
        if options.brief:
            keep(rows, options.brief)
    return 1 if any(row["faults"] for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())
