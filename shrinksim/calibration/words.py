"""Words and tables of the page of a calibration."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from shrinksim.calibration.export import text_of, used_in
from shrinksim.calibration.formula_use import estimated
from shrinksim.calibration.variables import DEGREE, WORDS, VeeHeat, scale_of
from shrinksim.units.scales import time_text

if TYPE_CHECKING:
    from shrinksim.calibration.formula_use import Calibration

TITLES = {
    "plates": "Vees on plates",
    "i sections strong": "I-sections about the strong axis: web vee, then flange strip",
    "i sections weak": "I-sections about the weak axis: vees in both flanges",
}


def unbroken(formula: str) -> str:
    """A formula with blanks inside its terms that no line is broken at."""
    return re.sub(r"(?<=[\d a-z]) (?=[a-z]\b)", "\u00a0", formula)


def headline(calibration: Calibration) -> list[str]:
    """Scatter of the formula, in sentences."""
    record: Any = calibration.record
    scatter, heats, fresh = record["scatter"], record["heats"], record["fresh"]
    sentences = [
        f"{heats['fitted']} computed heats scatter about the formula with a standard "
        f"deviation of {scatter['absolute_mrad']:.2f} mrad and "
        f"{scatter['relative']:.0%} of the rotation together; it explains "
        f"{scatter['explained_left_out']:.0%} of the variance of heats left out of the "
        "fit."
    ]
    if fresh["heats"]:
        sentences.append(
            f"Of {fresh['heats']} fresh heats that it was not fitted to, "
            f"{fresh['within_one_sigma']} lie within one and "
            f"{fresh['within_two_sigma']} within two of its standard deviations (68 and "
            f"95 % would be {0.68 * fresh['heats']:.0f} and "
            f"{0.95 * fresh['heats']:.0f}); root mean square {fresh['rms_mrad']:.2f} mrad."
        )
    sentences.append(
        "These are results of a model, not measurements: steel in the shop differs from "
        "the model, and single heats scatter by about half of their mean (from memory)."
    )
    return sentences


def tiles(calibration: Calibration) -> list[tuple[str, str]]:
    """Main numbers."""
    record: Any = calibration.record
    scatter = record["scatter"]
    left = sum(record["heats"]["left_out"].values())
    numerical = scatter["numerical_error_median_mrad"]
    return [
        ("heats fitted", f"{record['heats']['fitted']}"),
        ("heats left out", f"{left}"),
        ("terms", f"{len(calibration.terms)}"),
        ("root mean square", f"{scatter['rms_mrad']:.2f} mrad"),
        (
            "numerical error, median",
            "-" if numerical is None else f"{numerical:.2f} mrad",
        ),
    ]


def surprises(calibration: Calibration) -> list[str]:
    """Results that are contrary to common experience, with numbers."""
    record: Any = calibration.record
    back, heats, of = record["backward"], record["heats"], calibration.of
    sentences = []
    if back["not_opposed"]:
        sentences.append(
            f"Backward: {back['not_opposed']} of {back['not_opposed_of']} heats without "
            "an opposing moment opened the vee instead of closing it "
            f"({back['heats']} of all {heats['fitted']})."
        )
    if back["free"]:
        sentences.append(
            f"Nearly free vees (M/Mp within 0.05): {back['free']} heats, permanent "
            f"rotations from {back['free_lowest_mrad']:.2f} to "
            f"{back['free_highest_mrad']:.2f} mrad, "
            f"median {back['free_median_mrad']:.2f}, "
            f"{back['free_backward'] or 'none'} of them backward. The rotation of a "
            "free vee is a small difference of large numbers: opening while it is heated "
            "against closing as it cools." + SMALL_TORCH * (of == "plates")
        )
    found = dict(zip(calibration.terms, calibration.coefficients, strict=True))
    if ("j",) in found and found["j",] > 0.0:
        sentences.append(
            "A jack as stiff as the heated patch is equivalent to a moment of "
            f"{found['j',] / found['m',]:.2f} Mp even before it carries any load: it "
            "resists the opening of the vee while the steel is heated."
        )
    for why, many in heats["left_out"].items():
        start = f"Left out: {many} {why}"
        if why == "hot hinge":
            sentences.append(f"{start}, folded: {FOLDS}")
            continue
        reasons = [r.split(": ", 1)[1] for r in heats["reasons"] if r.startswith(why)]
        sentences.append(f"{start}: {'; '.join(reasons[:3])}.")
    return sentences


def published_words(calibration: Calibration) -> str:
    """Vee at which the formula has the published factor of free vees, "" if none."""
    if calibration.of != "plates":
        return ""
    found = radius_of_published(calibration)
    if found is None:
        return ""
    return (
        "The mean of the shop's free vees, 0.6, is the formula's own for a vee "
        f"{found:.1f} times as deep as the torch's radius (40 degrees, depth ratio 0.75, "
        "650 degC, 235 MPa, a weight or jack without load yet): smaller torches "
        "give more rotation than the published relation, wider ones less."
    )


def radius_of_published(calibration: Calibration) -> float | None:
    """Depth over radius at which a free vee rotates 0.6 times its scale."""
    from scipy.optimize import brentq

    def over(ratio: float) -> float:
        heat = VeeHeat(
            "plates", 40.0 * DEGREE, 0.75, 0.2, 0.01, 650.0, 0.0, 0.15 / ratio, 3e3,
            235e6,
        )  # fmt: skip
        return 1e3 * estimated(calibration, heat).turn / scale_of(heat) - 0.6

    low, high = next(
        (r.low, r.high) for r in calibration.guard.ranges if r.name == DEPTH_OVER
    )
    if over(low) * over(high) >= 0.0:
        return None
    return float(brentq(over, low, high))  # type: ignore[arg-type]


DEPTH_OVER = "depth_over_radius"


def published_rows(calibration: Calibration) -> list[dict[str, str]]:
    """The published shape fitted to parts of the data, and as published."""
    shape: Any = calibration.record["published_shape"]
    rows = []
    for part in shape["fitted"]:
        (a, a_low, a_high), (b, b_low, b_high) = part["a, b"]
        rows.append(
            {
                "data": f"{part['data']} ({part['heats']})",
                "a": f"{a:.2f} ({a_low:.2f} to {a_high:.2f})",
                "b": f"{b:.2f} ({b_low:.2f} to {b_high:.2f})",
                "rms": f"{part['rms_mrad']:.2f}",
                "published": f"{part['rms_of_published_mrad']:.2f}",
            }
        )
    return rows


def coefficient_rows(calibration: Calibration) -> list[dict[str, str]]:
    """Every coefficient with its 95 % limits."""
    return [
        {
            "term": " ".join(term) or "1",
            "value": f"{value:.3f}",
            "limits": f"{low:.3f} to {high:.3f}",
            "sure": "" if low * high > 0.0 else "may be zero",
        }
        for term, value, low, high in zip(
            calibration.terms, calibration.coefficients, calibration.low,
            calibration.high, strict=True,
        )
    ]  # fmt: skip


def variable_rows(calibration: Calibration) -> list[tuple[str, str, str]]:
    """Letter, meaning, and formula in practical units."""
    of = calibration.of
    return [(n, WORDS[n], text_of(of, n)) for n in used_in(calibration)]


def sheet_words(calibration: Calibration) -> str:
    """Contents of the spreadsheet's cells."""
    cells: Any = calibration.record["spreadsheet"]["cells"]
    sentences = ", ".join(f"{cell} {what}" for cell, what in cells.items())
    given = set(cells.values())
    notes = ["moment_ratio is M/Mp, + helps"]
    if "power_kW" in given:
        notes.append("power_kW is what enters the steel from all torches at the vee")
    notes += [f"{name} is 0 or 1" for name in ("jack", "mist") if name in given]
    return (
        f"In a spreadsheet, headings in row 1 and values in row 2: {sentences}; "
        f"{', '.join(notes)}. Gives mrad."
    )


def range_rows(calibration: Calibration) -> list[tuple[str, str]]:
    """Ranges of validity of the formula."""
    return [
        (r.words, f"{r.low:.4g} to {r.high:.4g}{' ' + r.unit if r.unit else ''}")
        for r in calibration.guard.ranges
    ]


def making(calibration: Calibration) -> list[str]:
    """Origin of the data."""
    record: Any = calibration.record
    design, machine, time = record["design"], record["machine"], record["computing"]
    passed = ", ".join(f"{why} ({n})" for why, n in record["passed_over"].items())
    numerics = ", ".join(f"{k} {v}" for k, v in record["numerics"].items())
    sentences = [
        f"Points: a scrambled Sobol' set, seed {design['seed']}"
        + (f" (fresh ones: seed {design['seed'] + 1})" if design["fresh"] else "")
        + f"; passed over before computing: {passed or 'none'}.",
        f"Numerics: {numerics or 'as by default'}"
        + ("; the rest as by default." if numerics else "."),
        f"The runs took {time_text(time['sum_of_runs_s'])} together, each on one thread, "
        f"on a machine with {machine['cores']} cores ({machine['architecture']}"
        + (f"; {machine['remark']}" if machine["remark"] else "")
        + f"); finished from {_clock(time['first_finished'])} to "
        f"{_clock(time['last_finished'])}.",
    ]
    design_sections = design["one_of"].get("section")
    if design_sections:
        sentences.append(f"Shapes: {', '.join(design_sections)}.")
    if calibration.of == "i sections strong":
        sentences.append(
            "The strip follows the vee by 10 s, as wide as the vee's open end; its torch "
            "has twice the flange's thickness as radius (20 to 40 mm) and the power that "
            "brings the flange to heat in some 40 s: 3.7 kW net for an IPE 300."
        )
    return sentences


def _clock(stamp: str) -> str:
    """A time stamp to the minute."""
    return stamp[:16].replace("T", " ")


SMALL_TORCH = (
    " A small torch, which heats the vee part by part, gives more rotation; a wide one, "
    "which has all of it hot at once, gives little, or in the wrong direction."
)

FOLDS = (
    "the moment was more than the hot section carries. The formula does not "
    "cover this; check the hot strength first."
)

LIMITS = (
    "The data are of the elevation view: steel even through its thickness, no dishing, "
    "no twist. Where a torch on one face would leave the steel uneven, both faces were "
    "heated.",
    "A formula does not cover folding while hot, hot stress, or cooling "
    "other than still air and mist; compute the heat itself where that matters.",
    "First heats on steel without residual stress; heats repeated at one place move less.",
    "M is over the plastic moment with the nominal yield stress. Real steel is stronger "
    "as a rule: the same moment is then less of its own plastic moment.",
)
