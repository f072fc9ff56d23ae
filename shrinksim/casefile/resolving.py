"""Resolution of a case: omitted values filled in, and the result written back."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel

from shrinksim.casefile.heating import AnyCooling, StillAir, Torch
from shrinksim.casefile.tables import AnyCase, SteelChoice
from shrinksim.shop.flame import flame_named
from shrinksim.shop.steel import Steel, steel, steel_from_file
from shrinksim.shop.steel_file import Stamp, stamp

REACH = 0.020
"""m, width around the pattern that forced cooling reaches; common practice."""

C = TypeVar("C", bound=BaseModel)
_BURNER = ("power", "efficiency", "radius")


def filled(case: C, folder: Path, pattern_of: Callable[[Any], Any]) -> C:
    """Case of a view with torches, starts and reach filled in.

    pattern_of : function that fills in a pattern from its view and the case's torch.
    """
    tables: Any = case
    heats = tuple(
        type(heat).model_construct(
            patterns=tuple(pattern_of(pattern) for pattern in heat.patterns),
            cooling=_cooling(heat.cooling),
        )
        for heat in tables.heats
    )
    update = {
        "heats": heats,
        "steel": _steel(tables.steel, folder),
        "torch": with_flame(tables.torch),
    }
    return case.model_copy(update=update)


def _steel(choice: SteelChoice, folder: Path) -> SteelChoice:
    """Choice of steel with its curve, and the absolute path of its file."""
    own: dict[str, Any] = {"curve": choice.curve or "ellipse"}
    if choice.file is not None:
        own = {"file": (folder / choice.file).resolve()}
    return choice.model_copy(update=own)


def has_held_torch(heats: Sequence[Any]) -> bool:
    """Whether the schedule of a torch of the heats is found from its target."""
    return any(p.torch.drive != "travel" for heat in heats for p in heat.patterns)


def merged(torch: Torch, own: Torch) -> Torch:
    """``torch`` with the keys of a pattern's ``own`` torch table in their place.

    A pattern that names another flame takes that flame's power, efficiency and radius.
    """
    update: dict[str, Any] = {}
    if "flame" in own.model_fields_set:
        update |= {key: math.nan for key in _BURNER}
    update |= {key: getattr(own, key) for key in own.model_fields_set}
    return with_flame(torch.model_copy(update=update))


def with_flame(torch: Torch) -> Torch:
    """Torch with the values of its flame where it gives none of its own."""
    if not any(math.isnan(getattr(torch, key)) for key in _BURNER):
        return torch
    flame = flame_named(torch.flame)
    update = {
        key: getattr(flame, key) for key in _BURNER if math.isnan(getattr(torch, key))
    }
    return torch.model_copy(update=update)


def steel_of(choice: SteelChoice, folder: Path = Path()) -> Steel:
    """Steel of a choice; a relative file name starts from ``folder``.

    Cached for each choice until its file changes.
    """
    if choice._own is not None:
        return choice._own
    path = None if choice.file is None else folder / choice.file
    return _steel_of(
        path,
        None if path is None else stamp(path),
        choice.grade or "",
        choice.curve,
        yield_stress=choice.yield_stress,
        hardening=choice.hardening,
        kinematic_share=choice.kinematic_share,
        annealing=choice.annealing,
    )


@lru_cache(maxsize=32)
def _steel_of(
    path: Path | None, _stamp: Stamp, grade: str, curve: str | None, **wanted: Any
) -> Steel:
    if path is not None:
        return steel_from_file(path, curve=curve, **wanted)
    return steel(grade, curve=curve or "ellipse", **wanted)


def _cooling(cooling: AnyCooling) -> AnyCooling:
    """Cooling with its start and reach."""
    if isinstance(cooling, StillAir):
        return cooling
    update: dict[str, Any] = {}
    if cooling.start_after is None and cooling.start_below is None:
        update["start_after"] = 0.0
    whole = cooling.everywhere or (cooling.on is not None and cooling.behind is None)
    if cooling.reach is None and not whole:
        update["reach"] = REACH
    return cooling.model_copy(update=update)


def resolved(case: AnyCase) -> dict[str, Any]:
    """Case as tables of a case file, in its own units; they read back as the same case."""
    context = {"units": case.print_units}
    tables = case.model_dump(
        mode="json", by_alias=True, exclude_none=True, context=context
    )
    _drop_unused(tables.get("torch", {}))
    if case.steel.hardening != "mixed":
        del tables["steel"]["kinematic_share"]
    if case.load.kind in {"none", "held"}:
        tables["load"].pop("axial", None)
    for heat in tables["heat"]:
        for pattern in heat.get("pattern", ()):
            pattern.pop("depth_ratio", None)
            _drop_unused(pattern["torch"])
            if pattern["kind"] == "spots along":
                pattern["torch"].pop("speed", None)
    return tables


def _drop_unused(torch: dict[str, Any]) -> None:
    """Drop the keys that a torch with this drive does not have."""
    unused = {"travel": ("target", "patience", "read", "after"), "at once": ("speed",)}
    for key in unused.get(torch.get("drive", ""), ()):
        torch.pop(key, None)


def toml_text(tables: Mapping[str, Any]) -> str:
    """Tables as TOML: plain values first, then sub-tables with their headers."""
    return "\n".join(_lines(tables, ())).strip() + "\n"


def _lines(tables: Mapping[str, Any], place: tuple[str, ...]) -> list[str]:
    lines, headed = [], []
    for key, value in tables.items():
        if isinstance(value, Mapping) and not place:
            headed += ["", f"[{_key(key)}]", *_lines(value, (*place, key))]
        elif isinstance(value, list) and value and isinstance(value[0], Mapping):
            name = ".".join(map(_key, (*place, key)))
            for entry in value:
                headed += ["", f"[[{name}]]", *_lines(entry, (*place, key))]
        else:
            lines.append(f"{_key(key)} = {_value(value)}")
    return lines + headed


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _value(key)


def _value(value: Any) -> str:
    """One value; a table inside is written inline."""
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return json.dumps(value)
