"""Runs made up for calibrations: turns by a known formula, with a little noise."""

import functools
import hashlib
import math
import tempfile
from pathlib import Path

import shrinksim
from shrinksim.calibration.calibrate import calibrations
from shrinksim.calibration.file import calibrating_from
from shrinksim.calibration.variables import VeeHeat, scale_of
from shrinksim.errors import NotConverged

FREE, HELP, DEEP = 0.4, 2.2, -0.5
"""Coefficients of 1, m and m w that the made-up turns have."""

NOISE = 0.03
"""mrad; made from the case itself, so that it is the same every time."""


def noise(text):
    """A number from about -1.7 to 1.7, of unit variance, that only depends on the text."""
    share = int(hashlib.sha256(text.encode()).hexdigest()[:8], 16) / 16**8
    return math.sqrt(12.0) * (share - 0.5)


def heat_of_case(case):
    vee = case.heats[0].patterns[0]
    shape = case.member.shape
    plate = case.member.section == "plate"
    strong = case.member.bending == "strong"
    thickness = (
        shape.thickness if plate
        else shape.web_thickness if strong else shape.flange_thickness
    )  # fmt: skip
    torch = vee.torch
    return VeeHeat(
        "plates", vee.angle, vee.depth / case.member.view_depth,
        case.member.view_depth, thickness, torch.target, case.load.moment_ratio or 0.0,
        torch.radius, torch.power * torch.efficiency * torch.torches,
        355e6 if case.steel.grade == "S355" else 235e6,
    )  # fmt: skip


def made_up(case):
    """A summary; steep vees under much moment fold, or do not come to an end."""
    heat = heat_of_case(case)
    m = heat.moment_ratio
    if m > 0.47:
        return {"outcome": "hot hinge", "rotation_mrad": 150.0}
    if m < -0.23:
        message = "the torch cannot reach its target"
        raise NotConverged(message)
    w = math.log(heat.depth_ratio * heat.depth / heat.radius / 8.0)
    turn = scale_of(heat) * (FREE + HELP * m + DEEP * m * w)
    turn += NOISE * noise(f"{heat.angle:.6f} {heat.depth:.6f} {heat.radius:.6f} {m}")
    return {
        "title": case.title,
        "outcome": "complete",
        "rotation_mrad": turn,
        "shortening_mm": 0.1,
        "refinement": {"rotation_error_mrad": NOISE},
        "hot_hinge_margin": None,
    }


CASES = Path(__file__).parents[1] / "cases" / "calibrations"
DATA = Path(shrinksim.__file__).parent / "calibration" / "data"
DEGREE = math.radians(1.0)

PLATES = {
    "of": "plates",
    "runs": 60,
    "fresh": 12,
    "seed": 3,
    "angle": ["20 deg", "60 deg"],
    "depth_ratio": [0.5, 1.0],
    "width": ["60 mm", "300 mm"],
    "thickness": ["5 mm", "20 mm"],
    "temperature": ["450 degC", "650 degC"],
    "moment_ratio": [-0.25, 0.5],
    "torch_width": [1.4, 3.2],
    "torch_strength": [4.0, 32.0],
    "steel": ["S235", "S355"],
    "cooling": ["still air", "mist"],
    "load": ["weight", "jack"],
}
FILE = {"title": "made up", "remark": "no machine", "set": [PLATES]}


def asked(**more):
    return calibrating_from(FILE | {"set": [PLATES | more]}, "c.toml")


@functools.cache
def made_up_calibration():
    """A calibration of made-up runs with known coefficients."""
    with tempfile.TemporaryDirectory() as store:
        return calibrations(asked(), Path(store), 0, compute=made_up)[0]
