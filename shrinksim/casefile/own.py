"""User-defined steel and cooling law in place of those of a case."""

from __future__ import annotations

import hashlib
import pickle
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
        if not isinstance(steel, Steel):
            message = (
                f"steel = {steel!r} is no Steel; make one with steel(grade) or "
                "steel_from_file(path)"
            )
            raise CaseError(message)
        choice = case.steel.model_copy()
        choice._own = steel
        update["steel"] = choice
    if cooling is not None:
        if not callable(cooling):
            message = (
                f"cooling = {cooling!r} is no law; give a function (T, t) -> (q, dq/dT)"
            )
            raise CaseError(message)
        air = StillAir()
        if all(
            isinstance(getattr(heat, "cooling", air), StillAir) for heat in case.heats
        ):
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


def own_steel(case: Any) -> Steel | None:
    """The caller's own steel of a case, None for the one that it names."""
    return case.steel._own


def own_law(case: Any) -> Any:
    """The caller's own cooling law of a case, None for those that it names."""
    coolings = [getattr(heat, "cooling", None) for heat in case.heats]
    laws = [getattr(cooling, "_law", None) for cooling in coolings]
    return next((law for law in laws if law is not None), None)


def own_parts(case: Any) -> tuple[str, ...]:
    """Which parts of a case are the caller's own: "steel", "cooling"."""
    found = {"steel": own_steel(case), "cooling": own_law(case)}
    return tuple(name for name, own in found.items() if own is not None)


def own_mark(case: Any) -> str:
    """Mark of the caller's own parts behind the hash of a case, "" for none.

    The steel's is a hash of its tables; a law has only its name.
    """
    steel, law = own_steel(case), own_law(case)
    mark = ""
    if steel is not None:
        tables = hashlib.sha256(pickle.dumps(steel)).hexdigest()[:8]
        mark += f"+own steel {tables}"
    if law is not None:
        mark += f"+own cooling {getattr(law, '__qualname__', type(law).__name__)}"
    return mark
