"""The elevation view: a member heated in its plane, seen from the side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shrinksim.views.elevation.case_checks import faults
from shrinksim.views.elevation.record import Case, resolve
from shrinksim.views.view import View

if TYPE_CHECKING:
    from shrinksim.views.view import Face, Stages


def _stages() -> Stages:
    from shrinksim.views.elevation.stages import STAGES

    return STAGES


def _face() -> Face:
    from shrinksim.views.elevation.face import FACE

    return FACE


VIEW = View("elevation", Case, faults, resolve, _stages, _face)
