"""Trends that the trade and the literature report, as signs and ratios.

F1: FHWA, Guide for heat-straightening of damaged steel bridge members, ch. 5: the
rotation of a free plate grows with the vee angle and with the heating temperature, and
with the restraining moment (beyond its opening pages from memory).
"""

import functools

import numpy as np
import pytest
from jobs import job

from shrinksim.runs.run import run

pytestmark = pytest.mark.slow


@functools.cache
def rotation(angle: int = 45, target: int = 650, moment: float = 0.0) -> float:
    load = (
        {"kind": "weight", "moment": f"{moment:g} Mp"} if moment else {"kind": "none"}
    )
    case = job(
        vee__angle=f"{angle} deg",
        torch__target=f"{target} degC",
        torch__radius="18 mm",
        numerics__element="9 mm",
        load=load,
    )
    return run(case).movement.rotation


def test_a_free_vee_closes():
    assert rotation() > 0.5e-3


def test_a_wider_vee_moves_more():
    turns = [rotation(angle) for angle in (20, 30, 45, 60)]
    assert np.all(np.diff(turns) > 0.0)


def test_a_hotter_vee_moves_more():
    turns = [rotation(target=target) for target in (400, 520, 650)]
    assert np.all(np.diff(turns) > 0.0)


def test_a_helping_moment_speeds_it_up():
    """Published load factor (from memory): 1.1 / 0.6 = 1.8 at a quarter of Mp."""
    assert 1.3 < rotation(moment=0.25) / rotation() < 6.0
    assert rotation(moment=0.5) > 1.3 * rotation(moment=0.25)


def test_an_opposing_moment_takes_the_movement_back():
    """Common practice, no source: against its weight a piece gains nothing or loses."""
    assert rotation(moment=-0.25) < 0.0


@pytest.mark.parametrize("fade", [1.0, 2.5])
def test_the_patch_is_long_enough(fade):
    """Saint-Venant: other lengths of the patch give the same rotation within 1 %.

    With a torch that travels, so that nothing but the ends (and the mesh) differs.
    """
    own = rotation_of_patch(None)
    extent = 2 * 75.0 * np.tan(np.radians(22.5))
    other = rotation_of_patch(f"{extent + 2 * fade * 100.0:.1f} mm")
    assert other == pytest.approx(own, rel=0.01)


@functools.cache
def rotation_of_patch(patch: str | None) -> float:
    changes = {"member__patch": patch} if patch else {}
    load = {"kind": "weight", "moment": "0.25 Mp"}
    case = job(load=load, torch__drive="travel", torch__speed="5 mm/s", **changes)
    return run(case).movement.rotation
