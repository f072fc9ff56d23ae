"""What a run of the elevation view gives."""

from shrinksim.movement import Movement
from shrinksim.views.elevation.geometry import Workpiece
from shrinksim.views.elevation.record import Case
from shrinksim.views.result import Result

ElevationResult = Result[Case, Workpiece, Movement]
