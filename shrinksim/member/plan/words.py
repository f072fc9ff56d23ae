"""Words and tables of a plan's page."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

import numpy as np

from shrinksim.member.line import PLANES, Bend, offsets
from shrinksim.member.log.diagnosis import COLD
from shrinksim.member.plan.chalk import card_marks
from shrinksim.member.plan.frame import RANGE, allowed_offsets
from shrinksim.member.plan.sentences import in_hundred
from shrinksim.text.quoting import printable
from shrinksim.units.quantity import quantity, show
from shrinksim.units.scales import time_text
from shrinksim.units.tape import mark, offset, place, plain_number

if TYPE_CHECKING:
    from pathlib import Path

    from shrinksim.member.job.read import Job
    from shrinksim.member.plan.records import Alternative, HeatCard, Plan

Row = tuple[str, ...]

SAFETY = (
    "A member that hangs, or lies on cribs and jacks, can fall, roll and kick: rated "
    "slings and cribs, braced sideways, nobody under it or in its way, and blocks close "
    "under it that catch it.",
    "While it is hot the steel is weak: a load that the cold member carries with ease can "
    "fold or roll it. Stay under the moment on the cards.",
    "No hotter than the card says: crayon or infrared gun, not the eye alone. Steel that "
    "was overheated, or cooled with water from too hot, can be brittle: leave it out of "
    "use until someone qualified has looked at it.",
    "Steel burns long after its colour is gone; paint and zinc give poisonous fume: take "
    "them off where it is heated.",
    "Water on hot steel makes steam that scalds; none before the card says so, never into "
    "a closed section.",
)
"""Usual cautions of the work; common practice, no source."""


def mrad(turn: float) -> str:
    """A turn with its unit."""
    return f"{plain_number(turn / quantity('1 mrad', 'angle'), 2)} mrad"


def count(number: int) -> str:
    """ "1 heat", "4 heats"."""
    return f"{number} heat{'s' * (number != 1)}"


def heats_range(least: int, most: int) -> str:
    """ "3 to 7", "4"."""
    return str(least) if least == most else f"{least} to {most}"


def headline(plan: Plan) -> str:
    """Result of the plan in one sentence."""
    if plan.cards:
        return (
            f"{count(len(plan.cards))} planned; nine times in ten it takes "
            f"{heats_range(plan.least, plan.most)}. Read the line after each."
        )
    if plan.verdict_before and all(v.inside for v in plan.verdict_before):
        return "It is within its tolerance as measured: no heat is needed."
    return "No heat is planned: the cautions say why."


def details(plan: Plan, job: Job) -> list[str]:
    """Where it is out of line, how far it is to come, and how likely."""
    units = job.print_units
    limits = allowed_offsets(plan)
    sentences = []
    for plane, line in plan.before.items():
        worst = int(np.argmax(np.abs(line)))
        text = (
            f"{plane.capitalize()}: {offset(abs(float(line[worst])), units)} off the "
            f"chord, most at {place(float(plan.x[worst]), units)}"
        )
        if plan.cards:
            left = float(np.abs(plan.after[plane]).max())
            text += f"; {offset(left, units)} expected after"
        if plane in limits:
            text += f"; allowed {offset(limits[plane], units)}"
        sentences.append(f"{text}.")
    if plan.cards:
        sentences.append(
            "Chance to end within the tolerance by the rule below: "
            f"{in_hundred(plan.chance)}."
        )
    return sentences


def tiles(plan: Plan, job: Job) -> list[Row]:
    """The numbers to read first."""
    torch = sum(card.heating_time for card in plan.cards)
    rows: list[Row] = [("heats planned", str(len(plan.cards)))]
    if plan.cards:
        rows += [
            ("nine times in ten", heats_range(plan.least, plan.most)),
            ("torch time", time_text(torch)),
            ("with cooling", time_text(3600.0 * plan.hours)),
            ("heat of the gas", gas_text(plan.gas, job.print_units)),
        ]
    return rows


def chalk_rows(plan: Plan, job: Job) -> list[Row]:
    """Chalk marks of every heat: what, from, middle, to, across; places from the end."""
    units = job.print_units
    return [
        (
            str(card.number), chalk.where, mark(card.at + chalk.start, units),
            mark(card.at + 0.5 * (chalk.start + chalk.end), units),
            mark(card.at + chalk.end, units), chalk.note,
        )
        for card in plan.cards
        for chalk in card_marks(card, job)
    ]  # fmt: skip


def chalk_table(plan: Plan, job: Job) -> list[Row]:
    """The marks, each once, with the numbers of all heats that are given there."""
    found: dict[Row, list[str]] = {}
    for number, *row in chalk_rows(plan, job):
        found.setdefault(tuple(row), []).append(number)
    return [(", ".join(numbers), *row) for row, numbers in found.items()]


def offset_change(card: HeatCard, job: Job, turn: float) -> float:
    """M that the offset from the string at the heat falls by when it turns so far."""
    at = np.array([card.at])
    return float(offsets([Bend(card.at, turn)], at, job.member.length)[0])


def facts(card: HeatCard, job: Job) -> list[Row]:
    """What the card says beside its drawing: name and value."""
    units = job.print_units
    low, high = (card.move + side * RANGE * card.sigma for side in (-1.0, 1.0))
    expected, least, most = (
        offset_change(card, job, turn) for turn in (card.move, low, high)
    )
    where = place(card.at, units)
    span = f"{mrad(low).removesuffix(' mrad')} to {mrad(high).removesuffix(' mrad')}"
    rows: list[Row] = [
        ("hottest steel", f"{temperature_text(card.target, units)}, no hotter"),
        ("torch on", f"about {time_text(card.heating_time)}"),
        ("then", f"{_cooled(card, job)}; cold after {time_text(card.cooling_time)}"),
        (f"offset at {where} shrinks by", f"about {offset(expected, units)}"),
        ("nine times in ten", f"{offset(least, units)} to {offset(most, units)}"),
        ("turn taken off", f"{mrad(card.move)} ({span})"),
    ]
    if abs(card.drop) >= 5e-5:
        row = "comes down" if card.drop > 0.0 else "goes up"
        drop = offset(abs(card.drop), units)
        rows.append((f"{row} at {place(card.drop_at, units)} by", f"about {drop}"))
    rows.append(("moment there", _moment(card.moment_ratio)))
    if card.hinge_margin is not None:
        margin = f"{_margin(card.hinge_margin)} (folds at 1)"
        rows.append(("margin to a hot hinge", margin))
    return rows


def _margin(value: float) -> str:
    """A margin to a hot hinge: large ones are told as that."""
    return f"{value:.1f}" if value < 10.0 else "over 10"


def _moment(ratio: float) -> str:
    """M/Mp in words."""
    if abs(ratio) < 5e-4:
        return "none"
    return f"{abs(ratio):.3f} Mp, {'helps' if ratio > 0.0 else 'opposes'}"


def _cooled(card: HeatCard, job: Job) -> str:
    """How it is cooled, and from when on."""
    if card.cooling != job.cooling.kind:
        return card.cooling
    below = getattr(job.cooling, "start_below", None)
    wait = getattr(job.cooling, "start_after", None)
    if below is not None:
        return f"{card.cooling} once under {temperature_text(below, job.print_units)}"
    if wait:
        return f"{card.cooling} after {time_text(wait)}"
    return card.cooling


def gas_text(joule: float, units: str) -> str:
    """Heat of the gas, to two or three digits."""
    number, unit = show(joule, "energy", units).split(" ")
    return f"{float(f'{float(number):.3g}'):.9g} {unit}"


def temperature_text(celsius: float, units: str) -> str:
    """A temperature to the degree."""
    text = show(celsius, "temperature", units)
    number, unit = text.split(" ")
    return f"{float(number):.0f} {unit.replace('deg', '°')}"


def tolerance_table(plan: Plan, job: Job) -> list[Row]:
    """Plane, now, reading error, expected after, allowed, source."""
    after = {v.plane: v for v in plan.verdict_after}
    rows: list[Row] = []
    for now in plan.verdict_before:
        then = after.get(now.plane) if plan.cards else None
        values = (now.deviation, now.sigma, then and then.deviation, now.allowed)
        texts = ["-" if v is None else _size(now.plane, v, job) for v in values]
        rows.append((now.plane, texts[0], f"± {texts[1]}", *texts[2:], now.source))
    return rows


def _size(plane: str, value: float, job: Job) -> str:
    """A deviation from the chord, or a twist per length."""
    if plane in PLANES:
        return offset(value, job.print_units)
    return show(value, "curvature", job.print_units)


def verdicts(plan: Plan) -> list[str]:
    """Judgements in words, before and after."""
    before = [f"As measured: {v.text}" for v in plan.verdict_before if v.text]
    after = [f"Expected after: {v.text}" for v in plan.verdict_after if v.text]
    return before + after * bool(plan.cards)


def alternatives_table(plan: Plan, job: Job) -> list[Row]:
    """The table of alternatives."""
    return [_way(row, job.print_units) for row in plan.alternatives]


def _way(row: Alternative, units: str) -> Row:
    """One way of doing it, "-" where there is no number."""
    heats = "-"
    if row.heats is not None:
        heats = f"{row.heats:.1f}".removesuffix(".0")
        if row.least is not None and row.most is not None:
            heats += f" ({heats_range(row.least, row.most)})"
    return (
        row.name if row.possible else f"{row.name} (no)",
        heats,
        mrad(row.move_per_heat) if row.move_per_heat is not None else "-",
        time_text(3600.0 * row.hours) if row.hours is not None else "-",
        gas_text(row.gas, units) if row.gas is not None else "-",
        f"{row.moment_ratio:+.3f}" if row.moment_ratio is not None else "-",
        _margin(row.hinge_margin) if row.hinge_margin is not None else "-",
        row.remark,
    )


def log_example(plan: Plan, job: Job, job_path: Path) -> list[str]:
    """How the first heat's reading is typed: what the command line takes."""
    units = job.print_units
    card = plan.cards[0]
    at = np.array([card.at])
    now = float(np.interp(at, plan.x, plan.before[card.plane])[0])
    then = now + float(
        np.interp(at, plan.x, card.line_after - plan.before[card.plane])[0]
    )
    survey = job.survey
    up = -1.0 if card.plane in survey.inverted_planes else 1.0
    now, then = survey.block + up * now, survey.block + up * then
    name = "" if card.plane == "camber" else f"{card.plane} "
    reading = (
        f"{name}{place(card.at, units)}: {place(now, units)} to {place(then, units)}"
    )
    return [
        f'shrinksim log {_quoted(printable(job_path.name))} -r "{reading}"',
        f"shrinksim log {_quoted(printable(job_path.name))} --ask",
    ]


def _quoted(name: str) -> str:
    """A file name as a shell takes it."""
    return shlex.quote(f"./{name}" if name.startswith("-") else name)


def after_each(job: Job, given: int) -> list[str]:
    """What to do after every heat; ``given`` heats are in the log already."""
    numbered = (
        f" The log holds {count(given)}: heat 1 of this plan is number {given + 1} there."
        if given
        else ""
    )
    error = offset(job.survey.reading_error, job.print_units)
    return [
        f"Wait until it is cold. {COLD.split('? ', 1)[1]}",
        "Read the string at the middle of the heat and at the stations of the survey, "
        "with the same blocks and the same load as before. A reading counts as good to "
        f"{error} here (one standard deviation).",
        "Log it, also when nothing moved or it went the wrong way: a line in a text file "
        "beside the job, with date and heat; the weather and what was different can go "
        f"with it (--weather, --note).{numbered}",
        "The log tells how the member behaves against the plan, and what to look at if it "
        "does not. Plan again when it says so, or when the line is not where the card "
        "put it.",
    ]


def trust(plan: Plan, job: Job) -> list[str]:
    """Limits of the plan's accuracy."""
    source = {
        "model": "Movements come from finite-element runs of each heat: one sheet, even "
        "through its thickness, hottest steel at the target all along. For vees on "
        "plates most come within 20 % of a published relation (which is from memory), "
        "wide free vees up to 38 % over it; for I-beams no published movement was found "
        "to compare with.",
        "quick": "Movements come from a relation (plates: the published one, from memory; "
        "I-sections: one fitted to earlier finite-element runs), "
        'not from runs of these heats: less sure. estimate = "model" computes them.',
    }[plan.estimate]
    return [
        source,
        "Single heats in the shop scatter by about half of their mean (from memory): the "
        "torch, its hand, the steel. That, the model's error and the reading's are in "
        "the ranges; a heat outside its range is a reason to stop and look.",
        "The torch matters as much as the vee: a flame of another width, or a slower "
        "hand, can move half or nothing. After the first logged heats the member itself "
        "tells the factor.",
        "Readings are taken as right but for their error: a string that touches, a block "
        "that moved or a sunny side is not in it.",
        "Twist, earlier stress in the steel, buckling and dishing are not computed.",
        f"Made in {time_text(plan.seconds)}; estimate: {plan.estimate}; reading error "
        f"{offset(job.survey.reading_error, job.print_units)}.",
    ]
