"""What the NGSolve peer stands on: mesh, shape functions at points, kept factors."""

from __future__ import annotations

import netgen.meshing as netgen
import ngsolve as ng
import numpy as np
from peer_sparse import PlateProblem

from shrinksim.arrays import FloatArray


def plate(problem: PlateProblem) -> ng.Mesh:
    """The triangles as regions "plate" and "vee", with ends "left" and "right"."""
    made, corners = netgen.Mesh(dim=2), problem.corners
    made.AddPoints(np.column_stack([corners, np.zeros(len(corners))]))
    for region, (name, chosen) in enumerate(
        (("plate", ~problem.heated), ("vee", problem.heated)), start=1
    ):
        made.Add(netgen.FaceDescriptor(bc=region, domin=region, surfnr=region))
        data = np.ascontiguousarray(problem.triangles[chosen], dtype=np.int32)
        made.AddElements(dim=2, index=region, data=data, base=0)
        made.SetMaterial(region, name)
    sides = np.sort(problem.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    once, count = np.unique(sides, axis=0, return_counts=True)
    rim = once[count == 1]
    x = corners[rim, 0]
    left, right = (
        np.isclose(x, end).all(axis=1) for end in (corners.min(0)[0], corners.max(0)[0])
    )
    parts = {"left": left, "right": right, "side": ~(left | right)}
    for number, (name, chosen) in enumerate(parts.items(), start=1):
        data = np.ascontiguousarray(rim[chosen], dtype=np.int32)
        made.AddElements(dim=1, index=number, data=data, base=0)
        made.SetBCName(number - 1, name)
    return ng.Mesh(made)


class Points:
    """Shape functions of a quadratic space at the points of a rule.

    dofs (e, 6); N (q, 6); dN (e, q, 2, 6) per m; area (e, q) m2; places (e, q, 2) m.
    """

    def __init__(self, space: ng.FESpace, rule: ng.IntegrationRule) -> None:
        elements = list(space.mesh.Elements())
        self.dofs = np.array([space.GetDofNrs(e) for e in elements])
        shape = space.GetFE(elements[0])
        at_points = np.array(rule.points)[:, :2]
        self.N = np.array([np.ravel(shape.CalcShape(*p)) for p in at_points])
        slopes = np.array([np.array(shape.CalcDShape(*p)) for p in at_points])
        vertices = np.array([[v.nr for v in e.vertices] for e in elements])
        corner = np.asarray(space.mesh.ngmesh.Coordinates())[vertices, :2]
        legs = corner[:, :2] - corner[:, 2:]
        self.dN = np.einsum("eij,qaj->eqia", np.linalg.inv(legs), slopes)
        size = np.abs(np.linalg.det(legs))
        self.area = size[:, None] * np.array(rule.weights)
        third = 1 - at_points.sum(axis=1)
        self.places = np.column_stack([at_points, third]) @ corner


class Solver:
    """A form's matrix and its factors; the ordering of the first is kept."""

    def __init__(self, form: ng.BilinearForm) -> None:
        self.form, self.inverse = form, None

    def renew(self) -> None:
        """Assemble with the present coefficients and factorise."""
        self.form.Assemble()
        if self.inverse is None:
            free = self.form.space.FreeDofs()
            self.inverse = self.form.mat.Inverse(free, inverse="sparsecholesky")
            self.right = self.form.mat.CreateColVector()
            self.found = self.form.mat.CreateRowVector()
        else:
            self.inverse.Update()

    def solve(self, right: FloatArray) -> FloatArray:
        """The change (n,) or (n, 2) for a miss of the same shape."""
        self.right.FV().NumPy()[:] = right.ravel()
        self.found.data = self.inverse * self.right
        return self.found.FV().NumPy().reshape(right.shape).copy()
