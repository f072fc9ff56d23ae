"""Log of heats, one readable line of text for each heat.

A line ends with "||"; one without it was cut off by a crash, is reported and does not
count.  A wrong line is struck by a later line.  Lines that begin with # are remarks.

    2026-03-02 14:10 | heat 2 | at 6 m, open at the top | pattern: vee 30 deg ... |
    expected 2.1 mrad, give or take 1 mrad | load +0.1 Mp | camber at 6 m: 56 mm to 51 mm
    | weather: 4 degC, wind | note: held a bit long ||            (all in one line)

Readings stand as they were typed, in the sense of the survey's: survey.camber_line and
sweep_line of the job say which way the member goes as they grow.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import cast

from shrinksim.errors import CaseError
from shrinksim.member.line import SIDES, Plane
from shrinksim.text.quoting import printable
from shrinksim.units.quantity import quantity
from shrinksim.units.tape import place, plain_number

END = "||"
MOST_FAULTS = 20
"""Most sentences on faults of a log; nobody reads more."""
TO = re.compile(r"\s+to\s+|\s*(?:->|→)\s*")
READING = re.compile(r"\s*(?:(camber|sweep)\s+)?(?:at\s+)?([^:]+):\s*(.+)", re.I)
AT = re.compile(r"at (.+), open at the (top|bottom|right|left)")


@dataclass(frozen=True)
class Reading:
    """Offsets from the string at one station before and after a heat.

    at : m from the marked end.  before, after : m, as read from the job's line; before
    is None where only the new one was typed.  texts : station, before, after as typed.
    """

    plane: Plane
    at: float
    before: float | None
    after: float
    texts: tuple[str, str, str]


@dataclass(frozen=True)
class LoggedHeat:
    """One line of the log.

    at : m.  side : of the open end.  expected, sigma : rad that it was to take off, and
    its standard deviation; moment_ratio : M/Mp, + helps; None where nothing was planned.
    line : number of the line in the file, 0 before it is written.
    """

    when: str
    number: int
    at: float
    side: str
    pattern: str
    expected: float | None
    sigma: float | None
    moment_ratio: float | None
    readings: tuple[Reading, ...]
    weather: str = ""
    note: str = ""
    factor: float = 1.0
    line: int = 0

    @property
    def plane(self) -> Plane:
        """The plane that the heat was to straighten."""
        return "camber" if self.side in SIDES["camber"] else "sweep"


@dataclass(frozen=True)
class Log:
    """A log as read: heats that count, in order of the lines, and faults of its lines."""

    path: Path
    heats: tuple[LoggedHeat, ...] = ()
    faults: tuple[str, ...] = ()

    @property
    def next_number(self) -> int:
        """Number of the next heat."""
        return 1 + max((heat.number for heat in self.heats), default=0)

    def after(self, number: int) -> Log:
        """Log of the heats after heat ``number``."""
        kept = tuple(heat for heat in self.heats if heat.number > number)
        return replace(self, heats=kept)

    def last(self, plane: Plane, at: float) -> Reading | None:
        """Latest reading at a station (to 5 mm), None without one."""
        found = [
            reading
            for heat in self.heats
            for reading in heat.readings
            if reading.plane == plane and abs(reading.at - at) < 5e-3
        ]
        return found[-1] if found else None


def parse_reading(text: str, plane: Plane = "camber") -> Reading:
    """ "6 m: 62 mm to 55 mm", "sweep 20 ft: 1 1/2 in to 1 1/4 in", "6 m: 55 mm"."""
    found = READING.fullmatch(one_line(text))
    if found is None:
        message = (
            f'"{one_line(text)[:60]}" is no reading; write station, before and after, such '
            'as "6 m: 62 mm to 55 mm"'
        )
        raise CaseError(message)
    named, station, offsets = found.groups()
    parts = [part.strip() for part in TO.split(offsets)]
    if len(parts) > 2:
        message = f'"{one_line(offsets)[:60]}" has more than two offsets; write two'
        raise CaseError(message)
    values = [quantity(part, "length") for part in parts]
    before, typed = (values[0], parts[0]) if len(parts) == 2 else (None, "")
    at = quantity(station.strip(), "length")
    of = cast("Plane", named.lower()) if named else plane
    return Reading(of, at, before, values[-1], (station.strip(), typed, parts[-1]))


def with_previous_reading(reading: Reading, log: Log) -> Reading:
    """Complete a reading: the offset before the heat comes from the log if not typed."""
    if reading.before is not None:
        return reading
    last = log.last(reading.plane, reading.at)
    station, _, after = reading.texts
    if last is None:
        message = (
            f"there is no earlier {reading.plane} reading at {station} in {log.path.name}"
            f'; write both, such as "{station}: 62 mm to {after}"'
        )
        raise CaseError(message)
    return replace(reading, before=last.after, texts=(station, last.texts[2], after))


def now() -> str:
    """Local date and time."""
    return datetime.now().strftime("%Y-%m-%d %H:%M")


def log_line(heat: LoggedHeat, units: str) -> str:
    """Format a heat as a line of the log, without the line end."""
    parts = [
        heat.when,
        f"heat {heat.number}",
        f"at {place(heat.at, units)}, open at the {heat.side}",
    ]
    if heat.pattern:
        parts.append(f"pattern: {one_line(heat.pattern, 400)}")
    if heat.expected is not None:
        mrad = quantity("1 mrad", "angle")
        give = (
            f", give or take {plain_number(heat.sigma / mrad)} mrad"
            if heat.sigma
            else ""
        )
        parts.append(f"expected {plain_number(heat.expected / mrad)} mrad{give}")
        if heat.factor != 1.0:
            parts.append(f"factor {plain_number(heat.factor)}")
    if heat.moment_ratio is not None:
        parts.append(f"load {heat.moment_ratio:+.3f} Mp")
    for reading in heat.readings:
        station, before, after = reading.texts
        parts.append(f"{reading.plane} at {station}: {before} to {after}")
    parts += [f"weather: {one_line(heat.weather)}"] * bool(one_line(heat.weather))
    parts += [f"note: {one_line(heat.note)}"] * bool(one_line(heat.note))
    return f"{' | '.join(parts)} {END}"


def one_line(text: str, most: int = 200) -> str:
    """One line of printable text without the field separator."""
    plain = "".join(c if c.isprintable() else " " for c in str(text)[: 4 * most])
    return " ".join(plain.replace("|", "/").split())[:most]


def parse_log(path: Path, text: str) -> Log:
    """Parse the text of a log; faults of lines are collected, not raised."""
    heats: dict[int, LoggedHeat] = {}
    faults: list[str] = []
    for row, line in enumerate(text.replace("\r\n", "\n").split("\n"), start=1):
        bare = line.strip()
        if not bare or bare.startswith("#"):
            continue
        where = f"{path.name}, line {row}"
        if not bare.endswith(END):
            faults.append(
                f'{where}: is not finished (no "{END}" at its end; a stop while it was '
                "written?); it does not count, log that heat again"
            )
            continue
        try:
            found = _line(bare)
        except CaseError as error:
            faults.append(f"{where}: {error.problems[0]}; it does not count")
            continue
        if isinstance(found, int):
            if heats.pop(found, None) is None:
                faults.append(f"{where}: strikes heat {found}, which is not there")
            continue
        if found.number in heats:
            faults.append(
                f"{where}: gives heat {found.number} again; this later one counts"
            )
            del heats[found.number]
        heats[found.number] = replace(found, line=row)
    more = len(faults) - MOST_FAULTS
    if more > 1:
        faults = [*faults[:MOST_FAULTS], f"{path.name}: {more} more lines like these"]
    return Log(path, tuple(heats.values()), tuple(map(printable, faults)))


@lru_cache(maxsize=10000)  # commands read a log more than once
def _line(text: str) -> LoggedHeat | int:
    """Parse one line: a heat, or the number of a struck one."""
    when, *parts = [p.strip() for p in text.removesuffix(END).split("|")]
    head = re.fullmatch(r"heat (\d{1,6})( struck)?", parts[0] if parts else "")
    if head is None or not re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d(:\d\d)?", when):
        message = (
            'does not begin with date, time and heat ("2026-03-02 14:10 | heat 2")'
        )
        raise CaseError(message)
    if head[2]:
        return int(head[1])
    heat = LoggedHeat(
        when=when,
        number=int(head[1]),
        at=0.0,
        side="",
        pattern="",
        expected=None,
        sigma=None,
        moment_ratio=None,
        readings=(),
    )
    for part in parts[1:]:
        heat = _with(heat, part)
    if not heat.side:
        message = 'does not say where the heat was ("at 6 m, open at the top")'
        raise CaseError(message)
    return heat


def _with(heat: LoggedHeat, part: str) -> LoggedHeat:
    """Add one field of the line to the heat."""
    name, _, rest = part.partition(":")
    if name in {"pattern", "weather", "note"}:
        return replace(heat, **{name: rest.strip()})
    if re.match(r"(camber|sweep) ", part):
        reading = parse_reading(part)
        if reading.before is None:
            message = f'"{part[:60]}" has one offset only; write "before to after"'
            raise CaseError(message)
        return replace(heat, readings=(*heat.readings, reading))
    if part.startswith("expected "):
        mean, *give = part.removeprefix("expected ").split(", give or take ")
        sigma = quantity(give[0], "angle") if give else None
        return replace(heat, expected=quantity(mean, "angle"), sigma=sigma)
    if used := re.fullmatch(r"factor ([0-9.]{1,9})", part):
        return replace(heat, factor=quantity(used[1], "dimensionless"))
    if load := re.fullmatch(r"load ([+-]?[0-9.]{1,9}) Mp", part):
        return replace(heat, moment_ratio=quantity(load[1], "dimensionless"))
    if spot := AT.fullmatch(part):
        return replace(heat, at=quantity(spot[1], "length"), side=spot[2])
    message = f'"{part[:60]}" is not a field of a log; write "note: {part[:20]}..."'
    raise CaseError(message)


def heat_numbers(heats: Sequence[LoggedHeat]) -> str:
    """ "heat 2", "heats 1, 3 and 4" of a sentence."""
    each = [str(heat.number) for heat in heats]
    if len(each) == 1:
        return f"heat {each[0]}"
    return f"heats {', '.join(each[:-1])} and {each[-1]}"
