"""The elevation view: a member heated in its plane, seen from the side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shrinksim.views.elevation.case_checks import faults
from shrinksim.views.elevation.record import Case, resolve
from shrinksim.views.view import View

if TYPE_CHECKING:
    from shrinksim.views.preview import Preview
    from shrinksim.views.view import Face, Stages


def _prepare(case: Any) -> Preview:
    from shrinksim.views.elevation.preview import prepare

    return prepare(case)


def _stages() -> Stages:
    from shrinksim.views.elevation.stages import STAGES

    return STAGES


def _face() -> Face:
    from shrinksim.views.elevation.face import FACE

    return FACE


VIEW = View("elevation", Case, faults, resolve, _prepare, _stages, _face)
