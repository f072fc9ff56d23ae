"""Heat stage: phases of heating and cooling to a temperature history."""

from shrinksim.heat.history import HeatHistory
from shrinksim.heat.march import solve_heat
from shrinksim.heat.phase import Phase, PhaseName, Source, Stepping
from shrinksim.heat.torch_motion import Timetable

__all__ = [
    "HeatHistory",
    "Phase",
    "PhaseName",
    "Source",
    "Stepping",
    "Timetable",
    "solve_heat",
]
