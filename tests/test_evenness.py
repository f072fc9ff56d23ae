"""How even the steel is through its thickness: the number, and what it stands for."""

from __future__ import annotations

import numpy as np
import pytest
from jobs import job
from section_jobs import cut_job

from shrinksim.fem.basis import locate
from shrinksim.runs.run import run_once
from shrinksim.views.elevation.cautions import before
from shrinksim.views.elevation.through_thickness import through_thickness
from shrinksim.views.unevenness import FACE, MORE, THROUGH, unevenness
from shrinksim.views.workpiece import workpiece

POWER, RADIUS, DEPTH, RISE = 1.5e3, 20e-3, 6e-3, 540.0


def test_number_is_what_a_heated_slab_settles_to():
    """Flux q into one face of a slab, the other insulated (Carslaw & Jaeger, 1959,
    sec. 3.8, from memory): the faces differ by q d / k [1/2 - 4/pi^2 sum over odd n of
    exp(-n^2 pi^2 a t / d^2) / n^2], here long after the start.
    """
    k, a, t = 40.0, 9e-6, 60.0
    q = 3.0 * POWER / (np.pi * RADIUS**2)
    odd = np.arange(1, 200, 2)
    terms = np.exp(-((odd * np.pi / DEPTH) ** 2) * a * t) / odd**2
    gap = q * DEPTH / k * (0.5 - 4.0 / np.pi**2 * terms.sum())
    number = unevenness(POWER, RADIUS, DEPTH, RISE)
    assert number == pytest.approx(gap / RISE, rel=1e-6)


def test_number_is_thickness_over_diffusion_depth_squared():
    """Diffusion depth sqrt(2 a t), t in which the flux alone gives the rise."""
    k, a = 40.0, 9e-6
    q = 3.0 * POWER / (np.pi * RADIUS**2)
    t = k / a * DEPTH * RISE / q
    number = unevenness(POWER, RADIUS, DEPTH, RISE)
    assert number == pytest.approx(DEPTH**2 / (2.0 * a * t))


def test_faces_differ_by_the_number_and_even_steel_bends_alike():
    """6 mm plate, the same heat on one face and shared by both: the difference is 0.8
    to 1 times the number, and under the limit the sweep is the same to 10 %.
    """
    number = unevenness(POWER, RADIUS, DEPTH, RISE)
    assert 0.4 < number < THROUGH
    found = {}
    for faces in (1, 2):
        torch = {
            "power": f"{1.5 / faces} kW",
            "efficiency": 1.0,
            "radius": "20 mm",
            "drive": "travel",
            "speed": "3.5 mm/s",
        }
        case = cut_job(
            member={"section": "plate", "width": "100 mm", "thickness": "6 mm"},
            torch=torch,
            line__at="30 mm",
            line__on=["top", "bottom"][:faces],
            numerics={"element": "2 mm", "heat_tolerance": "6 K"},
        )
        found[faces] = run_once(case)
    one, both = found[1], found[2]
    element, N = locate(one.mesh, np.array([[30e-3, DEPTH], [30e-3, 0.0]]))
    T = one.heat.temperature[:, one.mesh.triangles[element]]
    face, back = np.einsum("ska,ka->ks", T, N)
    assert 0.8 * number < float((face - back).max()) / RISE < number
    ratio = one.movement.sweep / both.movement.sweep
    assert ratio + 0.02 > 1.0
    assert ratio < 1.0 + min(MORE * number**2, 0.1)
    hotter = one.heat.peak.max() - both.heat.peak.max()
    assert hotter == pytest.approx(FACE * number * RISE, rel=0.2)


@pytest.mark.parametrize(("power", "said"), [("4 kW", False), ("20 kW", True)])
def test_the_caution_says_what_to_do(power, said):
    """In degrees, per cent and seconds, over the limit only."""
    case = job(torch__power=power)
    through = through_thickness(case)
    assert (through.number > THROUGH) is said
    texts = [c.text for c in before(case, workpiece(case)) if c.code == "thick"]
    assert bool(texts) is said
    for text in texts:
        assert " K hotter" in text
        assert f"Read the crayon {(8e-3) ** 2 / 9e-6:.0f} s" in text
        assert "heat both faces" in text


@pytest.mark.parametrize(("element", "said"), [(None, False), ("25 mm", True)])
def test_elements_wider_than_the_flame_are_told(element, said):
    case = job() if element is None else job(numerics__element=element)
    radius = case.heats[0].patterns[0].torch.radius
    texts = [c.text for c in before(case, workpiece(case)) if "elements" in c.code]
    assert bool(texts) is said is (workpiece(case).fine > radius)
    for text in texts:
        assert "Elements of 25 mm" in text
        assert "leave numerics.element out" in text


def test_two_torches_see_half_the_thickness():
    one, two = job(), job(torch__torches=2)
    assert through_thickness(one).number == pytest.approx(
        2.0 * through_thickness(two).number
    )
