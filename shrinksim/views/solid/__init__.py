"""The solid view: a flat bar or plate with its real thickness, heated on its faces."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shrinksim.views.solid.case_checks import faults
from shrinksim.views.solid.record import SolidCase, resolve
from shrinksim.views.view import View

if TYPE_CHECKING:
    from shrinksim.views.preview import Preview
    from shrinksim.views.view import Face, Stages


def _prepare(case: Any) -> Preview:
    from shrinksim.views.solid.preview import prepare

    return prepare(case)


def _stages() -> Stages:
    from shrinksim.views.solid.stages import STAGES

    return STAGES


def _face() -> Face:
    from shrinksim.views.solid.face import FACE

    return FACE


VIEW = View("solid", SolidCase, faults, resolve, _prepare, _stages, _face)
