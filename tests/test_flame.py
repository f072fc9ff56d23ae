from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from shrinksim.errors import CaseError
from shrinksim.shop.flame import FUELS, flame_named, flames


def test_names_are_found_however_written():
    assert flame_named("heating tip, medium").name == "heating tip, medium"
    assert flame_named("Heating Tip Medium").name == "heating tip, medium"


def test_unknown_flame_suggests_one():
    with pytest.raises(CaseError, match=r"'rosebud'.*did you mean 'rosebud,"):
        flame_named("rosebud")
    with pytest.raises(CaseError, match="heating tip, small"):
        flame_named("")


@pytest.mark.parametrize("name", flames())
def test_every_flame_is_sensible_and_sourced(name):
    flame = flames()[name]
    assert 3e3 < flame.power < 60e3
    assert 0.2 <= flame.efficiency <= 0.45
    assert 0.008 <= flame.radius <= 0.05
    assert "from memory" in flame.source or "no source" in flame.source
    assert flame.net_power == pytest.approx(flame.efficiency * flame.power)


def test_power_is_flow_times_heating_value():
    flame = flame_named("heating tip, medium")
    assert flame.gas_flow == pytest.approx(11e-3 / 60)
    assert flame.power == pytest.approx(11e-3 / 60 * 54.5e6)
    assert flame_named("rosebud, propane").power == pytest.approx(25e-3 / 60 * 93e6)


def test_gas_for_a_kilowatt_hour():
    """1 ft3/h of acetylene is 0.425 to 0.431 kW; of propane 2500 Btu/ft3, 0.733 kW."""
    litres = 28.316846592
    assert litres / 0.431 < FUELS["acetylene"].litres_per_kwh < litres / 0.420
    assert FUELS["propane"].litres_per_kwh == pytest.approx(litres / 0.733, rel=5e-3)


def test_radius_holds_95_percent():
    R = flame_named("heating tip, small").radius
    part = quad(
        lambda r: 3 / (math.pi * R**2) * math.exp(-3 * r**2 / R**2) * 2 * math.pi * r,
        0,
        R,
    )
    assert part[0] == pytest.approx(0.95, abs=1e-3)


def test_a_longer_tip_burns_more():
    tips = [
        flame_named(f"heating tip, {size}") for size in ("small", "medium", "large")
    ]
    assert tips[0].power < tips[1].power < tips[2].power
    assert tips[0].radius < tips[1].radius < tips[2].radius
