"""What a run of the elevation view gives."""

from shrinksim.movement import Movement
from shrinksim.views.elevation.record import Case
from shrinksim.views.result import Result
from shrinksim.views.workpiece import Workpiece

ElevationResult = Result[Case, Workpiece, Movement]
