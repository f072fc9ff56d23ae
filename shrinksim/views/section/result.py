"""What a run of the section view gives."""

from shrinksim.views.result import Result
from shrinksim.views.section.geometry import Cut
from shrinksim.views.section.movement import SectionMovement
from shrinksim.views.section.record import SectionCase

SectionResult = Result[SectionCase, Cut, SectionMovement]
