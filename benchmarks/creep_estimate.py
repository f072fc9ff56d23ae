"""How much creep of hot steel under load could matter in a heat: an estimate, no check.

Nothing here is in the package.  The law (from memory): T. Z. Harmathy, A comprehensive
creep model, J. Basic Engineering 89 (1967), after Dorn; constants for ASTM A36 of
Harmathy & Stanzak, Elevated-temperature tensile and creep properties of some structural
and prestressing steels, ASTM STP 464 (1970).

    creep = (e0 / ln 2) arccosh(2 ** (Z theta / e0)),  theta = int exp(-38900 K / T) dt

with t in h, T in K, Z in 1/h and the stress s in psi: e0 = 1.7e-10 s^1.75; Z = 0.026
s^4.7 up to 15000 psi, 1.23e16 exp(3e-4 s) above.  The two meet within 0.4 % at 15000 psi
(103 MPa); in MPa, e0 = 1.03e-6 s^1.75 and Z = 3.75e8 s^4.7 or 1.23e16 exp(0.0435 s).

    python benchmarks/creep_estimate.py                # about half a minute
"""

from __future__ import annotations

import json
import platform
import sys
from pathlib import Path
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from shrinksim import __version__
from shrinksim.arrays import FloatArray
from shrinksim.runs.run import run_once
from shrinksim.shop import steel_curves as curves
from shrinksim.shop.steel import steel
from shrinksim.strain import solve_strain
from shrinksim.views.elevation.loading import load_of
from shrinksim.views.elevation.record import Case
from shrinksim.views.load_schedule import schedule_of
from shrinksim.views.reading import case_from
from shrinksim.views.result import Result

PSI = 6894.757293
HOUR = 3600.0
ACTIVATION = 38900.0
"""K, activation energy of creep over the gas constant."""

BRANCH = 15000.0
"""psi, where the law for small stresses ends."""

YIELD = 248e6
"""Pa, least yield point of A36, for which the law was found."""

TEMPERATURES = (500, 550, 600, 650, 700)
STRESSES = (20, 50, 100, 150)
HOLDS = (10, 30, 60, 120)
BAR = {"section": "plate", "width": "100 mm", "thickness": "6 mm"}
VEE = {"kind": "vee", "angle": "45 deg", "depth_ratio": 0.75, "open": "top"}
HOT = 400.0
"""degC from which creep is summed up."""


def first_part(stress: float) -> float:
    """The law's strain e0 that measures primary creep; stress in Pa."""
    return 1.7e-10 * (stress / PSI) ** 1.75


def rate_factor(stress: float) -> float:
    """Zener-Hollomon factor Z, 1/h; stress in Pa."""
    psi = stress / PSI
    return 0.026 * psi**4.7 if psi <= BRANCH else 1.23e16 * float(np.exp(3e-4 * psi))


def creep(stress: float, T: float, hold: float) -> float:
    """Creep strain after ``hold`` s at stress (Pa) and T degC."""
    e0 = first_part(stress)
    theta = hold / HOUR * np.exp(-ACTIVATION / (T + 273.15))
    return e0 / np.log(2.0) * _arccosh_of_power(rate_factor(stress) * theta / e0)


def creep_rate(stress: float, T: float, crept: float) -> float:
    """d creep / dt (1/s) by strain hardening: the law's rate at the strain reached.

    With y = ln 2 creep / e0 the law is cosh y = 2^(Z theta / e0), so that d creep /
    d theta = Z / tanh y.  It is infinite at no strain: 1e-7 is the least taken here.
    """
    y = np.log(2.0) * max(crept, 1e-7) / first_part(stress)
    rate = rate_factor(stress) * np.exp(-ACTIVATION / (T + 273.15)) / HOUR
    return float(rate / np.tanh(y))


def _arccosh_of_power(x: float) -> float:
    """arccosh(2^x) without overflow, exact for small x too."""
    if x > 40.0:
        return (x + 1.0) * np.log(2.0)
    over = np.expm1(x * np.log(2.0))
    return float(np.log1p(over + np.sqrt(over * (over + 2.0))))


def contained(stress: float, T: float) -> float | None:
    """Plastic strain of the EN 1993-1-2 curve of A36 at a stress; None above the curve."""
    limit, plateau = YIELD * curves.k_p(T), YIELD * curves.k_y(T)
    if stress <= limit:
        return 0.0
    if stress >= plateau:
        return None
    p = np.linspace(0.0, 0.021, 20001)
    E = curves.MODULUS * curves.k_E(T)
    return float(np.interp(stress, curves.ellipse(p, plateau, limit, E), p))


def as_curve(stress: float, T: float) -> float | None:
    """Hold (s) after which creep is as much as the curve's plastic strain; None if none."""
    goal = contained(stress, T)
    if not goal:
        return None
    low, high = -3.0, 7.0  # powers of ten
    for _ in range(50):
        middle = 0.5 * (low + high)
        if creep(stress, T, 10.0**middle) < goal:
            low = middle
        else:
            high = middle
    return 10.0**low


def relaxed(stress: float, T: float, hold: float) -> float:
    """Stress left (Pa) in a bar whose length is held: elastic strain turns into creep."""
    E = float(curves.MODULUS * curves.k_E(T))

    def rate(_: float, s: np.ndarray) -> list[float]:
        now = max(float(s[0]), 1e3)
        return [-E * creep_rate(now, T, (stress - now) / E)]

    out = solve_ivp(rate, (0.0, hold), [stress], method="LSODA", rtol=1e-8, atol=1.0)
    return float(out.y[0, -1])


def holds() -> list[dict[str, Any]]:
    """Creep strain beside what the EN curve holds, at every temperature and stress."""
    return [
        {
            "C": T,
            "MPa": s,
            "creep": {str(t): float(creep(s * 1e6, T, t)) for t in HOLDS},
            "curve": contained(s * 1e6, T),
            "as_curve_s": as_curve(s * 1e6, T),
        }
        for T in TEMPERATURES
        for s in STRESSES
    ]


def relaxations() -> list[dict[str, Any]]:
    """Stress left of the proportional limit and of the level of the curve, held."""
    rows = []
    for T in TEMPERATURES:
        for name, k in (("limit", curves.k_p), ("level", curves.k_y)):
            s = float(YIELD * k(T))
            left = {str(t): relaxed(s, T, t) / s for t in HOLDS}
            rows.append({"C": T, "from": name, "MPa": s / 1e6, "left": left})
    return rows


def heated(ratio: float) -> Result:
    """The bar with a vee under a weight, hottest steel led to 640 degC."""
    load = {"kind": "weight", "moment": f"{ratio} Mp"} if ratio else {"kind": "none"}
    tables = {
        "title": "creep estimate",
        "member": BAR,
        "steel": {"grade": "A36"},
        "torch": {"flame": "heating tip, small", "target": "640 degC"},
        "load": load,
        "heat": [{"pattern": [VEE]}],
    }
    case = case_from(tables, "creep estimate", Path())
    assert isinstance(case, Case)
    return run_once(case)


def stresses(made: Result) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Times (s,), temperature degC and von Mises stress Pa (s, e, q) of a run's steel.

    The strain march is gone through once more, to keep its stresses.
    """
    case, body = made.case, made.body
    ambient = case.surroundings.ambient
    plan = schedule_of(made.heat, ambient, case.numerics.temperature_step)
    hold = load_of(case, made.geometry, made.held.ends, body)
    every = tuple(range(1, len(plan.times)))
    out = solve_strain(body, plan, hold, snapshots=every)
    kept = np.array([np.zeros_like(out.stress)] + [out.snapshots[k] for k in every])
    xx, yy, xy = np.moveaxis(kept, -1, 0)
    mises = np.sqrt(xx**2 + yy**2 - xx * yy + 3.0 * xy**2)
    return plan.times, plan.temperature[:, body.triangles] @ body.N.T, mises


STEP = 0.25
"""s, of the sum of creep."""


def crept(times: FloatArray, T: FloatArray, mises: FloatArray) -> FloatArray:
    """Creep strain (e, q) that the law gives at the stresses of the run.

    Stress and temperature change straight between the knots; strain hardening: in each
    step the law goes on from where its curve for the step's stress has the strain so
    far.  A sum of sizes: creep of the two ways, pressed and pulled, is not set off.
    """
    total = np.zeros(T.shape[1:])
    hot = np.flatnonzero(T.max(axis=(1, 2)) > HOT)
    for now in (
        np.arange(float(times[hot[0] - 1]), float(times[hot[-1]]), STEP) + STEP / 2
    ):
        k = int(np.searchsorted(times, now)) - 1
        part = (now - times[k]) / max(times[k + 1] - times[k], 1e-12)
        heat = T[k] + part * (T[k + 1] - T[k])
        stress = np.maximum(mises[k] + part * (mises[k + 1] - mises[k]), 1e5)
        total = np.where(heat > HOT, goes_on(stress, heat, total), total)
    return total


def goes_on(stress: FloatArray, T: FloatArray, before: FloatArray) -> FloatArray:
    """Creep strain a step later, any shape."""
    psi = stress / PSI
    Z = np.where(psi <= BRANCH, 0.026 * psi**4.7, 1.23e16 * np.exp(3e-4 * psi))
    e0, ln2 = 1.7e-10 * psi**1.75, np.log(2.0)
    y = ln2 * before / e0
    x = y / ln2 + np.log2(0.5 * (1.0 + np.exp(-2.0 * y)))  # log2 cosh y
    x = x + Z / e0 * np.exp(-ACTIVATION / (T + 273.15)) * STEP / HOUR
    over = np.expm1(np.minimum(x, 40.0) * ln2)
    y = np.log1p(over + np.sqrt(over * (over + 2.0)))
    return e0 / ln2 * np.where(x > 40.0, (x + 1.0) * ln2, y)


def vees() -> list[dict[str, Any]]:
    """Creep by the law beside the plastic strain of the run, by weight."""
    rows = []
    for ratio in (0.0, 0.25, 0.5):
        made = heated(ratio)
        times, T, mises = stresses(made)
        creep_strain, plastic = crept(times, T, mises), made.strain.equivalent_plastic
        peak = T.max(axis=0)
        row: dict[str, Any] = {
            "weight_ratio": ratio,
            "rotation_mrad": made.movement.rotation * 1e3,
            "torch_s": made.heat.heating_time,
            "peak_C": float(peak.max()),
        }
        for name, chosen in (("over 500", peak > 500.0), ("over 600", peak > 600.0)):
            warm = (T > 500.0) & chosen
            row[name] = {
                "creep": float(creep_strain[chosen].mean()),
                "most_creep": float(creep_strain[chosen].max()),
                "plastic": float(plastic[chosen].mean()),
                "stress_over_500_MPa": np.percentile(
                    mises[warm] / 1e6, [10, 50, 90]
                ).tolist(),
            }
        rows.append(row)
    return rows


def show(record: dict[str, Any]) -> None:
    """Print the three tables."""
    print(
        "creep strain, % (10, 30, 60, 120 s)             EN curve's plastic strain, %"
    )
    for r in record["holds"]:
        parts = " ".join(f"{100 * v:9.4f}" for v in r["creep"].values())
        p, t = r["curve"], r["as_curve_s"]
        beside = "above the curve" if p is None else f"{100 * p:8.4f}"
        beside += "" if t is None else f"  reached in {t:.0f} s"
        print(f"{r['C']} degC {r['MPa']:4d} MPa {parts}   {beside}")
    print("held bar: share of the stress left (10, 30, 60, 120 s)")
    for r in record["relaxation"]:
        parts = " ".join(f"{v:6.3f}" for v in r["left"].values())
        print(f"{r['C']} degC from the {r['from']}, {r['MPa']:5.1f} MPa: {parts}")
    for r in record["vees"]:
        print(json.dumps(r, indent=1))


def main() -> int:
    """Compute, print, and write it beside this file."""
    assert abs(steel("A36").yield_stress - YIELD) < 0.01 * YIELD
    record = {
        "problem": "creep estimate",
        "shrinksim": __version__,
        "python": platform.python_version(),
        "numpy": np.__version__,
        "machine": platform.machine(),
        "holds": holds(),
        "relaxation": relaxations(),
        "vees": vees(),
    }
    show(record)
    name = Path(__file__).parent / "results" / f"creep_{platform.machine()}.json"
    name.write_text(json.dumps(record, indent=1), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
