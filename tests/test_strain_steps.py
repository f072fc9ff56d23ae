"""Laws of the strain step: which heat steps it joins, and what a load does."""

import numpy as np
import reference_problem as reference

from shrinksim.strain import knots


def test_joined_steps_keep_peaks() -> None:
    times = np.arange(9.0)
    rise = np.array([20, 30, 40, 50, 55, 50, 40, 30, 20.0])[:, None]
    assert 4 in knots(times, rise, 60.0)


def test_more_load_turns_more() -> None:
    mesh = reference.uniform_mesh(0.040)
    steps = reference.step_ends(20, 30)
    turns = [
        reference.solve(mesh, reference.Case(0.6e6, 100.0, load), steps).rotation
        for load in (0.0, 0.25, 0.5)
    ]
    assert np.all(np.diff(turns) > 0.3e-3)
