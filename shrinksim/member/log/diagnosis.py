"""Diagnosis of logged heats in words: against the plan, and what to check.

The checks are common practice without a source, except where one is named.
"""

from __future__ import annotations

from shrinksim.member.log.learn import Findings, ObservedHeat
from shrinksim.units.quantity import quantity
from shrinksim.units.tape import plain_number

COLD = (
    "Was it read cold? While the heated side is warmer than the rest it is longer, and "
    "the member stands the other way; wait until both sides read the same on a "
    "thermometer, not by hand."
)
STOOD = (
    "Did a support, the string, a block or the mark move, and was it read at the same "
    "stations, with the same load on?"
)
OPPOSED = (
    "Does the load press the open end together? {load} Weight that opens the vee pulls "
    "the hot steel apart: turn the member over, move the supports or hang a weight."
)
SHALLOW = (
    "Was the open end on the bulging side, and was the vee as deep and as wide as on "
    "the card? A shallow one leaves too little hot width."
)
SLOW = (
    "Was it slow, or the flame wide or soft? When the whole depth is hot at once there "
    "is no cold steel to press against, and the vee does nothing."
)
THROUGH = (
    "Was it hot through? Thick steel is red on its face before it is hot inside: look "
    "at the far face; from about 25 mm (1 in) on, heat both faces (from memory)."
)
QUENCHED = (
    "Was it cooled before it had its heat through, or was the next heat begun before "
    "the last was cold?"
)
HELD = (
    "Is an end held, does a jack push the wrong way or sit loose, did a crib take the "
    "load, did something rub or clamp?"
)
AGAIN = (
    "Was the same place heated again? A line that has shrunk once gains little more."
)
YIELD = (
    "Is the steel stronger than its grade says? A higher yield lowers what a load does."
)
HOTTER = (
    "Was it hotter than the card says? Above the limit of the grade more heat does not "
    "straighten better; it harms the steel and the member may fold or roll."
)
SOFT = (
    "Does more load lie on it than planned, or is the steel weaker than its grade? "
    "Check the margin to a hot hinge before the next heat."
)
SMALLER = (
    "Make the next heats smaller, and read after each: what is overdone costs twice."
)
FINER = (
    "Read nearer to the heat, with a finer scale or a laser, or read twice and take the "
    "mean; the movement of one heat is smaller than what such a reading can tell."
)

LOOK: dict[str, tuple[str, ...]] = {
    "no readings": (),
    "cannot tell": (FINER,),
    "as predicted": (),
    "backwards": (COLD, STOOD, SHALLOW, SLOW, THROUGH, QUENCHED, HELD),
    "less": (SHALLOW, SLOW, THROUGH, COLD, HELD, AGAIN, YIELD),
    "more": (HOTTER, SOFT, SMALLER, STOOD),
}

UNSURE = 0.5
"""A heat more likely than this to have gone wrong is named."""


def findings_in_words(findings: Findings) -> tuple[str, ...]:
    """Findings of the log, one sentence each."""
    if findings.diagnosis == "no readings":
        return ("No heat in the log has a plan and readings yet: nothing is learnt.",)
    lines = [_main(findings)]
    for heat, wrong in zip(findings.heats, findings.factor.wrong, strict=True):
        if heat.backwards or wrong > UNSURE:
            lines.append(_astray(heat))
    if findings.unread:
        listed = ", ".join(map(str, findings.unread))
        lines.append(f"Without a plan or readings, and so left out: heat {listed}.")
    return tuple(lines)


def checks_before_next_heat(findings: Findings) -> tuple[str, ...]:
    """Checks before the next heat, none when the member behaves as predicted."""
    found = LOOK[findings.diagnosis]
    if findings.diagnosis != "backwards":
        return found
    ratio = next(
        (h.moment_ratio for h in reversed(findings.heats) if h.backwards), None
    )
    load = "" if ratio is None else f"At the last such heat it was {ratio:+.2f} Mp."
    first = OPPOSED.format(load=load).replace("  ", " ")
    return (first, *found) if ratio is None or ratio <= 0.0 else (*found, first)


def _main(findings: Findings) -> str:
    """Sentence with the factor, its interval and the diagnosis."""
    factor, count = findings.factor, len(findings.heats)
    after = "After one heat" if count == 1 else f"After {count} heats"
    far = (
        f"the member moves {factor.median:.2f} times as far as predicted (nine chances "
        f"in ten: {factor.low:.2f} to {factor.high:.2f})"
    )
    match findings.diagnosis:
        case "backwards":
            return f"{after}: it went backwards. Stop and find out why before the next."
        case "cannot tell":
            return (
                f"{after} nothing can be told yet: the reading error is as large as the "
                "movement."
            )
        case "less":
            return f"{after} {far}: less than predicted."
        case "more":
            return f"{after} {far}: more than predicted. Take care."
        case _:
            return f"{after} {far}: it behaves as predicted."


def _astray(heat: ObservedHeat) -> str:
    """Sentence on a heat that is left out of the factor."""
    mrad = quantity("1 mrad", "angle")
    went = plain_number(abs(heat.observed) / mrad, 2)
    way = "the wrong way" if heat.observed < 0.0 else "the right way"
    return (
        f"Heat {heat.number} turned the member {went} mrad {way}; expected were "
        f"{plain_number(heat.expected / mrad, 2)} mrad, and its reading is good to "
        f"{plain_number(heat.error / mrad, 2)} mrad. It is not counted for the factor."
    )
