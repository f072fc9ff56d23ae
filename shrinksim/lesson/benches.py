"""Choices at each bench of the lesson."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shrinksim.lesson.lesson import HELD_PEAKS, PEAK, SIDES, SPRINGS, THREE_PEAKS
from shrinksim.lesson.states import BarTrack, PlateTrack
from shrinksim.lesson.units import SYSTEMS
from shrinksim.views.caution import FORCED


@dataclass(frozen=True)
class BenchChoice:
    """A set of choices; options : (value, words), the first of ``chosen`` at first.

    Words with {0} take that temperature (degC) in the reader's units.
    """

    name: str
    legend: str
    options: tuple[tuple[str, str], ...]
    chosen: str


@dataclass(frozen=True)
class Bench:
    """A bench: its choices, how many drawings it has, and the key that is printed."""

    name: str
    choices: tuple[BenchChoice, ...]
    drawings: int
    printed: str


def _peaks(peaks: tuple[float, ...], chosen: float) -> BenchChoice:
    options = tuple((f"{peak:g}", f"{{{peak:g}}}") for peak in peaks)
    return BenchChoice("peak", "Heated to", options, f"{chosen:g}")


def _ratio(stiff: float) -> str:
    """A stiffness as a workshop would write it."""
    return f"1/{1.0 / stiff:.0f}" if stiff < 1.0 else f"{stiff:g}"


BENCHES = (
    Bench(
        "held",
        (
            BenchChoice(
                "hold",
                "The bar is",
                (
                    ("jaws", "in a vice that can only push"),
                    ("walls", "welded between two walls"),
                ),
                "jaws",
            ),
            _peaks(HELD_PEAKS, PEAK),
        ),
        2,
        f"jaws|{PEAK:g}",
    ),
    Bench("free", (), 2, "free"),
    Bench(
        "spring",
        (
            BenchChoice(
                "way",
                "The spring",
                (
                    ("pushes and pulls", "pushes and pulls, like cold steel around"),
                    ("only pushes", "only pushes, like a jack"),
                ),
                "pushes and pulls",
            ),
            BenchChoice(
                "stiffness",
                "Its stiffness, over the bar's",
                tuple((f"{stiff:g}", _ratio(stiff)) for stiff in SPRINGS),
                "1",
            ),
        ),
        3,
        "pushes and pulls|0.2",
    ),
    Bench(
        "three",
        (
            BenchChoice(
                "sides",
                "Each cold bar is",
                tuple(
                    (f"{side:g}", words)
                    for side, words in zip(
                        SIDES,
                        ("as thick as the middle one", "five times as thick"),
                        strict=True,
                    )
                ),
                "1",
            ),
            _peaks(THREE_PEAKS, PEAK),
        ),
        2,
        f"1|{PEAK:g}",
    ),
    Bench("vee", (), 3, "none"),
    Bench(
        "loads",
        (
            BenchChoice(
                "load",
                "On the plate acts",
                (
                    ("none", "nothing"),
                    ("helping", "a weight that helps"),
                    ("jack", "a jack that helps"),
                    ("opposing", "a weight that opposes"),
                    ("heavy", "a weight that is too heavy"),
                ),
                "helping",
            ),
        ),
        3,
        "helping",
    ),
    Bench(
        "coolings",
        (
            BenchChoice(
                "cooling",
                "It cools in",
                (
                    ("still", "still air"),
                    ("jet", f"an air jet, from {{{FORCED:g}}} down"),
                    ("mist", f"mist, from {{{FORCED:g}}} down"),
                    ("at once", "mist, as soon as the torch is off"),
                    ("behind", "mist that follows the torch"),
                ),
                "still",
            ),
        ),
        3,
        "mist",
    ),
)


def benches(units: str) -> tuple[Bench, ...]:
    """The benches with temperatures in the reader's units."""
    degrees = SYSTEMS[units]["temperature"]

    def words(text: str) -> str:
        before, brace, rest = text.partition("{")
        if not brace:
            return text
        value, _, after = rest.partition("}")
        return f"{before}{degrees.text(float(value))}{after}"

    def in_units(choice: BenchChoice) -> BenchChoice:
        options = tuple((value, words(text)) for value, text in choice.options)
        return replace(choice, options=options)

    return tuple(replace(b, choices=tuple(map(in_units, b.choices))) for b in BENCHES)


def key_of(track: BarTrack | PlateTrack, bench: str) -> str:
    """The values of a bench's choices that lead to a track, in order."""
    if isinstance(track, PlateTrack):
        return "still" if bench == "coolings" and track.name == "none" else track.name
    holding = track.holding
    match bench:
        case "held":
            return f"{holding.name}|{track.peak:g}"
        case "spring":
            return f"{holding.way}|{holding.stiffness:g}"
        case "three":
            return f"{holding.sides:g}|{track.peak:g}"
        case _:
            return "free"
