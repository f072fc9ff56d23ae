"""Forced cooling in the phases of a heat, in every view."""

from __future__ import annotations

from shrinksim.casefile.heating import AirJet, ForcedCooling, law_options
from shrinksim.fem.conduction import Law
from shrinksim.shop.cooling import COOLINGS

LONGEST = 48 * 3600.0
"""s, over which any phase ends."""

EDGE = 5e-3
"""Width (m) over which a jet's or a spray's effect ends at the border of its reach."""


def forced_law(cooling: ForcedCooling, ambient: float, begun: float = 0.0) -> Law:
    """The law of a case's forced cooling; water has its own temperature.

    begun : s of the run at which the law is first asked, for a caller's own, whose t is
    that of the run.
    """
    own = cooling._law
    if own is not None:
        return lambda T, t: own(T, begun + t)
    law, options = COOLINGS[cooling.kind].law, law_options(cooling)
    if isinstance(cooling, AirJet):
        return law(ambient, **options)
    return law(cooling.water, **options)


def is_steady(cooling: ForcedCooling) -> bool:
    """Whether its law depends on temperature alone; a caller's own may not."""
    return cooling._law is None
