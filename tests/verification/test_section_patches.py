"""Patch tests of the section: uniform states come out exactly on a distorted mesh.

The patch test is R. H. MacNeal & R. L. Harder's, A proposed standard set of problems to
test finite element accuracy, Finite Elements in Analysis and Design 1 (1985) 3-20 (from
memory), its membrane strains here with one along the member.  A free section at a
linear temperature of constant expansion has no stress (B. A. Boley & J. H. Weiner,
Theory of Thermal Stresses, 1960, from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from meshes_strain import mapped
from strain_cases import ALPHA, NU, SY, E, axial, constant_steel, uniform

from shrinksim.arrays import FloatArray
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.section import section_body, section_ties
from shrinksim.fem.structure import support

EXACT = 1e-9


def patch() -> Mesh:
    """0.24 m by 0.12 m, the cells inside pushed askew; sides straight."""

    def where(s: FloatArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
        push = np.sin(np.pi * s) * np.sin(np.pi * t)
        return 0.24 * (s + 0.09 * push - 0.05 * push * t), 0.12 * (t - 0.12 * push * s)

    return mapped(4, 3, where)


def rim(mesh: Mesh) -> np.ndarray:
    return np.unique(np.concatenate([side.ravel() for side in mesh.edges.values()]))


def strained(table, strain: tuple[float, float, float, float], steps: int = 1):
    """The patch with its rim moved by uniform strains xx yy xy, and zz along."""
    xx, yy, xy, zz = strain
    mesh = patch()
    x, y = mesh.points.T
    wanted = np.stack([xx * x + 0.5 * xy * y, yy * y + 0.5 * xy * x], axis=1)
    fixed = np.stack([2 * rim(mesh), 2 * rim(mesh) + 1], axis=1).ravel()
    given = np.zeros(2 * len(x) + 3)
    given[fixed] = wanted.ravel()[fixed]
    given[-3] = zz
    body = section_body(mesh, table)
    free = section_ties(mesh, held=(True, True, True), fixed=fixed)
    hold = support(free, offset=given)
    path = np.full(steps + 1, 20.0)
    out = uniform(body, hold, path, np.linspace(0.0, 1.0, steps + 1))
    return out, wanted


def test_uniform_strain_of_the_membrane_patch():
    """D8: MacNeal & Harder's strains, held along the member."""
    modulus, nu = 1e6, 0.25
    out, wanted = strained(
        constant_steel(modulus, nu, level=1e9), (1e-3, 1e-3, 1e-3, 0.0)
    )
    lame = modulus * nu / ((1 + nu) * (1 - 2 * nu))
    shear = modulus / (2 * (1 + nu))
    sides = 2.0 * lame * 1e-3 + 2.0 * shear * 1e-3
    exact = np.array([sides, sides, shear * 1e-3, 2.0 * lame * 1e-3])
    assert exact == pytest.approx([1600.0, 1600.0, 400.0, 800.0])
    assert out.stress == pytest.approx(np.broadcast_to(exact, out.stress.shape), EXACT)
    assert out.displacement[-1] == pytest.approx(wanted, abs=EXACT * 1e-4)


@pytest.mark.parametrize(
    "strain", [(1e-3, -2e-3, 1.5e-3, 3e-3), (-4e-3, 1e-3, 0.0, -2e-3)]
)
@pytest.mark.parametrize("slope", [0.0, 2e9])
def test_uniform_strain_beyond_yield(strain, slope):
    """D8: radial return of one point in one step, here."""
    xx, yy, xy, zz = strain
    tensor = np.array([[xx, 0.5 * xy, 0.0], [0.5 * xy, yy, 0.0], [0.0, 0.0, zz]])
    G, bulk = 0.5 * E / (1.0 + NU), E / (3.0 * (1.0 - 2.0 * NU))
    mean = np.trace(tensor) / 3.0
    trial = 2.0 * G * (tensor - mean * np.eye(3))
    size = np.sqrt(1.5 * (trial**2).sum())
    grown = (size - SY) / (3.0 * G + slope)
    stress = trial * (1.0 - 3.0 * G * grown / size) + 3.0 * bulk * mean * np.eye(3)
    exact = stress[[0, 1, 0, 2], [0, 1, 1, 2]]
    out, wanted = strained(constant_steel(slope=slope), strain)
    assert grown > 1e-3
    assert out.stress == pytest.approx(
        np.broadcast_to(exact, out.stress.shape), abs=EXACT * SY
    )
    assert out.equivalent_plastic == pytest.approx(grown, rel=EXACT)
    assert out.displacement[-1] == pytest.approx(wanted, abs=EXACT * 1e-3)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_stretch_of_a_section_that_is_free_across(sign):
    """D8: pulled by twice its yield strain it is a uniaxial bar that keeps its volume."""
    mesh = patch()
    body = section_body(mesh, constant_steel())
    free = section_ties(mesh, held=(True, True, True))
    given = np.zeros(len(free.target))
    given[-3] = sign * 2.0 * SY / E
    out = uniform(body, support(free, offset=given), [20.0, 20.0], [0.0, 1.0])
    exact = np.array([0.0, 0.0, 0.0, sign * SY])
    flow = np.array([-0.5, -0.5, 0.0, 1.0]) * sign * SY / E
    shape = out.stress.shape
    assert out.stress == pytest.approx(np.broadcast_to(exact, shape), abs=1e-8 * SY)
    assert out.plastic_strain == pytest.approx(
        np.broadcast_to(flow, shape), abs=1e-8 * SY / E
    )
    across = -sign * (NU + 0.5) * SY / E
    motion = out.displacement[-1] - out.displacement[-1, 0]
    reach = mesh.points - mesh.points[0]
    assert motion == pytest.approx(across * reach, abs=1e-8 * SY / E)


@pytest.mark.parametrize("rise", [(400.0, 0.0, 0.0), (75.0, 500.0, -900.0)])
@pytest.mark.parametrize("moved", [(0.0, 0.0), (-0.12, -0.3)])
def test_free_section_at_a_linear_temperature(rise, moved):
    """D8: no stress; stretch and curvatures are those of the field, anywhere on it."""
    level, across, up = rise
    mesh = patch()
    shifted = Mesh(mesh.points + np.array(moved), mesh.triangles, mesh.region)
    body = section_body(shifted, constant_steel())
    x, y = (shifted.points - body.centre).T
    field = level + across * x + up * y
    hold = support(section_ties(shifted))
    out = uniform(body, hold, [20.0, 21.0], field=field)
    assert np.abs(out.stress).max() < EXACT * SY
    wanted = ALPHA * np.array([level, up, -across])
    assert axial(body, out)[-1] == pytest.approx(wanted, abs=EXACT * ALPHA * 900.0)


def test_section_properties_of_the_patch():
    """Centre, area and second moments are the rectangle's."""
    body = section_body(patch(), constant_steel())
    assert body.centre == pytest.approx([0.12, 0.06], rel=1e-12)
    assert body.area == pytest.approx(0.24 * 0.12, rel=1e-12)
    moments = [0.24 * 0.12**3 / 12.0, 0.12 * 0.24**3 / 12.0]
    assert body.second_moments == pytest.approx(moments, rel=1e-12)


@pytest.mark.parametrize(("which", "share"), [(0, 1.0), (1, 0.9), (2, 0.9)])
def test_forces_along_bend_an_elastic_section_as_a_beam(which, share):
    """e0 = N / EA, curvature = M / EI; a moment is the force on arm times curvature."""
    body = section_body(patch(), constant_steel())
    free = section_ties(body.mesh)
    stiff = E * np.array([body.area, *body.second_moments])
    wanted = np.zeros(3)
    wanted[which] = share * SY / E / [1.0, 0.06, 0.12][which]
    load = np.zeros(len(free.target))
    load[-3:] = stiff * wanted / [1.0, body.arm, body.arm]
    hold = support(free, force=free.reduce(load))
    out = uniform(body, hold, [20.0, 20.0], [0.0, 1.0])
    assert not out.equivalent_plastic.any()
    assert axial(body, out)[-1] == pytest.approx(
        wanted, abs=1e-8 * np.abs(wanted).max()
    )
    assert np.abs(out.stress[..., :3]).max() < 1e-8 * SY
