"""Can it be: values that a kind of load needs or does not take."""

from __future__ import annotations

from shrinksim.casefile.load import Load

_UNLOADED = ("given_moment", "axial", "given_stiffness")


def load_faults(load: Load) -> list[str]:
    """Values that the kind of load needs or does not take."""
    keys = {"given_moment": "moment", "given_stiffness": "stiffness"}
    given = {keys.get(key, key) for key in load.model_fields_set & {*_UNLOADED}}
    kind = f"load.kind = '{load.kind}'"
    if load.kind in {"none", "held"}:
        reason = "is no load" if load.kind == "none" else "holds the ends still"
        return [
            f"load.{key}: {kind} {reason}; leave {key} out, or choose weight, jack or "
            "clamp"
            for key in sorted(given)
        ]
    if load.kind == "weight":
        if "stiffness" in given:
            return ["load.stiffness: a weight has none; leave it out, or use a jack"]
        if not _moment_given(load) and load.axial == 0.0:
            return [f'{kind} needs load.moment (as "0.25 Mp") or load.axial']
        return []
    if load.given_stiffness is None:
        advice = 'write stiffness = "2 EI/L" or "500 kN m/rad"'
        return [f"load.stiffness is missing: {kind} needs one; {advice}"]
    if (load.stiffness or load.stiffness_ratio or 0.0) <= 0.0:
        return ["load.stiffness is not more than 0; a jack without any is a weight"]
    return []


def _moment_given(load: Load) -> bool:
    return bool(load.moment or load.moment_ratio)
