"""Calibration: its file, and the heats that it spreads."""

import math
from dataclasses import replace

import calibration_runs
import numpy as np
import pytest
from calibration_runs import CASES, FILE, PLATES, asked
from scipy.stats import qmc

from shrinksim.calibration.design import case_of, fresh_of, points_of, vee_of
from shrinksim.calibration.file import calibrating_from, load_calibrating
from shrinksim.calibration.formula_use import (
    given_of,
)
from shrinksim.calibration.variables import (
    heat_of,
    strength_of,
    temperature_strain,
)
from shrinksim.errors import CaseError
from shrinksim.views.caution import OPEN_END
from shrinksim.views.elevation.through_thickness import through_thickness
from shrinksim.views.unevenness import THROUGH

# the published scale


@pytest.mark.parametrize(
    ("degF", "of_36", "of_50"),
    [
        (800, 0.00756, 0.00657), (900, 0.00907, 0.00807), (1000, 0.01073, 0.00975),
        (1100, 0.01257, 0.01168), (1150, 0.01360, 0.01278), (1200, 0.01472, 0.01403),
    ],
)  # fmt: skip
def test_temperature_strain_gives_the_published_coefficient(degF, of_36, of_50):
    """0.0147 at 1200 degF: Avent, Mukai & Robinson 2000, from memory.

    The other rows were reckoned apart from this code, from the same curves (Roeder, from
    memory) with E = 29000 ksi in place of 200 GPa.
    """
    celsius = (degF - 32.0) / 1.8
    ksi = 6.894757e6
    assert 2.0 * temperature_strain(celsius, 36 * ksi) == pytest.approx(of_36, rel=2e-3)
    assert 2.0 * temperature_strain(celsius, 50 * ksi) == pytest.approx(of_50, rel=2e-3)


# the design


@pytest.mark.slow
def test_points_are_what_a_shop_would_heat_and_the_view_can_claim():
    design = asked().sets[0]
    points, passed = points_of(design)
    assert len(points) == 60
    assert sum(passed.values()) > 0
    for point in points:
        for name, (low, high) in design.between.items():
            assert low - 1e-9 <= point[name] <= high + 1e-9
        case = case_of(design, point)
        vee = case.heats[0].patterns[0]
        assert 2.0 * vee.depth * math.tan(0.5 * vee.angle) <= OPEN_END + 1e-9
        assert through_thickness(case).number <= THROUGH + 1e-6
        assert case.load.moment_ratio == pytest.approx(point["moment_ratio"])


@pytest.mark.slow
@pytest.mark.parametrize("path", ["plates.toml", "i_sections.toml"])
def test_a_formula_sees_the_heat_that_is_computed(path):
    for design in load_calibrating(CASES / path).sets:
        for point in points_of(design)[0][:6]:
            case, heat = case_of(design, point), heat_of(design.of, point)
            same = replace(
                calibration_runs.heat_of_case(case), of=heat.of, jack=heat.jack,
                mist=heat.mist, flanges=heat.flanges,
            )  # fmt: skip
            for name, value in given_of(heat).items():
                assert given_of(same)[name] == pytest.approx(value, rel=1e-4), name
            assert strength_of(heat) == pytest.approx(point["torch_strength"])
            assert (case.load.kind == "jack") == bool(heat.jack)
            assert (case.heats[0].cooling.kind == "mist") == bool(heat.mist)


@pytest.mark.slow
def test_the_strip_goes_over_the_open_end_of_the_web_vee():
    design = load_calibrating(CASES / "i_sections.toml").sets[0]
    assert design.of == "i sections strong"
    for point in points_of(design)[0][:5]:
        vee, strip = case_of(design, point).heats[0].patterns
        assert (vee.kind, strip.kind, strip.on) == ("vee", "strip", "flange top")
        assert strip.width == pytest.approx(vee_of(design.of, point).opening, rel=1e-4)
        assert strip.torch.power > vee.torch.power


def test_points_fill_the_box_more_evenly_than_chance():
    """Sobol' sets have a lower discrepancy than random ones (Niederreiter 1992)."""
    design = asked(runs=64).sets[0]
    names = ("angle", "depth_ratio", "moment_ratio", "temperature")
    points = points_of(design)[0]
    low, high = np.array([design.between[n] for n in names]).T
    shares = (np.array([[p[n] for n in names] for p in points]) - low) / (high - low)
    chance = np.random.default_rng(1)
    others = [qmc.discrepancy(chance.random(shares.shape)) for _ in range(20)]
    assert qmc.discrepancy(np.clip(shares, 0.0, 1.0)) < min(others)


def test_the_same_seed_gives_the_same_points_and_fresh_ones_are_others():
    design = asked().sets[0]
    points = points_of(design)[0]
    assert points == points_of(design)[0]
    fresh = fresh_of(design)
    assert len(fresh) == 12
    assert all(point not in points for point in fresh)


# the file


def faults(tables):
    with pytest.raises(CaseError) as caught:
        calibrating_from(tables, "c.toml")
    assert all(p.startswith("c.toml: ") for p in caught.value.problems)
    return "\n".join(caught.value.problems)


def test_all_faults_of_a_file_at_once():
    wrong = PLATES | {
        "runs": 5, "seed": "one", "angle": ["20 deg"], "width": ["60 mm", "50 mm"],
        "steel": [], "cooling": ["still air", "misty"], "depht_ratio": [0.5, 1.0],
        "temperature": ["450 mm", "650 degC"], "torch_width": [0.0, 2.0],
        "load": ["jack", "jack"], "section": ["IPE 300"], "numerics": 3,
    }  # fmt: skip
    said = faults({"titel": "x", "set": [wrong]})
    for part in (
        "'titel' is not a key of a calibration; did you mean 'title'?",
        "title is missing",
        "set[0].runs = 5 is not between 20 and 2000",
        "set[0].seed = 'one' is not a whole number",
        "set[0].angle = a list is no range",
        "set[0].width goes from '60 mm' to '50 mm'",
        "set[0].steel = a list is no list of names",
        "'misty', which is not one of still air, mist",
        "'depht_ratio' is not a key of a set of plates; did you mean 'depth_ratio'?",
        "set[0].temperature",
        "set[0].torch_width has to be more than 0",
        "set[0].load has a name twice",
        "'section' is not a key of a set of plates",
        "set[0].numerics = 3 is not a table",
    ):
        assert part in said, part


def test_sets_that_cannot_be_computed_are_refused():
    assert "unknown grade" in faults(
        FILE | {"set": [PLATES | {"steel": ["S234"]}]}
    ).lower() or "S234" in faults(FILE | {"set": [PLATES | {"steel": ["S234"]}]})
    narrow = PLATES | {"torch_strength": [400.0, 500.0]}
    assert "only 0 of 60 points can be heated" in faults(FILE | {"set": [narrow]})
    assert "is there twice" in faults(FILE | {"set": [PLATES, PLATES]})
    assert "is not one of plates" in faults(FILE | {"set": [PLATES | {"of": "plate"}]})
    assert "set is missing" in faults({"title": "x"})
