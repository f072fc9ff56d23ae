"""The beam line: laws that any loads and supports must keep."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shrinksim.errors import CaseError
from shrinksim.member.line import Bend, offsets
from shrinksim.member.setup import beam, contact
from shrinksim.member.setup.beam import Beam, BeamLoad, BeamSupport, solve_beam

EI = 210e9 * 8356e-8
WEIGHT = 414.306


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


@st.composite
def setups(draw: st.DrawFn, pushes: tuple[str, ...] = ("up", "both")) -> dict:
    """A member of 2 to 20 m, from a flat bar to a girder, that cannot tip."""
    length = draw(numbers(2.0, 20.0))
    count = draw(st.integers(2, 7))
    places = draw(
        st.lists(st.integers(0, 200), min_size=count, max_size=count, unique=True)
    )
    places = sorted({0, 200, *places[2:]})  # ends are supported: it cannot tip
    rests = []
    for place in places:
        end = place in {0, 200}
        rests.append(
            BeamSupport(
                place / 200 * length,
                0.0 if end else draw(numbers(-0.05, 0.05)),
                draw(st.sampled_from([None, None, 1e5, 3e6])),
                draw(st.sampled_from(pushes)),
            )
        )
    loads = []
    for _ in range(draw(st.integers(0, 4))):
        spread = draw(st.sampled_from([0.0, 0.0, 1e-6, 0.02, 0.3, 1.0]))
        at = draw(numbers(0.5 * spread, length - 0.5 * spread))
        loads.append(BeamLoad(at, draw(numbers(0.0, 2e4)), spread))
    bends = [
        Bend(draw(numbers(0.2, 0.8)) * length, draw(numbers(-0.05, 0.05)), spread)
        for spread in draw(st.lists(st.sampled_from([0.0, 0.3]), max_size=3))
    ]
    return {
        "length": length,
        "rigidity": draw(st.sampled_from([2e3, 1e6, EI, 1e9])),
        "rests": tuple(rests),
        "weight": draw(numbers(10.0, 2e3)),
        "loads": tuple(loads),
        "bends": tuple(bends),
    }


def size(line: Beam) -> tuple[float, float]:
    """Force N and height m that a beam's numbers are measured by."""
    total, _ = beam.resultant(line)
    soft = line.length**3 / line.rigidity
    height = max(total * soft / 48, 0.05)
    return max(total, height / soft), height


@given(setups())
@settings(max_examples=150, deadline=None)
def test_reactions_balance_the_loads(setup):
    line = solve_beam(**setup)
    total, turning = beam.resultant(line)
    force, _ = size(line)
    places = np.array([rest.at for rest in line.rests])
    assert abs(line.reactions.sum() - total) <= 1e-9 * force
    assert abs(line.reactions @ places - turning) <= 1e-9 * force * line.length


@given(setups())
@settings(max_examples=150, deadline=None)
def test_a_support_pushes_or_is_clear(setup):
    line = solve_beam(**setup)
    force, height = size(line)
    places = np.array([rest.at for rest in line.rests])
    tops = np.array([rest.level for rest in line.rests])
    give = np.array([1.0 / r.stiffness if r.stiffness else 0.0 for r in line.rests])
    gap = beam.height(line, places) - (tops - give * line.reactions)
    force = max(force, float(np.abs(line.reactions).max()))  # prying adds to the loads
    pulls = np.array([rest.pushes == "both" for rest in line.rests])
    assert np.all(np.abs(gap[pulls]) <= 1e-9 * height)
    assert np.all(gap >= -1e-9 * height)
    assert np.all(line.reactions[~pulls] >= -1e-9 * force)
    assert np.all(np.abs(gap * line.reactions)[~pulls] <= 1e-9 * force * height)
    assert line.clearance == pytest.approx(np.maximum(gap, 0.0), abs=1e-9 * height)
    assert np.array_equal(line.touching, line.clearance == 0.0)


@given(setups())
@settings(max_examples=100, deadline=None)
def test_moment_and_shear_by_plain_statics(setup):
    """Forces left of the section, summed by hand; shear is the slope of the moment."""
    line = solve_beam(**setup)
    x = np.linspace(0.0, line.length, 37)
    M, V = np.zeros_like(x), np.zeros_like(x)
    for rest, up in zip(line.rests, line.reactions, strict=True):
        left = rest.at <= x
        M += np.where(left, up * (x - rest.at), 0.0)
        V += np.where(left, up, 0.0)
    for load in line.loads:
        start = load.at - 0.5 * load.spread
        if load.spread > 0.0:
            reach = np.clip(x - start, 0.0, load.spread)
            down = load.force / load.spread * reach
            M -= down * (x - start - 0.5 * reach)
        else:
            down = np.where(load.at <= x, load.force, 0.0)
            M -= down * (x - load.at)
        V -= down
    M -= 0.5 * line.weight * x**2
    V -= line.weight * x
    force, _ = size(line)
    assert beam.moment(line, x) == pytest.approx(M, abs=1e-9 * force * line.length)
    inside = x < line.length  # at the far end: just before the support there
    assert beam.shear(line, x)[inside] == pytest.approx(V[inside], abs=1e-9 * force)


@given(setups())
@settings(max_examples=60, deadline=None)
def test_line_is_the_moment_integrated_twice(setup):
    """Bow from the moments by Simpson's rule, exact for their cubic pieces."""
    line = solve_beam(**setup)
    knots = beam.breakpoints(line)
    knots = np.unique(np.concatenate([knots, np.linspace(0.0, line.length, 25)]))
    bow = beam.height(line, knots) - offsets(line.bends, knots, line.length)
    for i in (3, len(knots) // 2, len(knots) - 2):
        a, b, c = 0.0, knots[i], line.length

        def share(z: np.ndarray, b: float = b, c: float = c) -> np.ndarray:
            return np.minimum(z, b) * (c - np.maximum(z, b)) / c

        low, high = knots[:-1], knots[1:]
        points, weights = np.polynomial.legendre.leggauss(4)
        z = 0.5 * (low + high)[:, None] + 0.5 * (high - low)[:, None] * points
        M = beam.moment(line, z.ravel()).reshape(z.shape)
        mohr = float((M * share(z) @ weights) @ (0.5 * (high - low))) / line.rigidity
        chord = bow[0] + (bow[-1] - bow[0]) * (b - a) / c
        _, height = size(line)
        assert bow[i] - chord == pytest.approx(-mohr, abs=1e-9 * height)


@given(setups())
@settings(max_examples=80, deadline=None)
def test_mirrored_member_gives_the_mirrored_answer(setup):
    line, length = solve_beam(**setup), setup["length"]
    flipped = setup | {
        name: tuple(replace(thing, at=length - thing.at) for thing in setup[name])
        for name in ("rests", "loads", "bends")
    }
    other = solve_beam(**flipped)
    force, height = size(line)
    x = np.linspace(0.0, length, 21)
    # supports at uneven levels may force far larger reactions than the loads
    close = pytest.approx(line.reactions, rel=1e-12, abs=1e-8 * force)
    assert other.reactions == close
    seen = beam.height(other, length - x)
    assert seen == pytest.approx(beam.height(line, x), abs=1e-8 * height)


@given(setups(), numbers(0.05, 0.95), numbers(10.0, 1e4))
@settings(max_examples=80, deadline=None)
def test_answers_add_up_while_contacts_stay(setup, at, force):
    """Linear between the same contacts: half of a further load does half."""
    answers = []
    for share in (0.0, 0.5, 1.0):
        further = (*setup["loads"], BeamLoad(at * setup["length"], share * force))
        answers.append(solve_beam(**setup | {"loads": further}))
    first, half, whole = answers
    if not np.array_equal(first.touching, whole.touching):
        return
    assert np.array_equal(half.touching, first.touching)
    scale, height = size(whole)
    x = np.linspace(0.0, setup["length"], 21)
    middle = 0.5 * (beam.height(first, x) + beam.height(whole, x))
    assert beam.height(half, x) == pytest.approx(middle, abs=1e-8 * height)
    mean = 0.5 * (first.reactions + whole.reactions)
    assert half.reactions == pytest.approx(mean, abs=1e-8 * scale)


@given(setups(), numbers(0.05, 0.95), numbers(0.05, 0.95))
@settings(max_examples=60, deadline=None)
def test_maxwell_a_load_here_moves_there_as_there_here(setup, a, b):
    """J. C. Maxwell 1864: on supports that hold both ways the bow is reciprocal."""
    rests = tuple(replace(rest, pushes="both") for rest in setup["rests"])
    length = setup["length"]
    moved = []
    for here, there in ((a, b), (b, a)):
        lines = [
            solve_beam(
                length, setup["rigidity"], rests, loads=[BeamLoad(here * length, f)]
            )
            for f in (0.0, 1e3)
        ]
        x = np.array([there * length])
        moved.append(beam.height(lines[1], x)[0] - beam.height(lines[0], x)[0])
    scale = 1e3 * length**3 / setup["rigidity"] / 48 + 0.05
    assert moved[0] == pytest.approx(moved[1], abs=1e-9 * scale)


@given(setups())
@settings(max_examples=60, deadline=None)
def test_greatest_moments_are_not_passed_anywhere(setup):
    line = solve_beam(**setup)
    (at, most), (below, least) = beam.greatest_moments(line)
    M = beam.moment(line, np.linspace(0.0, line.length, 501))
    force, _ = size(line)
    slack = 1e-9 * force * line.length
    assert M.max() <= most + slack
    assert M.min() >= least - slack
    ends = beam.moment(line, np.array([at, below]))
    assert ends == pytest.approx([most, least], abs=slack)


@given(
    st.lists(numbers(-1.0, 1.0), min_size=12, max_size=12),
    st.sampled_from([1e-6, 1e-3, 0.1]),
    st.booleans(),
)
@settings(max_examples=150, deadline=None)
def test_many_supports_of_any_height_settle(levels, size_of_steps, equal):
    """Also with ties and with symmetry, where contacts change without a force."""
    steps = [round(level) if equal else level for level in levels]
    rests = [BeamSupport(i * 12.0 / 11, size_of_steps * s) for i, s in enumerate(steps)]
    line = solve_beam(12.0, EI, rests, weight=WEIGHT)
    assert line.reactions.sum() == pytest.approx(12.0 * WEIGHT, rel=1e-9)
    assert line.reactions.min() >= -1e-9 * 12.0 * WEIGHT


def test_balanced_on_the_middle_one():
    """A member bent down over three supports rocks on the middle one, which has all."""
    rests = [BeamSupport(0.0), BeamSupport(3.0), BeamSupport(6.0)]
    line = solve_beam(6.0, EI, rests, weight=WEIGHT, bends=[Bend(3.0, -0.02)])
    assert line.reactions == pytest.approx([0.0, 6 * WEIGHT, 0.0], abs=1e-9 * WEIGHT)
    assert line.clearance.max() > 0.0


def test_nearly_coincident_supports_still_balance():
    rests = [BeamSupport(0.0), BeamSupport(6.0), BeamSupport(6.0011), BeamSupport(12.0)]
    line = solve_beam(12.0, EI, rests, weight=WEIGHT)
    places = np.array([rest.at for rest in rests])
    assert line.reactions.sum() == pytest.approx(12 * WEIGHT, rel=1e-9)
    assert line.reactions @ places == pytest.approx(72 * WEIGHT, rel=1e-9)


def test_a_weight_spread_to_nothing_is_a_point():
    lines = [
        solve_beam(
            6.0,
            EI,
            [BeamSupport(0.0), BeamSupport(6.0)],
            loads=[BeamLoad(2.0, 1e3, spread)],
        )
        for spread in (0.0, 1e-4)
    ]
    x = np.linspace(0.0, 6.0, 13)
    at_once, spread = (beam.height(line, x) for line in lines)
    assert spread == pytest.approx(at_once, rel=1e-6, abs=1e-12)


def test_spring_gives_by_force_over_stiffness():
    rests = [BeamSupport(0.0, 0.0, 2e5), BeamSupport(6.0, 0.0, 1e5)]
    line = solve_beam(6.0, EI, rests, weight=WEIGHT)
    ends = beam.height(line, np.array([0.0, 6.0]))
    assert ends == pytest.approx([-3 * WEIGHT / 2e5, -3 * WEIGHT / 1e5], rel=1e-9)


def test_a_stop_above_pushes_down():
    """A stop 1 mm over the middle of a member that a hidden jack lifts: the jack wins."""
    rests = [BeamSupport(0.0), BeamSupport(6.0), BeamSupport(3.0, 1e-3, None, "down")]
    lifted = solve_beam(
        6.0, EI, rests, weight=WEIGHT, bends=[Bend(3.0, 2.0 * 2e-3 / 3.0)]
    )
    sag = 5 * WEIGHT * 6.0**4 / (384 * EI)
    force = 48 * EI / 6.0**3 * (2e-3 - sag - 1e-3)  # bent 2 mm up, may rise 1 mm
    assert lifted.reactions[2] == pytest.approx(-force, rel=1e-9)
    assert beam.height(lifted, np.array([3.0]))[0] == pytest.approx(1e-3, rel=1e-9)


def test_what_cannot_lie_is_told():
    with pytest.raises(
        CaseError, match=r"tips: its loads act at 3 m.* from 0 mm to 2 m"
    ):
        solve_beam(6.0, EI, [BeamSupport(0.0), BeamSupport(2.0)], weight=WEIGHT)
    with pytest.raises(CaseError, match="lifted off its supports"):
        solve_beam(
            6.0, EI, [BeamSupport(0.0), BeamSupport(6.0)], loads=[BeamLoad(3.0, -1e3)]
        )
    with pytest.raises(CaseError, match="fewer than two supports"):
        solve_beam(6.0, EI, [BeamSupport(3.0)], weight=WEIGHT)
    rests = [BeamSupport(0.0), BeamSupport(7.0), BeamSupport(7.0)]
    with pytest.raises(CaseError) as told:
        solve_beam(6.0, EI, rests, loads=[BeamLoad(5.9, 1e3, 0.5)], units="us")
    assert len(told.value.problems) == 4
    assert "19 ft" in str(told.value)


def test_held_down_it_does_not_tip():
    """Lever: the far support pulls with W (L/2 - b) / b."""
    rests = [BeamSupport(0.0, pushes="both"), BeamSupport(2.0)]
    line = solve_beam(6.0, EI, rests, weight=WEIGHT)
    W = 6 * WEIGHT
    assert line.reactions == pytest.approx([-0.5 * W, 1.5 * W], rel=1e-9)


def test_a_solve_settles_in_a_few_changes_of_contact(monkeypatch):
    """Each change costs a solution of a small system; there are at most 1080."""
    solved = []

    def counted(problem, held, balance=contact._balance):
        solved.append(tuple(held))
        return balance(problem, held)

    monkeypatch.setattr(contact, "_balance", counted)
    rests = [BeamSupport(at, -1e-4 * at) for at in np.linspace(0.0, 12.0, 7)]
    loads = [BeamLoad(at, 1e3, 0.2) for at in (2.0, 5.0, 9.0)]
    bends = [Bend(at, 5e-3) for at in (3.0, 6.0, 8.0)]
    solve_beam(12.0, EI, rests, weight=WEIGHT, loads=loads, bends=bends)
    assert 1 < len(solved) <= 3 * len(rests)
    assert len(set(solved)) == len(solved)
