"""What a run of the solid view gives."""

from shrinksim.views.result import Result
from shrinksim.views.solid.geometry import Slab
from shrinksim.views.solid.movement import PlateMovement
from shrinksim.views.solid.record import SolidCase

SolidResult = Result[SolidCase, Slab, PlateMovement]
