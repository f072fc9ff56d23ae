from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shrinksim.errors import CaseError
from shrinksim.shop.cooling import (
    COOLINGS,
    air_jet,
    mist,
    spray,
    still_air,
    water_stream,
    wet_rag,
)

WATER = ("mist", "wet rag", "water stream")
T = np.linspace(-50.0, 1500.0, 6201)

LAWS = {
    **{name: kind.law(15.0) for name, kind in COOLINGS.items()},
    "still air, constant h": still_air(20.0, 0.7, 25.0),
    "air jet, strong": air_jet(35.0, 300.0, 0.9, strength=2.0),
    "mist, dense": mist(5.0, 3.0),
    "water stream, heavy": water_stream(80.0, 30.0, strength=0.5),
    "wet rag, dripping": wet_rag(30.0, 5000.0, 500.0),
}


def flux(law, T):
    return law(np.asarray(T, float), 0.0)[0]


@pytest.mark.parametrize("name", LAWS)
def test_slope_is_the_derivative(name):
    law = LAWS[name]
    q, slope = law(T, 0.0)
    h = 1e-3
    difference = (flux(law, T + h) - flux(law, T - h)) / (2 * h)
    np.testing.assert_allclose(slope, difference, rtol=1e-5, atol=2e-3)
    assert q.shape == slope.shape == T.shape


@pytest.mark.parametrize("name", LAWS)
def test_slope_has_no_jump(name):
    law = LAWS[name]
    fine = np.linspace(-50.0, 1500.0, 620_001)
    slope = law(fine, 0.0)[1]
    scale = np.abs(slope).max()
    assert np.abs(np.diff(slope)).max() < 5e-4 * scale


@pytest.mark.parametrize("name", LAWS)
@given(
    at=st.floats(-50.0, 1500.0),
    t=st.floats(0.0, 1e6),
    shape=st.sampled_from([(), (1,), (3, 2), (0,)]),
)
def test_always_finite_in_any_shape(name, at, t, shape):
    q, slope = LAWS[name](np.full(shape, at), t)
    assert np.all(np.isfinite(q))
    assert np.all(np.isfinite(slope))
    assert q.shape == slope.shape == shape


@pytest.mark.parametrize("name", LAWS)
def test_finite_where_an_iteration_may_stray(name):
    q, slope = LAWS[name](np.array([-1e4, -273.15, 3e3, 1e4]), 0.0)
    assert np.all(np.isfinite([q, slope]))


@pytest.mark.parametrize("name", COOLINGS)
def test_heat_flows_from_hot_to_cold(name):
    law = COOLINGS[name].law(15.0)
    q = flux(law, T)
    assert np.all(q[T > 15.0] > 0.0)
    assert np.all(q[T < 15.0] < 0.0)
    assert flux(law, 15.0) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("name", WATER)
def test_boiling_curve_has_a_peak_and_a_minimum(name):
    q, slope = COOLINGS[name].law(15.0)(T, 0.0)
    turns = T[1:][np.diff(np.sign(slope)) != 0]
    turns = turns[(turns > 50.0) & (turns < 1300.0)]
    peak, minimum = turns[:2]
    assert 150.0 <= peak <= 250.0
    assert 300.0 <= minimum <= 700.0
    assert np.interp(peak, T, q) > 2.0 * np.interp(minimum, T, q)


@pytest.mark.parametrize(
    ("Vs", "row"),
    [
        (1, [1805, 1572, 1207, 873, 457, 289, 232, 214]),
        (3, [4943, 4273, 3219, 2258, 1058, 574, 408, 356]),
        (5, [7698, 6660, 5028, 3540, 1682, 930, 672, 591]),
        (10, [12250, 10656, 8153, 5871, 3017, 1854, 1447, 1310]),
    ],
)
def test_spray_formula(Vs, row):
    u = np.array([150.0, 200, 250, 300, 400, 500, 600, 700])
    np.testing.assert_allclose(spray(Vs)(u)[0] / u, row, atol=0.51)


def test_stream_peaks_as_sprays_do():
    assert 1e6 < flux(water_stream(15.0), T[T < 700]).max() < 5e6


def test_mist_film_against_nozaki():
    """1.57 W^0.55 (1 - 0.0075 Tw)/4 kW/m2K (from memory), within the stated factor."""
    nozaki = 1570.0 * (1.0 - 0.0075 * 15.0) / 4.0
    film = flux(mist(15.0), 615.0) / 600.0
    assert 1.0 / COOLINGS["mist"].factor < film / nozaki < COOLINGS["mist"].factor
    assert nozaki / film == pytest.approx(1.5, abs=0.06)


def test_wet_rag_keeps_to_its_ranges():
    law = wet_rag(15.0)
    for at in (100.0, 150.0, 200.0):
        assert 1000.0 < flux(law, at) / (at - 15.0) < 5000.0
    for at in (420.0, 500.0, 700.0, 900.0):
        assert 200.0 < flux(law, at) / (at - 15.0) < 500.0


def test_still_air_convection_against_churchill_and_chu():
    at = np.array([100.0, 200, 300, 400, 500, 600, 650, 700])
    h = flux(still_air(20.0, 0.0), at) / (at - 20.0)
    np.testing.assert_allclose(h, [6.5, 7.7, 8.2, 8.5, 8.7, 8.8, 8.8, 8.9], atol=0.06)


def test_still_air_radiation():
    at = np.array([100.0, 400.0, 700.0])
    h = flux(still_air(20.0, 0.8, 0.0), at) / (at - 20.0)
    np.testing.assert_allclose(h, [6.8, 23.6, 59.3], atol=0.06)


def test_air_jet_range_is_within_its_factor():
    kind = COOLINGS["air jet"]
    middle = flux(air_jet(20.0, emissivity=0.0), 120.0) / 100.0
    assert middle / kind.factor <= 50.0
    assert middle * kind.factor >= 300.0


def test_strength_scales_a_water_law():
    for law in (mist, wet_rag, water_stream):
        np.testing.assert_allclose(
            flux(law(15.0, strength=2.0), T), 2.0 * flux(law(15.0), T)
        )


def test_registry_says_where_values_come_from():
    for name, kind in COOLINGS.items():
        assert 1.0 < kind.factor <= 5.0, name
        assert len(kind.source) > 20
        assert len(kind.note) > 20
        assert kind.medium == ("water" if name in WATER else "air")


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: still_air(20.0, 1.2), "emissivity = 1.2"),
        (lambda: air_jet(20.0, h=-1.0), "h = -1"),
        (lambda: mist(15.0, flux=50.0), "flux = 50"),
        (lambda: water_stream(15.0, flux=float("nan")), "flux = nan"),
        (lambda: wet_rag(15.0, wetted=500.0, film=600.0), "film = 600"),
        (lambda: mist(15.0, strength=0.0), "strength = 0"),
    ],
)
def test_odd_options_are_refused(make, message):
    with pytest.raises(CaseError, match=message):
        make()
