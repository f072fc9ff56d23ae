"""The sparse factors against SciPy's, on meshes and on random graphs."""

import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from meshes import annulus, nodes_on, rectangle
from meshes_strain import cook, quarter_with_hole, wedge, wedge_ties
from numba import config
from scipy.linalg import cho_solve_banded, cholesky_banded, eigvalsh
from scipy.sparse import coo_array, csc_array
from scipy.sparse.linalg import spsolve

from shrinksim.errors import NotConverged
from shrinksim.fem import sparse
from shrinksim.fem.band import BandedFactor, band
from shrinksim.fem.basis import quadrature
from shrinksim.fem.ends import plane_ends
from shrinksim.fem.frontal import Fronts, fronts
from shrinksim.fem.sparse import Ties, assembly, factorise, ties


def elastic(mesh):
    """Dofs (e, 12) and plane-stress stiffnesses (e, 12, 12), modulus 1, Poisson 0.3."""
    rule = quadrature(mesh, "interior 3")
    D = np.array([[1, 0.3, 0], [0.3, 1, 0], [0, 0, 0.35]]) / 0.91
    e, q = rule.area.shape
    B = np.zeros((e, q, 3, 12))
    B[:, :, 0, 0::2] = B[:, :, 2, 1::2] = rule.dN[..., 0]
    B[:, :, 1, 1::2] = B[:, :, 2, 0::2] = rule.dN[..., 1]
    K = np.einsum("eq,eqki,kl,eqlj->eij", rule.area, B, D, B)
    dofs = np.stack([2 * mesh.triangles, 2 * mesh.triangles + 1], axis=2)
    return dofs.reshape(e, 12), K


def warm(mesh):
    """Nodes (e, 6) and matrices (e, 6, 6) of a heat step: capacity and conduction."""
    rule = quadrature(mesh, "interior 6")
    K = np.einsum("eq,eqai,eqbi->eab", rule.area, rule.dN, rule.dN)
    size = float(rule.area.sum())
    K += np.einsum("eq,qa,qb->eab", rule.area, rule.N, rule.N) / size
    return mesh.triangles, K


def clamped(mesh, *edges):
    held = nodes_on(mesh, *edges)
    return ties(2 * len(mesh.points), np.concatenate([2 * held, 2 * held + 1]))


def tied(mesh):
    return plane_ends(mesh, 0.04, 0.05).ties


PLATE = rectangle(0.5, 0.1, 30, 6)
HOLE = quarter_with_hole(1.0, 0.3, 16, 12)
WEDGE = wedge(np.linspace(0.0, 1.0, 40), 0.05)
RING = annulus(0.6, 1.0, 6, 40)
TALL = rectangle(0.3, 0.1, 30, 24)
ELASTIC = {
    "clamped plate": (PLATE, clamped(PLATE, "left")),
    "plane ends": (PLATE, tied(PLATE)),
    "plane ends, many nodes on them": (TALL, tied(TALL)),
    "cook": (cook(16), clamped(cook(16), "left")),
    "hole": (HOLE, clamped(HOLE, "right")),
    "wedge, skew ties": (WEDGE, wedge_ties(WEDGE, 0.05)),
    "ring": (RING, clamped(RING, "inner")),
}
WARM = {
    "plate": (PLATE, ties(len(PLATE.points), np.empty(0, np.int64))),
    "ring": (RING, ties(len(RING.points), nodes_on(RING, "outer"))),
}
CASES = [(mesh, hang, elastic) for mesh, hang in ELASTIC.values()]
CASES += [(mesh, hang, warm) for mesh, hang in WARM.values()]
NAMES = [f"elastic {name}" for name in ELASTIC] + [f"heat {name}" for name in WARM]


def by_scipy(dofs, K, hang: Ties) -> csc_array:
    """The tied matrix as T' K T with a sparse T."""
    shape = K.shape
    i = np.broadcast_to(dofs[:, :, None], shape).ravel()
    j = np.broadcast_to(dofs[:, None, :], shape).ravel()
    d = len(hang.target)
    full = coo_array((K.ravel(), (i, j)), shape=(d, d)).tocsc()
    dof, slot = np.nonzero(hang.target >= 0)
    T = coo_array(
        (hang.weight[dof, slot], (dof, hang.target[dof, slot])),
        shape=(d, hang.unknowns),
    ).tocsc()
    tied = T.T @ full @ T
    return (0.5 * (tied + tied.T)).tocsc()


def stored(plan, A):
    """A sparse matrix in the storage of a plan."""
    A = A.tocoo()
    i, j = plan.order[A.row], plan.order[A.col]
    low = i >= j
    out = np.zeros(plan.size)
    out[plan.positions(i[low], j[low])] = A.data[low]
    return out


def plan_of(A, kind=fronts):
    A = A.tocoo()
    row, column = A.row.astype(np.int64), A.col.astype(np.int64)
    extra = () if kind is fronts else (None,)
    return kind(row, column, A.shape[0], *extra)


def lower(plan: Fronts, storage) -> np.ndarray:
    """The factor as a dense matrix."""
    m = len(plan.order)
    out = np.zeros((m, m))
    for b, start in enumerate(plan.panel):
        own = np.arange(plan.first[b], plan.first[b + 1])
        rows = np.append(own, plan.rows[plan.ends[b] : plan.ends[b + 1]])
        block = storage[start : start + len(own) * len(rows)]
        out[np.ix_(rows, own)] = block.reshape(len(own), len(rows)).T
    return np.tril(out)


@pytest.fixture(params=["band", "fronts"])
def kind(request, monkeypatch):
    """Both storages, whatever the size would choose."""
    slow = BandedFactor if request.param == "fronts" else Fronts
    monkeypatch.setattr(slow, "seconds", property(lambda plan: np.inf))
    monkeypatch.setattr(sparse, "SMALL", -1.0)
    monkeypatch.setattr(sparse, "NARROW", -1.0)
    return {"band": BandedFactor, "fronts": Fronts}[request.param]


@pytest.mark.parametrize(("mesh", "hang", "law"), CASES, ids=NAMES)
def test_meshes_against_spsolve(mesh, hang, law, kind):
    dofs, K = law(mesh)
    plan = assembly(dofs, hang, mesh.points[:, 0].repeat(dofs.shape[1] // 6))
    assert isinstance(plan.layout, kind)
    A = by_scipy(dofs, K, hang)
    spring = 0.1 * np.random.default_rng(0).random(hang.unknowns)
    storage = plan.matrix(K)
    plan.add_diagonal(storage, spring)
    A = A + coo_array((spring, (np.arange(len(spring)),) * 2), shape=A.shape)
    solve = factorise(plan, storage)
    for seed in range(2):
        b = np.random.default_rng(seed).standard_normal(hang.unknowns)
        want = spsolve(A.tocsc(), b)
        np.testing.assert_allclose(solve(b), want, atol=1e-9 * np.abs(want).max())


def test_against_cholesky_banded():
    dofs, K = elastic(PLATE)
    A = by_scipy(dofs, K, clamped(PLATE, "left"))
    narrow = plan_of(A, band)
    table = stored(narrow, A).reshape((narrow.half_width + 1, -1), order="F")
    b = np.random.default_rng(1).standard_normal(A.shape[0])
    ordered = np.empty_like(b)
    ordered[narrow.order] = b
    want = cho_solve_banded((cholesky_banded(table, lower=True), True), ordered)
    plan = plan_of(A)
    got = plan.factorise(stored(plan, A))(b)
    np.testing.assert_allclose(got, want[narrow.order], atol=1e-9 * np.abs(want).max())


def test_factor_multiplies_back():
    dofs, K = elastic(cook(5))
    A = by_scipy(dofs, K, clamped(cook(5), "left"))
    plan = plan_of(A)
    storage = stored(plan, A)
    plan.factorise(storage)
    L = lower(plan, storage)
    ordered = np.empty(A.shape)
    ordered[np.ix_(plan.order, plan.order)] = A.toarray()
    np.testing.assert_allclose(L @ L.T, ordered, atol=1e-12 * np.abs(ordered).max())


@pytest.mark.parametrize("shift", [-1e-6, 1e-6])
def test_just_indefinite_raises(kind, shift):
    """Shifted by its smallest eigenvalue (LAPACK's), a little less and a little more."""
    mesh = rectangle(0.2, 0.1, 6, 4)
    dofs, K = elastic(mesh)
    hang = clamped(mesh, "left")
    least = eigvalsh(by_scipy(dofs, K, hang).toarray())[0]
    plan = assembly(dofs, hang)
    assert isinstance(plan.layout, kind)
    storage = plan.matrix(K)
    plan.add_diagonal(storage, np.full(hang.unknowns, -least * (1.0 + shift)))
    if shift < 0.0:
        factorise(plan, storage)
        return
    with pytest.raises(NotConverged, match="not positive definite"):
        factorise(plan, storage)


@pytest.mark.parametrize("at", [0, 57, -1])
def test_a_negative_pivot_anywhere_raises(at, kind):
    dofs, K = warm(PLATE)
    hang = WARM["plate"][1]
    plan = assembly(dofs, hang)
    storage = plan.matrix(K)
    unknown = np.argsort(plan.layout.order)[at]
    storage[plan.diagonal[unknown]] *= -1.0
    with pytest.raises(NotConverged):
        factorise(plan, storage)


@settings(deadline=None, max_examples=60)
@given(
    some.integers(1, 120),
    some.lists(some.tuples(some.integers(0, 119), some.integers(0, 119)), max_size=400),
    some.integers(0, 3),
)
def test_random_graphs(m, pairs, hubs):
    """Graphs in pieces, alone, with loops, with ``hubs`` tied to everything."""
    rng = np.random.default_rng(m + len(pairs))
    pairs = [(i % m, j % m) for i, j in pairs]
    pairs += [(hub % m, j) for hub in range(hubs) for j in range(m)]
    A = np.diag(1.0 + rng.random(m))
    for i, j in pairs:
        v = np.zeros(m)
        v[i] += rng.standard_normal()
        v[j] += rng.standard_normal()
        A += np.outer(v, v)
    A = csc_array(A)
    plan = plan_of(A)
    assert sorted(plan.order) == list(range(m))
    b = rng.standard_normal(m)
    got = plan.factorise(stored(plan, A))(b)
    np.testing.assert_allclose(got, np.linalg.solve(A.toarray(), b), atol=1e-9)


@pytest.mark.parametrize("links", ["half of all", "all", "a star", "a line", "none"])
def test_graphs_without_a_good_cut(links):
    m = 300
    rng = np.random.default_rng(3)
    A = {
        "half of all": np.triu(rng.random((m, m)) < 0.5, 1),
        "all": np.triu(np.ones((m, m)), 1),
        "a star": np.outer(np.arange(m) == 0, np.arange(m) > 0),
        "a line": np.eye(m, k=1),
        "none": np.zeros((m, m)),
    }[links] * -rng.random((m, m))
    A = A + A.T
    A = csc_array(A + np.diag(1.0 - A.sum(axis=1)))
    plan = plan_of(A)
    b = rng.standard_normal(m)
    got = plan.factorise(stored(plan, A))(b)
    np.testing.assert_allclose(got, np.linalg.solve(A.toarray(), b), atol=1e-9)


def test_unknowns_of_a_whole_end_come_last():
    """They do not spoil the order of the rest: work as with that end held."""
    ends = plane_ends(TALL, 0.04, 0.05)
    dofs, _ = elastic(TALL)
    plans = []
    for hang in (ends.ties, clamped(TALL, "left", "right")):
        rows, columns, _, _ = sparse._entries(dofs, hang)
        plans.append(fronts(rows, columns, hang.unknowns))
    last = {int(plans[0].order[ends.stretch]), int(plans[0].order[ends.turn])}
    assert last == {ends.ties.unknowns - 1, ends.ties.unknowns - 2}
    assert plans[0].work < 1.25 * plans[1].work


@pytest.mark.parametrize("n", [63, 127])
def test_fill_of_a_square_grid(n):
    """Nested dissection of the n by n nine-point grid fills 31/4 n^2 log2 n (George,
    SIAM J. Numer. Anal. 10 (1973) 345; from memory); a band would fill n^3.
    """
    at = np.arange(n * n).reshape(n, n)
    cells = [at[a : n - 1 + a, b : n - 1 + b].ravel() for a in (0, 1) for b in (0, 1)]
    cells = np.stack(cells, axis=1)
    rows, columns = np.repeat(cells, 4, axis=1).ravel(), np.tile(cells, 4).ravel()
    plan = fronts(rows, columns, n * n)
    counts, rest = np.diff(plan.first), np.diff(plan.ends)
    filled = int(np.sum(counts * (counts + 1) // 2 + counts * rest))
    assert filled < 31 / 4 * n**2 * np.log2(n)


@pytest.mark.slow
@pytest.mark.skipif(bool(config.DISABLE_JIT), reason="nothing is compiled")
def test_compiled_code_is_kept_between_processes():
    """Routines are at other addresses in every process: kernels must not hold them."""
    code = (
        "import numpy as np; from shrinksim.fem.frontal import fronts;"
        "from shrinksim.fem.kernels.fronts import factor, solve;"
        "i = np.arange(40); p = fronts(i, i, 40);"
        "x = p.factorise(np.full(p.size, 4.0))(np.ones(40));"
        "assert abs(x - 0.25).max() == 0, x;"
        "print(*(sum(k.stats.cache_misses.values()) for k in (factor, solve)))"
    )
    said = [
        subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True, text=True, check=True, env=os.environ,
        ).stdout.split()
        for _ in range(2)
    ]  # fmt: skip
    assert said[1] == ["0", "0"]
