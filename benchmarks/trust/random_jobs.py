"""Cases that a shop could have, drawn at random: both views, all patterns, coolings,
loads and sections; coarse numerics.  Everything follows from (seed, number).
"""

from __future__ import annotations

import copy
import random
from typing import Any

Tables = dict[str, Any]

GRADES = ("S235", "S275", "S355", "A36", "A572-50")
BEAMS = (
    "IPE 160", "IPE 200", "IPE 300", "HEA 140", "HEA 200", "HEB 200", "IPN 200",
    "W6X9", "W8X31", "W12X26", "S6X12.5", "S8X18.4",
)  # fmt: skip
WALL = {
    "IPE 160": 7.4, "IPE 200": 8.5, "IPE 300": 10.7, "HEA 140": 8.5, "HEA 200": 10.0,
    "HEB 200": 15.0, "IPN 200": 11.3, "W6X9": 5.4, "W8X31": 11.0, "W12X26": 9.6,
    "S6X12.5": 9.3, "S8X18.4": 11.0,
}  # fmt: skip
"""Flange thickness, mm."""
WIDE = {
    "IPE 160": 82, "IPE 200": 100, "IPE 300": 150, "HEA 140": 140, "HEA 200": 200,
    "HEB 200": 200, "IPN 200": 90, "W6X9": 100, "W8X31": 203, "W12X26": 165,
    "S6X12.5": 84, "S8X18.4": 101,
}  # fmt: skip
"""Flange width, mm."""
DEEP = {
    "IPE 160": 160, "IPE 200": 200, "IPE 300": 300, "HEA 140": 133, "HEA 200": 190,
    "HEB 200": 200, "IPN 200": 200, "W6X9": 150, "W8X31": 203, "W12X26": 310,
    "S6X12.5": 152, "S8X18.4": 203,
}  # fmt: skip
"""Depth, mm."""
RADIUS = {
    "welding tip": 12.0, "heating tip, small": 20.0, "heating tip, medium": 25.0,
    "heating tip, large": 32.0, "rosebud, acetylene": 40.0,
}  # fmt: skip
FLAT = ("top", "bottom", "flange top", "flange bottom")


def drawn(seed: int, number: int) -> Tables:
    """The ``number``-th case as tables of a case file."""
    rng = random.Random(f"{seed}/{number}")
    return _elevation(rng) if rng.random() < 0.6 else _section(rng)


def _mm(value: float) -> str:
    return f"{value:.4g} mm"


def _steel(rng: random.Random) -> Tables:
    """A grade, its hardening and sometimes its real yield stress or another curve."""
    steel: Tables = {"grade": rng.choice(GRADES)}
    steel["hardening"] = rng.choice(["isotropic", "isotropic", "kinematic", "mixed"])
    if rng.random() < 0.3:
        steel["yield_stress"] = f"{rng.randint(250, 420)} MPa"
    if rng.random() < 0.15:
        steel["curve"] = "plateau"
    if rng.random() < 0.15:
        steel["annealing"] = rng.choice(["none", "600 degC"])
    return steel


def _torch(rng: random.Random, thick: float, drives: list[str]) -> Tables:
    """A flame that suits the steel, ``thick`` mm, and how it is led."""
    if thick <= 9.0:
        flames = ["welding tip", "welding tip", "heating tip, small"]
    elif thick <= 16.0:
        flames = ["welding tip", "heating tip, small", "heating tip, medium"]
    else:
        flames = ["heating tip, medium", "heating tip, large", "rosebud, acetylene"]
    drive = rng.choice(drives)
    torch: Tables = {"flame": rng.choice(flames), "drive": drive}
    if drive == "travel":
        torch["speed"] = f"{rng.uniform(2.0, 7.0):.3g} mm/s"
    else:
        torch["target"] = f"{rng.randint(450, 650)} degC"
    if rng.random() < 0.2:
        torch |= {
            "power": f"{rng.uniform(6.0, 14.0):.3g} kW",
            "efficiency": round(rng.uniform(0.25, 0.4), 3),
            "radius": _mm(rng.uniform(12.0, 28.0)),
        }
    return torch


def _radius(torch: Tables) -> float:
    """Of the torch, mm."""
    own = torch.get("radius")
    return float(own.split()[0]) if own else RADIUS[torch["flame"]]


def _load(rng: random.Random, moments: list[str], area: float) -> Tables:
    """What acts on it; ``area`` mm2 for an axial force that stays small."""
    kind = rng.choice(["none", "none", "weight", "jack", "jack", "clamp", "held"])
    load: Tables = {"kind": kind}
    if kind in {"weight", "jack", "clamp"}:
        low, high = -0.1, 0.65
        for moment in moments:
            ratio = rng.uniform(low, high) / len(moments)
            load[moment] = f"{ratio:.3f} Mp"
        if rng.random() < 0.25:
            load["axial"] = f"{rng.uniform(-0.04, 0.04) * 0.235 * area:.3g} kN"
    if kind in {"jack", "clamp"}:
        load["stiffness"] = f"{rng.uniform(0.5, 5.0):.3g} EI/L"
    if kind == "weight" and rng.random() < 0.3:
        load["removed"] = "never"
    return load


def _cooling(rng: random.Random, follows: bool) -> Tables:
    """One of the coolings; follows : the torch goes on, so that cooling can follow it."""
    kind = rng.choice(
        ["still air", "still air", "air jet", "mist", "wet rag", "water stream"]
    )
    cooling: Tables = {"kind": kind, "until": f"{rng.randint(40, 120)} degC"}
    if kind == "still air":
        return cooling
    if rng.random() < 0.5:
        cooling["start_below"] = f"{rng.randint(250, 400)} degC"
    else:
        cooling["start_after"] = f"{rng.randint(0, 120)} s"
    match rng.choice(["near", "everywhere", "behind"]):
        case "near":
            cooling["reach"] = _mm(rng.uniform(10.0, 60.0))
        case "everywhere":
            cooling["everywhere"] = True
        case "behind" if follows and kind != "wet rag":
            cooling["behind"] = _mm(rng.uniform(60.0, 150.0))
    return cooling


def _elevation(rng: random.Random) -> Tables:
    beam = rng.random() < 0.4
    if beam:
        name = rng.choice(BEAMS)
        axis = rng.choice(["strong", "strong", "weak"])
        member: Tables = {"section": name, "axis": axis}
        depth = DEEP[name] if axis == "strong" else WIDE[name]
        wall = 2 * WALL[name] if axis == "weak" else WALL[name]
        low = 1.05 * WALL[name] if axis == "strong" else 0.0
        area = 4.0 * WALL[name] * WIDE[name]
    else:
        depth, wall = rng.uniform(60.0, 260.0), rng.uniform(5.0, 22.0)
        member = {"section": "plate", "width": _mm(depth), "thickness": _mm(wall)}
        axis, low, area = "strong", 0.0, depth * wall
    patterns = [_shape(rng, depth, low, beam and axis == "strong")]
    spot = patterns[0]["kind"] == "spot"
    torch = _torch(rng, wall, ["held", "held", "held", "held" if spot else "travel"])
    if (
        patterns[0]["kind"] == "vee"
        and beam
        and axis == "strong"
        and rng.random() < 0.3
    ):
        level = patterns[0]["open"]
        width = _mm(rng.uniform(0.2, 0.6) * depth)
        patterns.append({"kind": "strip", "on": f"flange {level}", "width": width})
    radius = _radius(torch)
    return {
        "title": "random elevation",
        "member": member,
        "steel": _steel(rng),
        "surroundings": {"ambient": f"{rng.randint(-10, 35)} degC"},
        "torch": torch,
        "load": _load(rng, ["moment"], area),
        "heat": [{"pattern": patterns, "cooling": _cooling(rng, True)}],
        "numerics": {
            "element": _mm(max(0.8 * radius, depth / 14.0)),
            "heat_tolerance": "8 K",
            "temperature_step": "50 K",
        },
    }


def _shape(rng: random.Random, depth: float, low: float, strong: bool) -> Tables:
    """A pattern on a face from ``low`` to ``depth`` - ``low``, mm."""
    kinds = [
        "vee",
        "vee",
        "vee",
        "line",
        "spot",
        "rectangle",
        *["strip"] * (2 * strong),
    ]
    kind, face = rng.choice(kinds), depth - 2.0 * low
    high = rng.random() < 0.5
    if kind == "vee":
        angle, ratio = rng.uniform(15.0, 65.0), rng.uniform(0.4, 0.9)
        return {
            "kind": kind, "angle": f"{angle:.3g} deg", "depth_ratio": round(ratio, 3),
            "open": "top" if high else "bottom",
        }  # fmt: skip
    if kind == "strip":
        on = "flange top" if high else "flange bottom"
        return {"kind": kind, "on": on, "width": _mm(rng.uniform(0.2, 0.6) * depth)}
    if kind == "line":
        a, b = (rng.uniform(0.55, 0.95) for _ in range(2))
        a, b = (a, b) if high else (1.0 - a, 1.0 - b)
        half = rng.uniform(0.15, 0.4) * depth
        ends = [(-half, low + a * face), (half, low + b * face)]
        names = zip(("from", "to"), ends, strict=True)
        return {"kind": kind} | {k: [_mm(x), _mm(y)] for k, (x, y) in names}
    if kind == "spot":
        size = rng.uniform(0.15, 0.3) * face
        y = rng.uniform(0.6, 0.8) if high else rng.uniform(0.2, 0.4)
        return {"kind": kind, "height": _mm(low + y * face), "diameter": _mm(size)}
    tall = rng.uniform(0.15, 0.4) * face
    y = (
        face - tall - rng.uniform(0.0, 0.1) * face
        if high
        else rng.uniform(0.0, 0.1) * face
    )
    return {
        "kind": "rectangle", "height": _mm(low + max(y, 0.0)),
        "width": _mm(rng.uniform(0.2, 0.5) * depth), "depth": _mm(tall),
    }  # fmt: skip


def _section(rng: random.Random) -> Tables:
    beam = rng.random() < 0.6
    if beam:
        name = rng.choice(BEAMS)
        member: Tables = {"section": name}
        wall, wide, area = WALL[name], WIDE[name], 4.0 * WALL[name] * WIDE[name]
        on = rng.choice(
            ["flange top", "flange bottom", "web left", "web right", "edge"]
        )
        if on == "edge":
            side = rng.choice(["left", "right"])
            on = [f"flange top edge {side}", f"flange bottom edge {side}"]
            on = on if rng.random() < 0.5 else on[:1]
        room = {"fl": wide, "we": 0.5 * DEEP[name], "ed": 0.5 * wall}
        wide = room["ed" if isinstance(on, list) else on[:2]]
    else:
        wide, wall = rng.uniform(80.0, 400.0), rng.uniform(6.0, 25.0)
        member = {"section": "plate", "width": _mm(wide), "thickness": _mm(wall)}
        on, area = rng.choice(["top", "bottom", "edge left", "edge right"]), wide * wall
        wide = 0.5 * wall if on.startswith("edge") else wide
    pattern, drives = _along(rng, on, wide)
    torch = _torch(rng, wall, drives)
    radius = _radius(torch)
    if torch["drive"] == "at once" and pattern["kind"] != "spots along":
        # no flame heats metres at a time
        pattern["length"] = _mm(rng.uniform(80.0, 300.0))
    moments = [["camber_moment"], ["sweep_moment"], ["camber_moment", "sweep_moment"]]
    follows = torch["drive"] != "at once" and pattern["kind"] != "spots along"
    tables = {
        "title": "random section",
        "view": "section",
        "member": member,
        "steel": _steel(rng),
        "surroundings": {"ambient": f"{rng.randint(-10, 35)} degC"},
        "torch": torch,
        "load": _load(rng, rng.choice(moments), area),
        "heat": [{"pattern": [pattern], "cooling": _cooling(rng, follows)}],
        "numerics": {
            "element": _mm(min(0.5 * wall, 0.25 * radius)),
            "heat_tolerance": "8 K",
            "temperature_step": "50 K",
        },
    }
    if not beam and rng.random() < 0.2:
        tables["load"]["edges"] = "held"
    return tables


def _along(rng: random.Random, on: Any, wide: float) -> tuple[Tables, list[str]]:
    """A pattern along the member on a surface ``wide`` mm; how its torch may be led."""
    kind = rng.choice(["line along", "strip along", "spots along"])
    pattern: Tables = {"kind": kind, "on": on, "length": f"{rng.uniform(1, 3):.3g} m"}
    size = rng.uniform(0.2, 0.4) * wide
    room = 0.45 * wide - 0.5 * size * (kind != "line along")
    if rng.random() < 0.6:
        pattern["at"] = _mm(rng.uniform(-room, room))
    if kind == "strip along":
        pattern["width"] = _mm(size)
    if kind == "spots along":
        pattern |= {
            "diameter": _mm(size),
            "spacing": _mm(size * rng.uniform(1.3, 4.0)),
        }
        return pattern, ["held", "held", "at once"]
    return pattern, ["held", "held", "travel", "at once"]


def mirrored(tables: Tables) -> Tables:
    """The same job seen upside down (elevation) or from behind (section)."""
    tables = copy.deepcopy(tables)
    if tables.get("view") == "section":
        patterns = [p for heat in tables["heat"] for p in heat["pattern"]]
        for pattern in patterns:
            _left_to_right(pattern)
        sweep = tables.get("load", {}).get("sweep_moment")
        names = " ".join(name for p in patterns for name in p["on"]).split()
        sided = {"left", "right"} & {*names} or any("at" in p for p in patterns)
        if sweep and not sided:  # then + is the right side, not the heated one
            turned = sweep[1:] if sweep.startswith("-") else f"-{sweep}"
            tables["load"]["sweep_moment"] = turned
        return tables
    member = tables["member"]
    name, strong = member["section"], member.get("axis", "strong") == "strong"
    for pattern in (p for heat in tables["heat"] for p in heat["pattern"]):
        _upside_down(pattern, _depth_of(member, name, strong))
    return tables


def _depth_of(member: Tables, name: str, strong: bool) -> float:
    """m, of the elevation, exactly as the program has it."""
    from shrinksim.shop.sections.catalogue import section_named
    from shrinksim.units.quantity import quantity

    if name == "plate":
        return quantity(member["width"], "length")
    shape = section_named(name)
    return shape.depth if strong else shape.flange_width


def _upside_down(pattern: Tables, depth: float) -> None:
    from shrinksim.units.quantity import quantity

    def below(text: str, over: float = 0.0) -> str:
        return f"{depth - quantity(text, 'length') - over!r} m"

    swap = {"top": "bottom", "bottom": "top"}
    match pattern["kind"]:
        case "vee":
            pattern["open"] = swap[pattern["open"]]
        case "strip":
            pattern["on"] = "flange " + swap[pattern["on"].split()[1]]
        case "line":
            for end in ("from", "to"):
                pattern[end] = [pattern[end][0], below(pattern[end][1])]
        case "spot":
            pattern["height"] = below(pattern["height"])
        case "rectangle":
            tall = quantity(pattern["depth"], "length")
            pattern["height"] = below(pattern["height"], tall)


def _left_to_right(pattern: Tables) -> None:
    swap: dict[str, str] = {"left": "right", "right": "left"}
    given = pattern["on"]
    on: list[str] = given if isinstance(given, list) else [given]
    pattern["on"] = [" ".join(swap.get(w, w) for w in name.split()) for name in on]
    if "at" in pattern and on[0] in FLAT:
        at = pattern["at"]
        pattern["at"] = at[1:] if at.startswith("-") else f"-{at}"
