"""User-defined steel and cooling law in place of those of a case."""

from __future__ import annotations

from typing import Any

from shrinksim.casefile.heating import StillAir
from shrinksim.errors import CaseError
from shrinksim.shop.steel import Steel


def with_own(case: Any, steel: Steel | None, cooling: Any) -> Any:
    """Case with the caller's steel, and with a law for every forced cooling.

    cooling(T, t) -> (q, dq/dT), W/m2 and W/m2K, for temperatures T degC of any shape at
    t s of the run, whose first torch is lit at 0.  Its place, start and end are those of
    the cooling in the case.  Raises CaseError where the case cools in still air only.
    """
    update: dict[str, Any] = {}
    if steel is not None:
        choice = case.steel.model_copy()
        choice._own = steel
        update["steel"] = choice
    if cooling is not None:
        if all(isinstance(heat.cooling, StillAir) for heat in case.heats):
            message = (
                "cooling: the case cools in still air; give a heat a forced cooling, "
                'as {"heat.cooling": {"kind": "mist"}}, whose place, start and end your '
                "law then takes"
            )
            raise CaseError(message)
        heats = [_cooled(heat, cooling) for heat in case.heats]
        update["heats"] = tuple(heats)
    return case.model_copy(update=update)


def _cooled(heat: Any, law: Any) -> Any:
    """Heat with the law in place of that of its forced cooling."""
    if isinstance(heat.cooling, StillAir):
        return heat
    own = heat.cooling.model_copy()
    own._law = law
    return heat.model_copy(update={"cooling": own})


def own_parts(case: Any) -> tuple[str, ...]:
    """User-defined parts of a case: "steel", "cooling"."""
    coolings = [getattr(heat, "cooling", None) for heat in case.heats]
    laws = [getattr(cooling, "_law", None) for cooling in coolings]
    steel = case.steel._own
    found = {
        "steel": steel is not None,
        "cooling": any(law is not None for law in laws),
    }
    return tuple(name for name, own in found.items() if own)
