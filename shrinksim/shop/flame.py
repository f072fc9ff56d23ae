"""Torch flames by name: power, share that enters the steel, and radius.

The flux on the face is q(r) = 3P/(pi R2) exp(-3 r2/R2) with P = efficiency * power: 95 %
of the heat falls within the radius R.  The shipped tips follow the trade's orders of
magnitude (10-40 kW burnt, efficiency 0.25-0.45, R 20-40 mm, from memory); their mean
flux within R, 1.7-2.9 MW/m2, is above the 0.2-1 MW/m2 that is also quoted for wide
heating flames (from memory).  A tip's real efficiency and spread depend on stand-off,
gas setting and scale: time your own torch on a plate, and adjust the efficiency until
the time to reach the target agrees.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from shrinksim.errors import CaseError
from shrinksim.units.quantity import quantity

KILOWATT_HOUR = 3.6e6
LITRE = 1e-3


@dataclass(frozen=True)
class Fuel:
    """A fuel gas.  heating_value : J/m3 of gas at room conditions."""

    name: str
    heating_value: float
    source: str

    @property
    def litres_per_kwh(self) -> float:
        """Gas consumption, litres per kilowatt hour."""
        return KILOWATT_HOUR / self.heating_value / LITRE


FUELS: Mapping[str, Fuel] = MappingProxyType(
    {
        "acetylene": Fuel(
            "acetylene", 54.5e6, "1450 to 1470 Btu/ft3, gas suppliers' tables"
        ),
        "propane": Fuel("propane", 93e6, "2500 Btu/ft3, from memory"),
    }
)


@dataclass(frozen=True)
class Flame:
    """A torch tip at its usual setting.  power : W burnt; radius : m, 95 % of the heat.

    efficiency : share of the power that enters cold steel under the flame.
    """

    name: str
    power: float
    efficiency: float
    radius: float
    source: str
    fuel: str = "acetylene"

    @property
    def net_power(self) -> float:
        """Power (W) absorbed by the steel."""
        return self.efficiency * self.power

    @property
    def gas_flow(self) -> float:
        """Flow of fuel gas, m3/s."""
        return self.power / FUELS[self.fuel].heating_value


@cache
def flames() -> Mapping[str, Flame]:
    """Shipped flames by name, smallest first."""
    text = (files("shrinksim.shop") / "data" / "flames.toml").read_text("utf-8")
    rows = tomllib.loads(text)["flame"]
    return MappingProxyType({row["name"]: _flame(row) for row in rows})


def flame_named(name: str) -> Flame:
    """Shipped flame of a name; letter case and spaces do not matter."""
    known = {_plain(key): key for key in flames()}
    if _plain(name) in known:
        return flames()[known[_plain(name)]]
    near = difflib.get_close_matches(_plain(name), list(known), 1)
    hint = f"; did you mean {known[near[0]]!r}?" if near else ""
    message = f"flame = {name!r} is not one of {'; '.join(flames())}{hint}"
    raise CaseError(message)


def _flame(row: Mapping[str, Any]) -> Flame:
    flow = quantity(row["gas_flow"], "volume_flow")
    return Flame(
        row["name"],
        flow * FUELS[row["fuel"]].heating_value,
        row["efficiency"],
        quantity(row["radius"], "length"),
        row["source"],
        row["fuel"],
    )


def _plain(name: str) -> str:
    return "".join(c for c in name.casefold() if c.isalnum())
