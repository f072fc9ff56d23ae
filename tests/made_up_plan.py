"""Plans made up from formulas, for tests of what is written, drawn and logged."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

from shrinksim.arrays import frozen
from shrinksim.member.job.read import Job, job_from
from shrinksim.member.line import SIDES, Bend, offsets
from shrinksim.member.plan.records import Alternative, HeatCard, Plan

NASTY = "<script>alert('$x_1$')</script> & ../Träger 梁"
BEAM: dict[str, Any] = {
    "title": "Drying-shed purlin",
    "member": {"section": "IPE 300", "length": "12 m"},
    "steel": {"grade": "S235"},
    "survey": {
        "block": "50 mm",
        "reading_error": "3 mm",
        "camber_line": "bottom",
        "camber": [["0 m", "50 mm"], ["6 m", "112 mm"], ["12 m", "50 mm"]],
    },
    "tolerance": {"camber": "18 mm"},
    "rig": {"up": "top"},
    "support": [{"at": "1 m"}, {"at": "6 m", "gap": "25 mm"}, {"at": "11 m"}],
    "weight": [{"at": "4 m", "mass": "200 kg"}],
    "jack": [{"at": "8 m", "force": "2 kN"}],
    "cooling": {"kind": "mist", "start_below": "315 degC"},
}
US_BEAM: dict[str, Any] = BEAM | {
    "title": "Barn girder",
    "print_units": "us",
    "member": {"section": "W12X26", "length": "40 ft 6 in"},
    "steel": {"grade": "A36"},
    "survey": {
        "camber": [["0 ft", "0 in"], ["20 ft", "2 1/2 in"], ["40 ft", "1/16 in"]],
        "camber_line": "bottom",
    },
    "tolerance": {"standard": "ASTM A6"},
    "support": [{"at": "3 ft"}, {"at": "37 ft 6 in"}],
    "weight": [],
    "jack": [],
}


def job_of(base: dict[str, Any] | None = None, **changes: Any) -> Job:
    return job_from((base or BEAM) | changes, "test", Path())


def verdict(plane, deviation, allowed, sigma=3e-3):
    inside = deviation <= allowed
    word = "within" if inside else "outside"
    return SimpleNamespace(
        plane=plane, deviation=deviation, sigma=sigma, allowed=allowed, inside=inside,
        source="EN 10034:1993, straightness", text=f"{plane} is {word} the tolerance",
    )  # fmt: skip


def vee_and_strip(side):
    edge = "top" if side in {"top", "right"} else "bottom"
    vee = {"kind": "vee", "angle": "30 deg", "depth_ratio": 0.75, "open": edge}
    strip = {
        "kind": "strip",
        "on": f"flange {edge}",
        "width": "115 mm",
        "pause": "10 s",
    }
    return (vee, strip)


def vees(side):
    edge = "top" if side in {"top", "right"} else "bottom"
    return ({"kind": "vee", "angle": "30 deg", "depth_ratio": 0.75, "open": edge},)


def card(number, at, side, move, line, band, x, drop_at, **changes):
    plane = "camber" if side in SIDES["camber"] else "sweep"
    strong = plane == "camber"
    words = (
        "web vee 30 deg, then a strip across the flange" if strong else "flange vees"
    )
    fields = {
        "number": number, "at": at, "plane": plane, "side": side,
        "patterns": vee_and_strip(side) if strong else vees(side), "words": words,
        "target": 640.0, "cooling": "mist", "moment_ratio": 0.06, "move": move,
        "sigma": 0.4 * move, "peak": 651.0, "heating_time": 372.0,
        "cooling_time": 2400.0, "gas": 9.3e6, "hinge_margin": 4.1, "drop": 5.2e-3,
        "drop_at": drop_at, "line_after": frozen(line), "band_after": frozen(band),
        "cautions": ("Keep the flame off the root.",) * (number == 1),
    } | changes  # fmt: skip
    return HeatCard(**fields)


def made_up_plan(job=None, heats=4, title=None, sweep_heats=0, **changes):
    """Camber taken out by ``heats`` equal heats around the middle, and some sweep."""
    job = job or job_of()
    length = job.member.length
    x = np.linspace(0.0, length, 121)
    kink = max(heats, 1) * 5e-3
    bends = {"camber": [Bend(length / 2, kink, length / 10)]}
    bends |= {"sweep": [Bend(length / 3, -2e-3 * sweep_heats)]} if sweep_heats else {}
    before = {plane: frozen(offsets(b, x, length)) for plane, b in bends.items()}
    now = {plane: np.array(line) for plane, line in before.items()}
    band = {plane: np.full(len(x), 1.5e-3) for plane in before}
    cards = []
    for k in range(heats + sweep_heats):
        flat = k >= heats
        side, plane = ("left", "sweep") if flat else ("top", "camber")
        at = round(length / 3 if flat else length / 2 + 0.6 * ((k % 3) - 1), 3)
        sense, move = (-1.0, 1.8e-3) if flat else (1.0, 4.6e-3)
        now[plane] = now[plane] - offsets([Bend(at, sense * move)], x, length)
        band[plane] = np.hypot(band[plane], 0.4 * move * length / 5)
        ratio = 0.0 if flat else 0.06
        cards.append(
            card(
                k + 1, at, side, move, now[plane], band[plane], x, length / 2,
                moment_ratio=ratio, hinge_margin=None if flat else 4.1,
                drop=0.0 if flat else 5.2e-3,
            )
        )  # fmt: skip
    worst = {plane: float(np.abs(line).max()) for plane, line in before.items()}
    left = {plane: float(np.abs(line).max()) for plane, line in now.items()}
    allowed = {"camber": 0.018, "sweep": 0.018}
    fields = {
        "title": title or job.title, "x": frozen(x), "before": before,
        "band_before": {p: frozen(np.full(len(x), 1.5e-3)) for p in before},
        "after": {p: frozen(v) for p, v in now.items()},
        "band_after": {p: frozen(v) for p, v in band.items()},
        "cards": tuple(cards), "least": max(len(cards) - 1, 0), "most": len(cards) + 3,
        "chance": 0.83,
        "verdict_before": tuple(verdict(p, v, allowed[p]) for p, v in worst.items()),
        "verdict_after": tuple(verdict(p, v, allowed[p]) for p, v in left.items()),
        "stop": ("Stop when the string reads under 18 mm at 6 m.",
                 "Stop when a heat moves it the wrong way."),
        "alternatives": (
            Alternative(
                name="as laid", heats=4.2, least=3, most=7, move_per_heat=4.6e-3,
                hours=5.5, gas=4.1e7, moment_ratio=0.06, hinge_margin=4.1,
                remark="what the cards say",
            ),
            Alternative(
                name="turned over", heats=None, least=None, most=None,
                move_per_heat=-1e-3, hours=None, gas=None, moment_ratio=-0.06,
                hinge_margin=None, remark="its weight opens the vee", possible=False,
            ),
            Alternative(
                name="with a weight hung", heats=2.0, least=2, most=3,
                move_per_heat=8e-3, hours=2.5, gas=2e7, moment_ratio=0.2,
                hinge_margin=1.6, remark="200 kg at 6 m; a crib has to stand under it",
            ),
        ),
        "cautions": ("The member may roll: brace it sideways.",), "estimate": "model",
        "hours": 5.5, "gas": 4.1e7, "seconds": 61.0, "input_hash": "abc123def456",
    } | changes  # fmt: skip
    return Plan(**fields)
