"""Kinds of sections, the rolled shapes shipped with the package, and their names."""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from shrinksim.errors import CaseError
from shrinksim.shop.sections import angle, channel, i_section, plate
from shrinksim.shop.sections.shape import Section, SectionKind

KINDS: Mapping[str, SectionKind] = {
    module.KIND.word: module.KIND for module in (plate, i_section, channel, angle)
}
"""Every kind of section, by the word of a case file: the only list of them."""

NOT_MODELLED: Mapping[str, tuple[str, ...]] = {
    "a hollow section": ("HSS", "RHS", "SHS", "CHS", "RRW", "ROR", "PIPE", "TUBE"),
    "a tee": ("WT", "MT", "ST", "TEE", "T"),
    "a zed": ("ZED", "Z"),
}
"""Kinds of rolled shapes that are not modelled, with the beginnings of their names."""


@cache
def catalogue() -> Mapping[str, Section]:
    """Shipped shapes by name, from the tables of every kind."""
    shapes: dict[str, Section] = {}
    for kind in KINDS.values():
        shapes |= _table(kind)
    return MappingProxyType(shapes)


def _table(kind: SectionKind) -> dict[str, Section]:
    """Shapes of a kind's table, mm but for the slope; the source is for people."""
    if not kind.table or kind.of_row is None:
        return {}
    text = files("shrinksim.shop").joinpath("data", kind.table).read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    shapes = {}
    for row in csv.DictReader(lines):
        sizes = {
            key: float(value) if "slope" in key else float(value) / 1000
            for key, value in row.items()
            if key not in {"name", "source"}
        }
        shapes[row["name"]] = kind.of_row(row["name"], sizes)
    return shapes


def section_named(name: str) -> Section:
    """Shape of a name as shops write it: "IPE 300", "HE 200 A", "w12x26"."""
    wanted = _plain_name(name)
    shapes = catalogue()
    if wanted in shapes:
        return shapes[wanted]
    own = 'section = "I", "channel" or "angle" and its dimensions'
    other = _not_modelled(wanted)
    if other:
        message = f"'{name[:40]}' is {other}, which is not modelled; give {own}"
        raise CaseError(message)
    near = _near_names(wanted, shapes)
    hint = f"did you mean {' or '.join(near)}? " if near else ""
    message = (
        f"'{name[:40]}' is not one of the {len(shapes)} shapes of the catalogue; {hint}"
        f"for a shape that is not in it give {own}"
    )
    raise CaseError(message)


def _plain_name(name: str) -> str:
    """Name as in the catalogue: capitals, no blanks, HE200A as HEA200, L50X5."""
    plain = re.sub(r"[\s_-]", "", name).upper().replace("×", "X").replace("*", "X")
    plain = re.sub(r"^HE(\d+)([AB])$", r"HE\2\1", plain)
    plain = re.sub(r"^L(\d+)X\1X(\d+)$", r"L\1X\2", plain)
    return re.sub(r"^INP(?=\d)", "IPN", re.sub(r"^UNP(?=\d)", "UPN", plain))


def _not_modelled(wanted: str) -> str:
    """Kind of a named shape that is not modelled, "" for all others."""
    family = re.match(r"([A-Z]+)\d", wanted)
    for kind, families in NOT_MODELLED.items():
        if family and family[1] in families:
            return kind
    return ""


def _near_names(wanted: str, shapes: Mapping[str, Section]) -> list[str]:
    """Shapes of the same family next in size, or else names spelled alike."""
    if re.match(r"L\d+X\d+X\d+", wanted):  # unequal legs: no equal ones in their place
        return []
    sizes = {n: re.match(r"([A-Z]+)(\d+)", n) for n in (wanted, *shapes)}
    if asked := sizes.pop(wanted):
        family = [m for m in sizes.values() if m and m[1] == asked[1]]
        family.sort(key=lambda match: abs(int(match[2]) - int(asked[2])))
        if family:
            return [match.string for match in family[:2]]
    return difflib.get_close_matches(wanted, shapes, n=2, cutoff=0.6)
