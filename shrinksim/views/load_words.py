"""State of the load: whether it acts, stays on, or nearly folds the member."""

from __future__ import annotations

import numpy as np

from shrinksim.views.result import AnyResult, folds


def loaded(result: AnyResult) -> bool:
    """Whether a load acts at any time."""
    return result.load_kind != "none" and bool(np.any(result.strain.fraction > 0))


def still_loaded(result: AnyResult) -> bool:
    """Whether the load stays on, so that the history ends under it."""
    stays = result.resolved.get("load", {}).get("removed") == "never"
    acts = result.load_kind != "none" and bool(result.strain.fraction[-1] > 0.0)
    return acts and stays and not folds(result)


def near_fold(result: AnyResult) -> list[str]:
    """Warning that the member nearly folds, where the cautions say so."""
    margin = result.movement.hinge_margin
    if margin is None or all(caution.code != "margin" for caution in result.cautions):
        return []
    return [
        f"It comes near to folding: at its weakest the hot section carries {margin:.2f} "
        "times the moment on it. Lower the load or heat less of the section at once "
        "before anybody tries it."
    ]
