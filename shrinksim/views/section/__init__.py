"""The section view: a member heated along its length, in its cross-section."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shrinksim.views.section.case_checks import faults
from shrinksim.views.section.record import SectionCase, resolve
from shrinksim.views.view import View

if TYPE_CHECKING:
    from shrinksim.views.preview import Preview
    from shrinksim.views.view import Face, Stages


def _prepare(case: Any) -> Preview:
    from shrinksim.views.section.preview import prepare

    return prepare(case)


def _stages() -> Stages:
    from shrinksim.views.section.stages import STAGES

    return STAGES


def _face() -> Face:
    from shrinksim.views.section.face import FACE

    return FACE


VIEW = View("section", SectionCase, faults, resolve, _prepare, _stages, _face)
