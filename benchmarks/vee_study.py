"""What sets the movement of a vee: one factor at a time, then angles and moments.

The model is taken as it is (elevation view); nothing is fitted.  A factor is changed
around a 45 degree vee in a 4 x 1/4 in A36 plate with the small heating tip, free, under
a jack and under a weight.  The published relation (see `published_vee`) is for heats to
650 degC: so the target of every torch is set, by secant, where the hottest steel comes
to 650 degC; the record has the median of the peaks inside the vee too.

    python benchmarks/vee_study.py               # what is missing of the record
    python benchmarks/vee_study.py radius power  # these factors again
    python benchmarks/vee_plot.py                # draws the record
"""

from __future__ import annotations

import json
import os
import platform
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

from published_vee import published
from vee_run import FREE, Heated, Variant, rows_of

RESULTS = Path(__file__).parent / "results"
RECORD = RESULTS / f"vee_study_{platform.machine()}.json"
STEEL = Path(__file__).parent / "data" / "literature_steel.toml"
NET = 2543.0
"""W that the small heating tip brings into the steel."""

JACK = {"kind": "jack", "moment": "0.25 Mp", "stiffness": "2 EI/L"}
WEIGHT = {"kind": "weight", "moment": "0.25 Mp"}
THREE = {"free": FREE, "jack 0.25": JACK, "weight 0.25": WEIGHT}
HALF = {
    "jack 0.5": JACK | {"moment": "0.5 Mp"},
    "weight 0.5": WEIGHT | {"moment": "0.5 Mp"},
}
ANGLES = (20, 30, 45, 60)

Changes = dict[str, Any]


def torch(**keys: Any) -> Changes:
    """Changed keys of the torch."""
    return {f"torch__{k}": v for k, v in keys.items()}


def net(watts: float, radius: float | None = None) -> Changes:
    """A torch that brings so many W into the steel, over a radius in mm."""
    wide = {} if radius is None else {"radius": f"{radius} mm"}
    return torch(power=f"{watts:.0f} W", efficiency=1.0, **wide)


def steel(*columns: str) -> Changes:
    """The literature's steel with only these of its columns, the others EN's."""
    text = STEEL.read_text(encoding="utf-8")
    begin = text.index("[columns.")
    tables = text[begin:].split("[columns.")[1:]
    kept = ["[columns." + t for t in tables if t.split("]")[0] in columns]
    path = Path(mkdtemp()) / f"literature steel, {', '.join(columns)}.toml"
    path.write_text(text[:begin] + "".join(kept), encoding="utf-8")
    return {"steel__file": str(path)}


def strong(ratio: float) -> Changes:
    """A36 with a real yield stress of so much times the nominal one."""
    return {"steel__yield_stress": f"{36 * ratio:.2f} ksi"}


def over(ratio: float) -> dict[str, Any]:
    """The loads, their Mp reckoned with the nominal yield stress of a stronger steel."""
    loads = {}
    for name, load in (THREE | HALF).items():
        share = name.split()[-1]
        moment = {} if name == "free" else {"moment": f"{float(share) / ratio:.4f} Mp"}
        loads[name] = load | moment
    return loads


def all_variants() -> Iterator[Variant]:
    """Every case of the study, loads included."""
    yield Variant("base case", "small heating tip, R 20 mm", loads=THREE | HALF)
    fine = {"element": "6 mm", "heat_tolerance": "2 K", "temperature_step": "15 K"}
    fine = {f"numerics__{k}": v for k, v in fine.items()}
    yield Variant("numerics", "sides and steps halved", fine)
    finer = torch(flame="welding tip") | fine | {"numerics__element": "3.5 mm"}
    yield Variant("numerics", "welding tip, sides and steps halved", finer)
    for group in (torches, paths, rules, heats, members, steels, holds, narrow):
        yield from group()
    for name, changes in candidates().items():
        for angle in ANGLES:
            yield replace(
                changes, factor=f"angles: {name}", name=f"{angle} deg",
                changes={**changes.changes, "vee__angle": f"{angle} deg"},
                loads=over(1.25) if "yield" in name else THREE | HALF,
            )  # fmt: skip
    yield Variant("width", "12 in", {"member__width": "12 in"})


QUICK = torch(speed="200 mm/s")


def torches() -> Iterator[Variant]:
    for R in (8, 12, 15, 20, 28):
        yield Variant("radius", f"R {R} mm, same power", net(NET, R))
        same = NET * (R / 20.0) ** 2
        yield Variant("radius", f"R {R} mm, same peak flux", net(same, R))
    for share in (0.5, 0.75, 1.5, 2.0, 4.0):
        yield Variant("power", f"{share:g} x power", net(share * NET, 20) | QUICK)
    for share in (0.5, 1.5, 2.0, 4.0):
        name = f"R 12 mm, {share:g} x power"
        yield Variant("power", name, net(share * NET, 12) | QUICK)
    yield Variant(
        "power", "welding tip (R 12 mm, 1.4 kW net)", torch(flame="welding tip")
    )


def paths() -> Iterator[Variant]:
    for way in ("base first", "up and down", "cold between rows"):
        yield Variant("path", f"serpentine, {way}", way=way)
    yield Variant("path", "serpentine, steady speed", torch(drive="travel"),
                  tune="torch__speed")  # fmt: skip
    for R in (20, 28):
        straight = net(NET * (R / 20.0) ** 2, R) | {"vee__path": "straight"}
        yield Variant("path", f"straight up the middle, R {R} mm", straight)
    for flux in (0.2, 0.5, 1.0, 2.0):
        yield Variant("path", f"whole vee at once, {flux:g} MW/m2", flux=flux * 1e6,
                      tune="")  # fmt: skip
    for speed in (10, 15, 100):
        changes = torch(speed=f"{speed} mm/s")
        yield Variant("speed", f"hand at most {speed} mm/s", changes)


def rules() -> Iterator[Variant]:
    for pitch in (0.4, 0.55, 1.0, 1.25):
        yield Variant("pitch", f"pitch {pitch:g} R", rules={"PITCH": pitch})
    for inset in (0.0, 0.6, 0.9, 1.2):
        yield Variant("inset", f"inset {inset:g} R", rules={"INSET": inset})
    for R, inset in ((12, 0.0), (12, 0.5), (15, 0.0), (20, 0.18)):
        name = f"R {R} mm, inset {inset * R:.1f} mm"
        yield Variant("inset and R", name, net(NET if R > 8 else 800, R),
                      {"INSET": inset})  # fmt: skip
    for fade in (0.75, 3.0):
        yield Variant("patch", f"{fade:g} depths beside", rules={"FADE": fade})


def heats() -> Iterator[Variant]:
    for target in (500, 560, 600, 650):
        changes = torch(target=f"{target} degC")
        yield Variant("target", f"target {target} degC", changes, tune="")
    yield Variant("target", "median in the vee 650 degC", measure="median_in_vee_C")
    for kind in ("mist", "water stream"):
        yield Variant("cooling", f"{kind} at once", {"cooling__kind": kind})
    below = {"cooling__kind": "mist", "cooling__start_below": "315 degC"}
    yield Variant("cooling", "mist below 315 degC", below)


def members() -> Iterator[Variant]:
    for t in (5, 8, 10, 12):
        changes = {"member__thickness": f"{t} mm"}
        yield Variant("thickness", f"{t} mm", changes)
        power = net(NET * t / 6.35, 20)
        yield Variant("thickness", f"{t} mm, power in proportion", changes | power)
    for width in (6, 8):
        changes = {"member__width": f"{width} in"}
        yield Variant("width", f"{width} in", changes)
    for ratio in (0.5, 0.67, 1.0):
        yield Variant(
            "depth", f"vee {ratio:g} of the width", {"vee__depth_ratio": ratio}
        )


def steels() -> Iterator[Variant]:
    yield Variant("curve", "EN, plateau at once", {"steel__curve": "plateau"})
    for columns in (("modulus",), ("yield_plateau",), ("elongation",), ALL):
        name = "literature: " + ("all" if len(columns) == 3 else columns[0])
        yield Variant("curve", name.replace("_plateau", ""), steel(*columns))
    for ratio in (1.0, 1.25, 1.4):
        name = f"real {ratio:g} x nominal"
        yield Variant("yield", name, strong(ratio), loads=over(ratio))
    for hardening in ("kinematic", "mixed"):
        yield Variant("hardening", hardening, {"steel__hardening": hardening})
    for annealing in (500, 600):
        changes = {"steel__annealing": f"{annealing} degC"}
        yield Variant("hardening", f"forgotten above {annealing} degC", changes)


def holds() -> Iterator[Variant]:
    loads = {
        f"jack 0.25, {k:g} EI/L": JACK | {"stiffness": f"{k} EI/L"}
        for k in (0.5, 1.0, 2.0, 5.0, 20.0)
    }
    yield Variant("jack", "stiffness", loads=loads | {"weight 0.25": WEIGHT})
    none = {f"jack 0, {k:g} EI/L": JACK | {"moment": "0 Mp", "stiffness": f"{k} EI/L"}
            for k in (2.0, 20.0)}  # fmt: skip
    clamps = {"clamp 0, 2 EI/L": none["jack 0, 2 EI/L"] | {"kind": "clamp"}}
    yield Variant("jack", "snug, without a moment", loads=clamps)


def narrow() -> Iterator[Variant]:
    """What would help a 20 degree vee with the small heating tip."""
    narrow = {"vee__angle": "20 deg"}
    for inset in (0.0, 0.6):
        rule = {"INSET": inset}
        yield Variant("20 degrees", f"inset {inset:g} R", narrow, rule)
    for way in ("base first", "cold between rows"):
        yield Variant("20 degrees", way, narrow, way=way)
    for share in (0.5, 2.0):
        power = net(share * NET, 20) | QUICK
        yield Variant("20 degrees", f"{share:g} x power", narrow | power)
    tip = torch(flame="welding tip")
    yield Variant("20 degrees", "welding tip, cold between rows", narrow | tip,
                  way="cold between rows")  # fmt: skip


ALL = ("modulus", "yield_plateau", "elongation")


def candidates() -> dict[str, Variant]:
    """What is run over the angles; factor and name are put in there."""
    tip = torch(flame="welding tip")
    return {
        "base case": Variant("", ""),
        "welding tip": Variant("", "", tip),
        "welding tip, real yield 1.25": Variant("", "", tip | strong(1.25)),
        "literature steel": Variant("", "", steel(*ALL)),
        "welding tip, literature steel": Variant("", "", tip | steel(*ALL)),
        "at once, 0.5 MW/m2": Variant("", "", flux=0.5e6, tune=""),
        "R 15 mm": Variant("", "", net(NET, 15)),
        "inset 0": Variant("", "", rules={"INSET": 0.0}),
        "welding tip, inset 0": Variant("", "", tip, {"INSET": 0.0}),
        "welding tip, inset 0, real yield 1.25": Variant(
            "", "", tip | strong(1.25), {"INSET": 0.0}
        ),
        "base first": Variant("", "", way="base first"),
    }


def study(wanted: tuple[str, ...], variants: list[Variant]) -> None:
    """Run what is wanted and not yet in the record; write it after each variant."""
    record: dict[str, Any] = {"rows": []}
    if RECORD.exists():
        record = json.loads(RECORD.read_text(encoding="utf-8"))
    record["rows"] = [r for r in record["rows"] if r["factor"] not in wanted]
    done = {(r["factor"], r["name"]) for r in record["rows"]}
    order = {(v.factor, v.name): k for k, v in enumerate(variants)}
    known: dict[str, Heated] = {}
    for variant in variants:
        key = variant.factor, variant.name
        if key in done or (wanted and variant.factor not in wanted):
            continue
        began = time.perf_counter()
        rows = rows_of(replace(variant, loads=variant.loads or THREE), known)
        record["rows"] += rows
        record["rows"].sort(key=lambda r: order.get((r["factor"], r["name"]), -1))
        record |= about()
        RESULTS.mkdir(exist_ok=True)
        RECORD.write_text(json.dumps(record, indent=1), encoding="utf-8")
        say(rows, time.perf_counter() - began)


def say(rows: list[dict[str, Any]], seconds: float) -> None:
    """One line for a variant."""
    first = rows[0]
    line = f"{first['factor']:10} {first['name']:34}"
    if "hottest_C" in first:
        line += (
            f" {first['hottest_C']:4.0f} {first['median_in_vee_C']:4.0f} degC "
            f"{first['torch_s']:4.0f} s spill {first['spill']:.2f} apart "
            f"{first['apart_K']:3.0f} K |"
        )
    for row in rows:
        line += f" {row['load']} {row['rotation_mrad']:.2f}" if "outcome" in row else ""
        line += f" {row['failed']}" if "failed" in row else ""
    if "in_vee" in first:
        line += " | " + " ".join(
            f"{first[k]:.2f}" for k in ("in_vee", "beside", "below")
        )
    print(f"{line} ({seconds:.0f} s)", flush=True)


def about() -> dict[str, Any]:
    """Versions and machine."""
    names = ("shrinksim", "numpy", "scipy", "numba", "gmsh")
    return {
        "problem": "what sets the movement of a vee",
        "date": time.strftime("%Y-%m-%d"),
        "python": platform.python_version(),
        "versions": {name: version(name) for name in names},
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, {platform.system()}",
        "published_mrad": {
            f"{a} deg, {m} Mp": published(a, m)
            for a in ANGLES
            for m in (0.0, 0.25, 0.5)
        },
    }


def main() -> int:
    """Run what is missing of the record, or the named factors again."""
    study(tuple(sys.argv[1:]), list(all_variants()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
