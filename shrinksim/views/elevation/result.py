"""What a run of the elevation view gives."""

from shrinksim.case.schema import Case
from shrinksim.movement import Movement
from shrinksim.views.elevation.geometry import Workpiece
from shrinksim.views.result import Result

ElevationResult = Result[Case, Workpiece, Movement]
