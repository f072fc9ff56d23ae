"""Plans carried out: does the number of heats fall in the planned range?

    python benchmarks/plan_execution.py               # ten bars, about ten minutes
    python benchmarks/plan_execution.py --bars 2      # smoke test
    python benchmarks/plan_execution.py --shop 0.2    # each bar moves by its own factor

Bars made up from a seed are read with noise, planned, and straightened: every heat turns
the bar by what a run of the model gives at the moment that is really on it (several heats
at one place in one run), times a lot of that single heat, log-normal, 20 %.  Then it is
read again with noise and planned again with what was learnt; the rule says when to stop.
The model is taken for true here, or, with --shop, wrong by a factor that is the bar's
own: what is tested is the plan, not the model.
"""

from __future__ import annotations

import argparse
import json
import platform
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from shrinksim.member.job.read import Job, job_from
from shrinksim.member.line import Bend, offsets
from shrinksim.member.log.learn import ObservedHeat, shop_factor
from shrinksim.member.plan.next_heat import factor_from_log
from shrinksim.member.plan.patterns import open_end
from shrinksim.member.plan.plan import make_plan, next_heat
from shrinksim.member.plan.prior import prior_sigma
from shrinksim.member.plan.records import HeatCard
from shrinksim.member.plan.response import heat_case
from shrinksim.member.setup.rig import helping_ratio, rest_on_supports
from shrinksim.member.setup.setup import rigging_of
from shrinksim.member.survey.survey import evaluate_survey
from shrinksim.process.machine import set_up_process
from shrinksim.runs.sweep import run_cases

HERE = Path(__file__).parent
SECTIONS = (("100 mm", "6 mm"), ("80 mm", "8 mm"))
SINGLE = 0.20
ERROR = 0.7e-3
NUMERICS = {"element": "12 mm", "heat_tolerance": "10 K", "temperature_step": "50 K"}
MOST = 30


def bar_of(seed: int) -> tuple[dict, list[Bend], np.random.Generator]:
    """A bar's job without readings, and its true bends."""
    rng = np.random.default_rng(seed)
    width, thickness = SECTIONS[seed % 2]
    length = round(float(rng.uniform(2.4, 4.0)), 1)
    first = Bend(
        float(rng.uniform(0.3, 0.5)) * length, float(rng.uniform(10e-3, 18e-3))
    )
    bends = [first]
    if seed % 3 == 0:
        second = (first.at / length + 0.3) * length
        bends.append(Bend(second, float(rng.uniform(6e-3, 10e-3))))
    tables = {
        "title": f"bar {seed}",
        "member": {
            "section": "plate", "width": width, "thickness": thickness,
            "length": f"{length} m",
        },
        "steel": {"grade": "S235"},
        "tolerance": {"camber": "4 mm"},
        "support": [{"at": "100 mm"}, {"at": f"{length - 0.1:.2f} m"}],
        "heats": {"most": MOST},
        "numerics": NUMERICS,
    }  # fmt: skip
    return tables, bends, rng


def read(tables: dict, bends: list[Bend], rng: np.random.Generator) -> Job:
    """The job with readings of the true line, every 200 mm, to a tenth."""
    length = float(tables["member"]["length"].removesuffix(" m"))
    x = np.append(np.arange(0.0, length - 0.1, 0.2), length)
    line = offsets(bends, x, length) + ERROR * rng.standard_normal(len(x))
    pairs = [[f"{a:.2f} m", f"{1e3 * b:.1f} mm"] for a, b in zip(x, line, strict=True)]
    survey = {"reading_error": f"{1e3 * ERROR} mm", "camber": pairs}
    survey["camber_line"] = "bottom"
    return job_from(tables | {"survey": survey}, tables["title"], Path())


def true_turn(
    job: Job, bends: list[Bend], card: HeatCard, visits: int, store: Path
) -> tuple[float, float]:
    """Turn (rad) by runs of the model at the moment that is on the true bar, and M/Mp."""
    standing = rest_on_supports(rigging_of(job), bends, ())
    ratio = helping_ratio(standing, card.at, card.side)
    patterns = [dict(p) for p in card.patterns]
    counts = [visits, visits + 1] if visits else [1]
    cases = [
        heat_case(job, "camber", patterns, round(ratio, 3), visits=n) for n in counts
    ]
    rows = run_cases(cases, store, jobs=2)
    turns = [row.summary["rotation_mrad"] * 1e-3 for row in rows]
    return (turns[-1] - turns[0] if visits else turns[0]), ratio


def observed(before: Job, after: Job, card: HeatCard) -> ObservedHeat:
    """What the readings say that the heat turned."""
    x = np.array([at for at, _ in before.survey.camber])
    fallen = np.array([b for _, b in before.survey.camber]) - np.array(
        [b for _, b in after.survey.camber]
    )
    lift = offsets([Bend(card.at, 1.0)], x, before.member.length)
    turn = float(lift @ fallen / (lift @ lift)) * (1 if card.side == "top" else -1)
    error = ERROR * float(np.sqrt(2.0 / (lift @ lift)))
    return ObservedHeat(card.number, card.move, turn, error, card.moment_ratio)


def straightened(seed: int, store: Path, shop: float) -> dict:
    """One bar from its plan to its end.  shop : scatter of a factor on all its heats."""
    tables, bends, rng = bar_of(seed)
    every = float(np.random.default_rng(1000 + seed).lognormal(0.0, shop))
    bends = list(bends)
    job = read(tables, bends, rng)
    plan = make_plan(job, evaluate_survey(job), store=store, jobs=2, alone=True)
    heated: list[tuple[str, float]] = []
    heats: list[ObservedHeat] = []
    rows = []
    movement_factor = None
    while len(rows) < MOST:
        survey = replace(evaluate_survey(job), heated=tuple(heated))
        card = next_heat(
            job, survey, store=store, jobs=2, movement_factor=movement_factor
        )
        if card is None:
            break
        factor = 1.0 if movement_factor is None else movement_factor.mean
        clear = 0.5 * open_end(job, "camber", np.radians(45.0))
        visits = sum(
            side == card.side and abs(at - card.at) < clear for side, at in heated
        )
        model, ratio = true_turn(job, bends, card, visits, store)
        lot = float(
            rng.lognormal(-0.5 * np.log1p(SINGLE**2), np.sqrt(np.log1p(SINGLE**2)))
        )
        turn = model * lot * every
        sense = 1.0 if card.side == "top" else -1.0
        bends.append(Bend(card.at, -sense * turn))
        heated.append((card.side, card.at))
        after = read(tables, bends, rng)
        seen = observed(job, after, card)
        heats.append(
            ObservedHeat(len(heats), card.move / factor, seen.observed, seen.error)
        )
        job = after
        movement_factor = factor_from_log(shop_factor(heats, shop=prior_sigma(job)))
        rows.append({
            "at_m": card.at, "angle": card.patterns[0]["angle"], "visits": visits,
            "moment_ratio": ratio, "planned_mrad": card.move * 1e3,
            "model_mrad": model * 1e3, "true_mrad": turn * 1e3,
        })  # fmt: skip
    x = np.linspace(0.0, job.member.length, 241)
    off = float(np.abs(offsets(bends, x, job.member.length)).max())
    return {
        "seed": seed,
        "section": " x ".join(SECTIONS[seed % 2]),
        "length_m": job.member.length,
        "before_mm": 1e3 * float(np.abs(plan.before["camber"]).max()),
        "planned": len(plan.cards),
        "least": plan.least,
        "most": plan.most,
        "heats": len(rows),
        "after_mm": 1e3 * off,
        "allowed_mm": 4.0,
        "inside": off <= 4e-3,
        "in_range": plan.least <= len(rows) <= plan.most,
        "steps": rows,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--bars", type=int, default=10)
    parser.add_argument("--store", type=Path, default=Path("results") / "store")
    parser.add_argument(
        "--shop", type=float, default=0.0, help="a model that is wrong by so much"
    )
    args = parser.parse_args()
    set_up_process()
    began, found = time.perf_counter(), []
    print("bar  before  planned  range   heats  after    inside  in range")
    for seed in range(args.bars):
        row = straightened(seed, args.store, args.shop)
        found.append(row)
        print(
            f"{seed:3d}  {row['before_mm']:5.1f}  {row['planned']:7d}  "
            f"{row['least']:2d}-{row['most']:<2d}  {row['heats']:6d}  "
            f"{row['after_mm']:5.2f} mm  {row['inside']!s:6}  {row['in_range']}",
            flush=True,
        )
    good = sum(row["inside"] and row["in_range"] for row in found)
    print(f"{good} of {len(found)} end inside the tolerance in the range of heats")
    record = {
        "what": __doc__.splitlines()[0],
        "good": good,
        "of": len(found),
        "single_heat_scatter": SINGLE,
        "shop_factor_scatter": args.shop,
        "reading_error_mm": 1e3 * ERROR,
        "numerics": NUMERICS,
        "seconds": time.perf_counter() - began,
        "python": sys.version.split()[0],
        "machine": platform.machine(),
        "bars": found,
    }
    if args.bars >= 10:
        name = "plan_execution" + "_shop" * (args.shop > 0.0)
        path = HERE / "results" / f"{name}_{platform.machine()}.json"
        path.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
