"""Results of a survey and of a plan, in lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from shrinksim.commands.terminal import cautions, wrapped

if TYPE_CHECKING:
    from shrinksim.member.job.read import Job
    from shrinksim.member.line import Plane
    from shrinksim.member.plan.records import Alternative, HeatCard, Plan
    from shrinksim.member.survey.shape import Shape
    from shrinksim.member.survey.survey import SurveyResult

Row = Sequence[str]


def surveyed(survey: SurveyResult, job: Job) -> str:
    """The fit of every plane, its bends, and what the tolerance says."""
    lines = [job.title]
    for plane, shape in survey.shapes.items():
        lines += ["", *_fit(plane, shape, job)]
    lines += ["", *(wrapped(verdict.text, "  - ") for verdict in survey.verdicts)]
    lines += [wrapped(text, "  - ") for text in survey.remarks]
    return "\n".join(lines)


def _fit(plane: Plane, shape: Shape, job: Job) -> Iterator[str]:
    """One plane's line: how well it fits, and a table of its bends."""
    from shrinksim.units.tape import offset, place

    units = job.print_units
    yield wrapped(
        f"{plane.capitalize()}: {len(shape.bends)} "
        f"bend{'s' * (len(shape.bends) != 1)}; the readings lie "
        f"{offset(shape.residual, units)} (rms) off the fitted line, their error is "
        f"{offset(shape.reading_error, units)}. Taken as read from a line along the "
        f"{job.survey.line_on(shape.plane)}: a larger reading is further "
        f"{_larger(shape.plane, job)}."
    )
    if shape.bends:
        rows = [("at", "rotation", "+-", "over", "bulges")]
        for bend in shape.bends:
            rows.append((
                place(bend.at, units), _mrad(abs(bend.turn)), _mrad(bend.sigma),
                place(bend.length, units) if bend.length else "a kink",
                _bulge(plane, bend.turn),
            ))  # fmt: skip
        yield table(rows)


def _larger(plane: Plane, job: Job) -> str:
    """Where a member is whose reading is larger."""
    up, down = ("up", "down") if plane == "camber" else ("right", "left")
    return down if plane in job.survey.inverted_planes else up


def _bulge(plane: Plane, turn: float) -> str:
    """Direction that a bend bulges in."""
    from shrinksim.member.line import SIDES

    words = {"top": "up", "bottom": "down"}
    side = SIDES[plane][0 if turn >= 0.0 else 1]
    return words.get(side, side)


def _mrad(turn: float) -> str:
    from shrinksim.member.plan.sentences import mrad

    return mrad(turn)


def planned(plan: Plan, job: Job) -> str:
    """Verdicts, cards, range, stop rule, alternatives, cautions."""
    lines = [plan.title, ""]
    lines += [wrapped(verdict.text, "  - ") for verdict in plan.verdict_before]
    if plan.cards:
        lines += ["", table([_HEAD, *(_card(card, job) for card in plan.cards)])]
        lines += ["", wrapped(_range(plan))]
    if plan.alternatives:
        lines += ["", "Alternatives:"]
        lines += [
            table(
                [_ALTERNATIVES, *(_alternative_row(a, job) for a in plan.alternatives)]
            )
        ]
        lines += [wrapped(f"{a.name}: {a.remark}.", "  ") for a in plan.alternatives]
    if plan.stop:
        lines += ["", "When to stop:", *(wrapped(s, "  - ") for s in plan.stop)]
    return "\n".join([*lines, *cautions(plan.cautions)])


_HEAD = ("heat", "at", "open", "vee", "M/Mp", "takes off", "left", "torch", "drop")
_ALTERNATIVES = ("", "heats", "a heat moves", "hours", "gas", "M/Mp", "margin")


def _card(card: HeatCard, job: Job) -> Row:
    from shrinksim.units.quantity import show
    from shrinksim.units.tape import offset, place

    units = job.print_units
    left = float(abs(card.line_after).max())
    return (
        str(card.number), place(card.at, units), card.side,
        str(card.patterns[0].get("angle", "")), f"{card.moment_ratio:+.3f}",
        f"{_mrad(card.move)} +- {_mrad(card.sigma).removesuffix(' mrad')}",
        offset(left, units), show(card.heating_time, "time", units),
        offset(card.drop, units),
    )  # fmt: skip


def _range(plan: Plan) -> str:
    """Number of heats and its certainty."""
    how = "finite-element runs" if plan.estimate == "model" else "a quick relation"
    return (
        f"{len(plan.cards)} heats are planned; nine times in ten it takes {plan.least} "
        f"to {plan.most} (read after each), and {_chance(plan.chance)} in 100 end "
        f"inside the tolerance. About {plan.hours:.1f} h with cooling. Movements by {how}."
    )


def _chance(share: float) -> str:
    """Chance in a hundred, never a full hundred."""
    return "over 99" if share > 0.99 else f"{100.0 * share:.0f}"


def _alternative_row(row: Alternative, job: Job) -> Row:
    from shrinksim.units.quantity import show

    def value_or_dash(value: float | None, text: str) -> str:
        return "-" if value is None else text

    heats = "-" if row.least is None else f"{row.heats:.1f} ({row.least}-{row.most})"
    return (
        row.name, heats if row.possible else f"no {heats}".removesuffix(" -"),
        value_or_dash(row.move_per_heat, _mrad(row.move_per_heat or 0.0)),
        value_or_dash(row.hours, f"{row.hours or 0.0:.1f}"),
        value_or_dash(row.gas, show(row.gas or 0.0, "energy", job.print_units)),
        value_or_dash(row.moment_ratio, f"{row.moment_ratio or 0.0:+.3f}"),
        value_or_dash(row.hinge_margin, f"{row.hinge_margin or 0.0:.1f}"),
    )  # fmt: skip


def table(rows: Sequence[Row]) -> str:
    """Rows in columns, indented."""
    wide = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    lines = [
        "  " + "  ".join(cell.ljust(w) for cell, w in zip(row, wide, strict=True))
        for row in rows
    ]
    return "\n".join(line.rstrip() for line in lines)
