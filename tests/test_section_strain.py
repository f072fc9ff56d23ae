"""Laws of a section in generalised plane strain, whatever the numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from meshes import grid, mirrored
from strain_cases import ALPHA, SY, TIGHT, E, axial, constant_steel, ramp, uniform

from shrinksim.arrays import FloatArray
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.section import SectionBody, section_body, section_ties
from shrinksim.fem.structure import State, Support, support
from shrinksim.shop.steel import steel
from shrinksim.strain import StrainHistory

S235 = steel("S235").strain
STEELS = {
    "isotropic": S235,
    "kinematic": steel("S235", hardening="kinematic").strain,
    "mixed": steel("S355", hardening="mixed").strain,
    "plateau": steel("S235", curve="plateau").strain,
    "linear": constant_steel(slope=2e9),
}
WIDE, DEEP = 0.12, 0.04
CYCLE = ramp(20.0, 620.0, 20.0, step=60.0)


def plate() -> Mesh:
    return grid(np.linspace(0.0, WIDE, 9), np.linspace(0.0, DEEP, 5))


def spot(mesh: Mesh) -> FloatArray:
    """A hot place off both axes, 0 to 1 (n,); the plate may lie anywhere."""
    x, y = mesh.points.T
    return np.exp(-((x - 0.03) ** 2 / 0.02**2 + (y - 0.035) ** 2 / 0.03**2))


def cycled(body: SectionBody, hold: Support, **options) -> StrainHistory:
    """Heated at the spot and cooled."""
    return uniform(body, hold, CYCLE, field=spot(plate()), control=TIGHT, **options)


def resultants(body: SectionBody, stress: FloatArray) -> FloatArray:
    """Force N and moments N m that go with e0, k_strong and k_weak."""
    pull = body.weight * stress[..., 3]
    moments = body.arm * np.einsum("eq,eqk->k", pull, body.arms)
    return np.append(pull.sum(), moments)


def left_by_flow(body: SectionBody, out: StrainHistory) -> FloatArray:
    """e0, k_strong, k_weak of a free body of one modulus, from its plastic strains."""
    flow = body.weight * out.plastic_strain[..., 3]
    bend = body.arm * np.einsum("eq,eqk->k", flow, body.arms)
    cross = body.arm**2 * np.einsum("eq,eqk,eql->kl", body.weight, body.arms, body.arms)
    return np.append(flow.sum() / body.area, np.linalg.solve(cross, bend))


def test_no_heat_and_no_load_move_nothing():
    body = section_body(plate(), S235)
    out = uniform(body, support(section_ties(body.mesh)), [20.0, 20.0, 20.0])
    assert not out.plastic_strain.any()
    assert np.abs(out.section_strain).max() < 1e-18
    assert np.abs(out.stress).max() < 1e-6  # Pa


@pytest.mark.parametrize("name", ["isotropic", "kinematic", "mixed", "plateau"])
def test_what_is_left_follows_from_plastic_strain(name):
    """Unit-load theorem: a stress along z alone, uniform or linear, balances nothing.

    So its work on the elastic strains left is none (virtual work, any text on structures),
    and what moved is the mean and the moment of the flow.
    """
    body = section_body(plate(), STEELS[name])
    out = cycled(body, support(section_ties(body.mesh)))
    moved = axial(body, out)[-1]
    assert np.abs(moved * [1.0, DEEP, WIDE]).min() > 1e-5
    assert left_by_flow(body, out) == pytest.approx(moved, rel=1e-6)
    assert np.abs(out.plastic_strain[..., [0, 1, 3]].sum(axis=-1)).max() < 1e-15
    size = SY * body.area * np.array([1.0, DEEP, WIDE])
    assert np.abs(resultants(body, out.stress) / size).max() < 1e-7
    mean = np.einsum("eq,eqc->c", body.weight, out.stress) / body.area
    assert np.abs(mean).max() < 1e-6 * SY
    assert np.abs(out.stress[..., 3]).max() > 0.5 * SY


def turned(mesh: Mesh, angle: float) -> Mesh:
    c, s = np.cos(angle), np.sin(angle)
    return replace(mesh, points=mesh.points @ np.array([[c, s], [-s, c]]))


@pytest.mark.parametrize("angle", [0.5, 2.0, -1.2])
def test_turned_section_bends_in_the_turned_plane(angle):
    """Slope of the strain (-k_weak, k_strong) is a vector; e0 has no direction."""
    mesh = plate()
    here, there = (section_body(m, S235) for m in (mesh, turned(mesh, angle)))
    first, second = (cycled(b, support(section_ties(b.mesh))) for b in (here, there))
    a, b = axial(here, first)[-1], axial(there, second)[-1]
    c, s = np.cos(angle), np.sin(angle)
    slope = np.array([[c, -s], [s, c]]) @ [-a[2], a[1]]
    wanted = np.array([a[0], slope[1], -slope[0]])
    assert b == pytest.approx(wanted, abs=1e-6 * np.abs(a).max())
    assert second.equivalent_plastic == pytest.approx(
        first.equivalent_plastic, abs=1e-6 * first.equivalent_plastic.max()
    )


def test_mirrored_temperature_bends_the_other_way():
    mesh = plate()
    here, there = (section_body(m, S235) for m in (mesh, mirrored(mesh)))
    first, second = (cycled(b, support(section_ties(b.mesh))) for b in (here, there))
    a, b = axial(here, first), axial(there, second)
    size = np.abs(a).max(axis=0)
    assert np.all(size > 1e-5)
    assert np.all(np.abs(b - a * [1.0, 1.0, -1.0]) < 1e-6 * size)


def loaded(body: SectionBody, load: FloatArray, spring: FloatArray) -> Support:
    """load N, N m, N m; spring N and N m2 on e0, k_strong, k_weak."""
    free = section_ties(body.mesh)
    lever = np.array([1.0, body.arm, body.arm])
    force, stiff = np.zeros((2, free.unknowns))
    force[-3:], stiff[-3:] = load / lever, spring / lever**2
    return support(free, force=force, spring=stiff)


def test_stress_left_carries_what_the_support_exerts():
    """N and both moments, under loads and springs."""
    body = section_body(plate(), S235)
    load = SY * body.area * np.array([0.1, 0.03 * DEEP, -0.02 * WIDE])
    spring = E * np.array([0.2 * body.area, *(0.5 * body.second_moments)])
    hold = loaded(body, load, spring)
    fraction = np.ones(len(CYCLE))
    fraction[0] = 0.0
    out = cycled(body, hold, fraction=fraction)
    exerted = load - spring * axial(body, out)[-1]
    found = resultants(body, out.stress)
    lever = np.array([1.0, body.arm, body.arm])
    assert found == pytest.approx(out.push[-1, -3:] * lever, rel=1e-6)
    assert found == pytest.approx(exerted, rel=1e-6)
    assert np.abs(found / load - 1.0).max() > 0.05  # the springs do take something


def test_held_strains_react_as_a_bar_and_a_beam():
    """Elastic: -E alpha dT A, and -E I alpha times the slope of the temperature."""
    body = section_body(plate(), constant_steel(level=1e12))
    x, y = (body.mesh.points - body.centre).T
    up, across, rise = 300.0, -120.0, 50.0
    free = section_ties(body.mesh, held=(True, True, True))
    out = uniform(body, support(free), [20.0, 21.0], field=rise + up * y + across * x)
    assert not out.section_strain.any()
    stiff = E * np.array([body.area, *body.second_moments])
    wanted = -ALPHA * stiff * np.array([rise, up, -across])
    assert resultants(body, out.stress) == pytest.approx(wanted, rel=1e-8)


@pytest.mark.parametrize("held", [(True, False, False), (False, True, False)])
def test_given_axial_strain_is_kept(held):
    """An offset in place of an unknown: the others stay free of force."""
    body = section_body(plate(), S235)
    free = section_ties(body.mesh, held=held)
    given_strain = np.zeros(len(free.target))
    given_strain[-3:][list(held)] = 2.0 * SY / E
    fraction = np.linspace(0.0, 1.0, 6)
    out = uniform(body, support(free, offset=given_strain), np.full(6, 20.0), fraction)
    at = held.index(True)
    assert out.section_strain[:, at] == pytest.approx(fraction * 2.0 * SY / E)
    found = resultants(body, out.stress) / (
        SY * body.area * np.array([1.0, DEEP, WIDE])
    )
    assert found[at] > 0.1
    assert np.abs(np.delete(found, at)).max() < 1e-6


@pytest.mark.parametrize("which", [0, 1, 2])
def test_spring_shares_with_the_section(which):
    """Elastic: what is left of the free motion is stiff / (stiff + spring)."""
    body = section_body(plate(), constant_steel(level=1e12))
    x, y = (body.mesh.points - body.centre).T
    field = 50.0 + 300.0 * y - 120.0 * x
    stiff = E * np.array([body.area, *body.second_moments])[which]
    free = axial(
        body, uniform(body, support(section_ties(body.mesh)), [20, 21], field=field)
    )
    for share in (0.1, 1.0, 20.0):
        spring = np.zeros(3)
        spring[which] = share * stiff
        hold = loaded(body, np.zeros(3), spring)
        found = axial(body, uniform(body, hold, [20.0, 21.0], field=field))[-1]
        wanted = free[-1].copy()
        wanted[which] /= 1.0 + share
        assert found == pytest.approx(wanted, rel=1e-7)


def test_spring_of_a_heated_section_is_between_free_and_held():
    """What is left after its release goes one way as the spring on k_strong stiffens."""
    body = section_body(plate(), S235)
    fraction = np.ones(len(CYCLE) + 1)
    fraction[[0, -1]] = 0.0
    path = np.append(CYCLE, 20.0)
    sets = []
    for share in (0.0, 0.5, 5.0, 1e4):
        hold = loaded(
            body, np.zeros(3), np.array([0.0, share * E * body.second_moments[0], 0.0])
        )
        out = uniform(body, hold, path, fraction, field=spot(body.mesh))
        sets.append(axial(body, out)[-1, 1])
    held = section_ties(body.mesh, held=(False, True, False))
    kept = uniform(body, support(held), CYCLE, field=spot(body.mesh))
    assert len(set(np.sign(np.diff(sets)))) == 1
    assert abs(sets[-1] / sets[0] - 1.0) > 0.03
    moment = out.push[-2, -2] * body.arm  # of the stiffest spring, before its release
    assert resultants(body, kept.stress)[1] == pytest.approx(moment, rel=1e-3)
    assert left_by_flow(body, out)[1] == pytest.approx(sets[-1], rel=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["isotropic", "plateau", "linear"])
@pytest.mark.parametrize("held", [(False, False, False), (False, True, False)])
def test_bordered_tangent_is_the_slope_of_the_residual(name, held):
    """By central differences about a state that flows; springs included.

    A back stress that fades has no symmetric tangent, so only steels without.
    """
    body = section_body(plate(), STEELS[name])
    free = section_ties(body.mesh, held=held)
    spring = np.zeros(free.unknowns)
    spring[-2:] = 0.3 * E * body.area
    hold = support(free, spring=spring)
    rise = ramp(20.0, 400.0, step=60.0)
    out = uniform(body, hold, rise, field=spot(body.mesh), control=TIGHT)
    old = State(
        out.q[-1], out.plastic_strain, out.equivalent_plastic,
        np.zeros_like(out.plastic_strain), out.stress,
    )  # fmt: skip
    structure = body.structure(hold)
    T = 20.0 + 440.0 * spot(body.mesh)
    residual = structure.evaluator(old, T, 1.0, np.zeros(old.p.shape))
    rng = np.random.default_rng(1)

    def direction() -> FloatArray:
        v = rng.normal(size=free.unknowns)
        v[: -3 + sum(held)] *= 0.1 * DEEP  # displacements, beside strains
        return v

    q = old.q + 2e-3 * direction()
    point = residual(q)
    assert 0.2 < (point.state[1] > old.p).mean() < 0.99
    solve = structure.factorise(point.matrix())
    for _ in range(3):
        v, h = direction(), 1e-9
        up, down = (residual(q + sign * h * v).residual for sign in (1, -1))
        back = solve((down - up) / (2.0 * h))
        assert back == pytest.approx(v, abs=1e-4 * np.abs(v).max())


@pytest.mark.slow
def test_elastic_tangent_is_the_slope_of_an_elastic_residual():
    """At temperatures that soften the steel unevenly."""
    body = section_body(plate(), replace(S235, flow=1e6 * S235.flow))
    hold = loaded(body, np.zeros(3), E * np.array([0.1, 1e-5, 1e-5]))
    structure = body.structure(hold)
    T = 20.0 + 500.0 * spot(body.mesh)
    q = structure.begin.q
    residual = structure.evaluator(structure.begin, T, 1.0, structure.begin.p)
    v = 1e-4 * np.random.default_rng(2).normal(size=len(q))
    moved = residual(q + v).residual - residual(q).residual
    solve = structure.factorise(structure.elastic(T, q, 1.0))
    assert solve(-moved) == pytest.approx(v, abs=1e-8 * np.abs(v).max())
