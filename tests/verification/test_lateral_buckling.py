"""Sideways buckling of a member on edge: tables of sections, and the equations solved.

It and Iw: EN 10365 type tables (IPE, HEA, HEB) and AISC Manual table 1-1 (W12x26, J =
0.300 in4, Cw = 607 in6), from memory.  The critical moment: the two equations of S. P.
Timoshenko & J. M. Gere, Theory of Elastic Stability, 2nd ed., ch. 6 (from memory), by
finite differences: E Iz v'''' + M phi'' = 0 and E Iw phi'''' - G It phi'' + M v'' = 0.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.linalg import eig

from shrinksim.member.setup.lateral import (
    critical_moment,
)
from shrinksim.shop.sections.catalogue import catalogue
from shrinksim.shop.sections.plate import Plate

# It cm4, Iw 1000 cm6
TABLE = [
    ("IPE200", 6.98, 12.99),
    ("IPE300", 20.12, 125.9),
    ("IPE500", 89.29, 1249.0),
    ("HEA200", 20.98, 108.0),
    ("HEB200", 59.28, 171.1),
    ("HEB300", 185.0, 1688.0),
]


@pytest.mark.parametrize(("name", "torsion", "warping"), TABLE)
def test_torsion_and_warping_of_the_tables(name, torsion, warping):
    section = catalogue()[name]
    assert section.torsion_constant == pytest.approx(torsion * 1e-8, rel=5e-4)
    assert section.warping_constant == pytest.approx(warping * 1e-9, rel=5e-4)


def test_american_shape():
    section = catalogue()["W12X26"]
    assert section.torsion_constant == pytest.approx(0.300 * 0.0254**4, rel=0.02)
    assert section.warping_constant == pytest.approx(607 * 0.0254**6, rel=0.01)


def test_torsion_of_a_rectangle():
    """Saint-Venant's series, Timoshenko & Goodier, Theory of Elasticity, ch. 10:
    b t3 / 3 (1 - 192 t / pi5 b sum tanh(n pi b / 2 t) / n5), n odd."""
    for b, t in ((0.1, 0.01), (0.1, 0.05), (0.1, 0.1), (0.02, 0.1)):
        thin, wide = sorted((b, t))
        n = np.arange(1, 60, 2)
        terms = np.tanh(n * math.pi * wide / (2 * thin)) / n**5
        series = 1 - 192 * thin / (math.pi**5 * wide) * terms.sum()
        wanted = wide * thin**3 / 3 * series
        assert Plate(b, t).torsion_constant == pytest.approx(wanted, rel=5e-3)


@pytest.mark.parametrize(
    ("section", "span"),
    [
        (catalogue()["IPE300"], 10.0),
        (catalogue()["HEB200"], 4.0),
        (Plate(0.1, 0.01), 6),
    ],
    ids=["IPE300", "HEB200", "plate"],
)
def test_critical_moment_by_finite_differences(section, span):
    E, G = 210e9, 210e9 / 2.6
    n = 120
    h = span / (n + 1)
    second = (np.eye(n, k=1) - 2 * np.eye(n) + np.eye(n, k=-1)) / h**2
    fourth = second @ second  # ends upright and free to turn: v = v'' = 0
    Iz = section.properties.second_moment_weak
    twist = (
        E * section.warping_constant * fourth - G * section.torsion_constant * second
    )
    zero = np.zeros((n, n))
    A = np.block([[E * Iz * fourth, zero], [zero, twist]])
    B = -np.block([[zero, second], [second, zero]])
    moments = 1.0 / np.abs(eig(np.linalg.solve(A, B), right=False)).max()
    got = critical_moment(section, span, E)
    assert got == pytest.approx(moments, rel=3e-4)  # h2 of the differences


def test_no_sideways_buckling_when_no_stiffer_standing():
    assert critical_moment(Plate(0.01, 0.1), 5.0) == math.inf
    assert critical_moment(Plate(0.05, 0.05), 5.0) == math.inf
