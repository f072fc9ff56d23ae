"""The heats of a section: a torch that passes by, plays over the length, or stays."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.casefile.heating import AnyCooling, ForcedCooling, StillAir
from shrinksim.casefile.resolving import REACH, has_held_torch
from shrinksim.errors import NotConverged
from shrinksim.fem.conduction import EdgeExchange, EdgeSource, Medium, edge_points
from shrinksim.heat.history import HeatHistory, joined
from shrinksim.heat.march import solve_heat
from shrinksim.heat.phase import TORCH, Phase, PhaseName, Stepping
from shrinksim.heat.trailing_cooling import smooth_cutoff
from shrinksim.shop.cooling import still_air
from shrinksim.shop.outline import along_surface
from shrinksim.shop.pattern import Drive
from shrinksim.views.cooling_phases import EDGE, LONGEST, forced_law, is_steady
from shrinksim.views.section.geometry import Cut, Heated
from shrinksim.views.section.record import SectionCase, SectionHeat
from shrinksim.views.section.torch import (
    OUTLINE,
    PASS,
    PIECES,
    inlet_of,
    passing,
    surface_on,
    under,
)
from shrinksim.views.view import Heating

TARGET = 2.0
"""K, how near the hottest steel comes to the target by the speed that is found."""

SEARCH = PhaseName("looking for the torch's speed")

FOLLOWED = "torch, cooling behind it"
GOES_ON = "torch farther along"
"""Kinds of phases where a torch has passed the section."""

Say = Callable[[float, str], None]


def heat_cut(
    case: SectionCase,
    cut: Cut,
    body: Medium,
    say: Say,
    speeds: Sequence[float | None] = (),
) -> Heating:
    """Heat and cool the section as the case says.

    speeds : m/s of each pattern's torch, when they are known from an earlier run.
    Raises NotConverged when a target cannot be reached.
    """
    stage = _Stage(case, cut, body, say, speeds)
    heats = zip(case.heats, cut.heats, strict=True)
    for number, (heat, drawn) in enumerate(heats, start=1):
        for turn, pattern in enumerate(drawn):
            stage.pending += pattern.pause
            stage.burn(pattern, heat.cooling, number, turn + 1)
        if stage.pending > 0.0:
            stage.rest(stage.pending, PhaseName(GOES_ON, number))
            stage.pending = 0.0
        stage.cool(heat, drawn, number)
    cold = case.surroundings.ambient + 5.0
    stage.march([stage.phase(LONGEST, until=cold, name=PhaseName("to cold"))])
    return Heating(
        joined(stage.parts),
        tuple(stage.speeds),
        tuple(stage.times),
        has_held_torch(case.heats),
    )


class _Stage:
    """The march so far: its histories, one after another.

    pending : s, that are still to pass before the next torch is lit: the last one goes
    on beyond the section, and the pattern's pause.
    """

    def __init__(
        self, case: SectionCase, cut: Cut, body: Medium, say: Say,
        known: Sequence[float | None],
    ) -> None:  # fmt: skip
        self.known = known
        self.case, self.cut, self.body, self.say = case, cut, body, say
        self.ambient = case.surroundings.ambient
        self.air = still_air(self.ambient, case.surroundings.emissivity)
        self.calm = (EdgeExchange(OUTLINE, self.air, 1.0, steady=True),)
        self.stepping = Stepping(tolerance=case.numerics.heat_tolerance)
        self.T: FloatArray | float = self.ambient
        self.t = 0.0
        self.pending = 0.0
        self.parts: list[HeatHistory] = []
        self.speeds: list[float | None] = []
        self.times: list[float] = []

    def phase(self, duration: float, **options: object) -> Phase:
        """A phase in still air."""
        return replace(Phase(duration, edges=self.calm), **options)  # type: ignore[arg-type]

    def march(self, phases: Sequence[Phase]) -> None:
        """Go through phases and keep them."""
        part = self.trial(phases)
        self.parts.append(part)
        self.T = part.temperature[-1]
        self.t += float(part.times[-1])

    def trial(self, phases: Sequence[Phase]) -> HeatHistory:
        """Go through phases without keeping them."""
        t0 = self.t
        return solve_heat(
            self.body, phases, initial=self.T, stepping=self.stepping,
            progress=lambda t, text: self.say(t0 + t, text),
        )  # fmt: skip

    def rest(self, duration: float, name: PhaseName) -> None:
        """Wait in still air."""
        self.march([self.phase(duration, name=name)])

    def burn(self, pattern: Heated, cooling: AnyCooling, heat: int, torch: int) -> None:
        """Heat a pattern, once its torch has come to the section."""
        name = PhaseName(TORCH, heat, torch)
        inlet = inlet_of(self.cut, self.body, pattern)
        place = along_surface(
            self.cut.pieces, pattern.on[0], np.array([pattern.at])
        )[0]  # fmt: skip
        near = under(self.cut, self.body, pattern)
        if pattern.at_once:
            self._wait(0.0, heat)
            self._at_once(pattern, inlet, near, place, name)
            return
        known = len(self.speeds) < len(self.known)
        speed = (self.known[len(self.speeds)] if known else None) or pattern.drive.speed
        search = pattern.drive.target is not None and not known
        if search:
            speed = self._speed(pattern, inlet, near)
        if self.parts:
            ahead = 0.5 * pattern.length - PASS * pattern.drive.radius
            self._wait(max(ahead, 0.0) / speed, heat)
            if search:
                speed = self._speed(pattern, inlet, near)
        self.speeds.append(speed)
        self.times.append(pattern.length / speed)
        spray = self._spray(pattern, cooling, speed)
        used = self._pass(pattern, inlet, speed, place, name, spray)
        self.pending = max(0.5 * pattern.length / speed - used, 0.0)

    def _wait(self, coming: float, heat: int) -> None:
        """Let the last torch go on, pause, and the next one come (s) to the section."""
        wait, self.pending = self.pending + coming, 0.0
        if wait > 0.0:
            self.rest(wait, PhaseName("until the torch is here", heat))

    def _refuse_hot(self, target: float, near: IntArray) -> None:
        """NotConverged when the steel to be heated is at its target already."""
        hot = float((self.T + np.zeros(len(self.body.mesh.points)))[near].max())
        if hot >= target - TARGET:
            message = (
                f"the steel is at {hot:.0f} degC already when its torch is lit, its "
                f"target {target:.0f} degC: let it cool first (pause, or a [[heat]] of "
                "its own with cooling.until)"
            )
            raise NotConverged(message, time=self.t)

    def _at_once(
        self, pattern: Heated, inlet: EdgeSource, near: IntArray, place: FloatArray,
        name: PhaseName,
    ) -> None:  # fmt: skip
        """Burn until the hottest of the steel under the torch has the target."""
        drive = pattern.drive
        assert drive.target is not None
        self._refuse_hot(drive.target, near)
        self.speeds.append(None)
        heat = self.phase(
            drive.patience, inlets=(inlet,), heat_to=drive.target, heated_at=place,
            name=name, target_nodes=near,
        )  # fmt: skip
        self.march([heat])
        spots = pattern.length * pattern.share / pattern.width
        times = spots if pattern.share < 1.0 else 1.0
        self.times.append(times * float(self.parts[-1].times[-1]))

    def _pass(
        self, pattern: Heated, inlet: EdgeSource, speed: float,
        place: FloatArray, name: PhaseName, spray: tuple[tuple[EdgeExchange, ...], float],
    ) -> float:  # fmt: skip
        """A torch passes, and what follows it; returns the time (s) past the torch."""
        half = PASS * pattern.drive.radius / speed
        more, end = spray
        phases = passing(pattern, inlet, speed, place, name, (*self.calm, *more))
        if end > half:
            part = (end - half) / PIECES
            followed = replace(name, kind=FOLLOWED)
            wet = Phase(part, edges=(*self.calm, *more), name=followed)
            phases += [wet] * PIECES
        self.march(phases)
        return max(half, end)

    def _speed(self, pattern: Heated, inlet: EdgeSource, near: IntArray) -> float:
        """The speed at which the steel under the torch comes to the target, by secants.

        The rise of the peak falls with some power of the speed.
        """
        drive = pattern.drive
        assert drive.target is not None
        if not self.pending:
            self._refuse_hot(drive.target, near)
        goal = np.log(drive.target - self.ambient)
        power, speed = 0.8, self._first_speed(pattern)
        last: tuple[float, float] | None = None
        peak = self.ambient
        for _ in range(12):
            speed = min(speed, drive.speed)
            waits = 2.0 * drive.radius / speed > drive.patience
            phases = passing(pattern, inlet, speed, np.zeros(2), SEARCH, self.calm)
            peak = float(self.trial(phases).peak[near].max())
            if abs(peak - drive.target) <= TARGET:
                return speed
            if speed == drive.speed and peak > drive.target:
                raise NotConverged(_too_hot(drive, peak))
            if waits and peak < drive.target:
                raise NotConverged(_too_cold(drive, peak, speed))
            rise = np.log(max(peak - self.ambient, 1.0))
            if last is not None and abs(np.log(speed / last[0])) > 1e-6:
                slope = -(rise - last[1]) / np.log(speed / last[0])
                power = float(np.clip(slope, 0.3, 2.0))
            last = speed, rise
            speed *= float(np.exp(np.clip((rise - goal) / power, -1.2, 1.2)))
        message = (
            f"the speed of the torch is not found: at {speed * 1e3:.2f} mm/s the "
            f"hottest steel comes to {peak:.0f} degC of {drive.target:.0f} degC"
        )
        raise NotConverged(message)

    def _first_speed(self, pattern: Heated) -> float:
        """A guess: the torch's heat in the steel under it, and half as much beside."""
        drive = pattern.drive
        assert drive.target is not None
        thick = self.cut.fine * 3.0
        wide = 2.0 * (pattern.half + drive.radius)
        needs = 7850.0 * 600.0 * (drive.target - self.ambient) * thick * wide
        return max(drive.power / needs / 1.5, 1e-4)

    def _spray(
        self, pattern: Heated, cooling: AnyCooling, speed: float
    ) -> tuple[tuple[EdgeExchange, ...], float]:
        """What follows the torch, in place of the air there, and the time (s) from the
        torch's passing to its end; nothing and 0 when nothing follows.
        """
        if isinstance(cooling, StillAir) or cooling.behind is None:
            return (), 0.0
        forced = forced_law(cooling, self.ambient, self.t)
        reach = cooling.reach or REACH
        begin = PASS * pattern.drive.radius / speed
        behind = cooling.behind

        beside = np.full(edge_points(self.body, OUTLINE).shape[:2], np.inf)
        for name in cooling.on or pattern.on:
            here, s = self.surface(name)
            away = np.abs(s - pattern.at) - 0.5 * pattern.width
            beside[here] = np.maximum(away, 0.0)

        def law(T: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
            gap = np.hypot(beside, speed * (t - begin) - behind)
            share = smooth_cutoff(gap - reach, EDGE)
            (q, slope), (calm, less) = forced(T, t), self.air(T, t)
            return share * (q - calm), share * (slope - less)

        return (EdgeExchange(OUTLINE, law, 1.0),), (behind + reach + EDGE) / speed

    def surface(self, name: str) -> tuple[slice, FloatArray]:
        """Where a surface stands in the outline, and its points' coordinates (f, b)."""
        return surface_on(self.cut, self.body, name)

    def cool(self, heat: SectionHeat, drawn: tuple[Heated, ...], number: int) -> None:
        """Still air up to the start of the forced cooling, then that until cool."""
        cooling = heat.cooling
        until = max(cooling.until, self.ambient + 5.0)
        air = PhaseName("still air", number)
        if isinstance(cooling, StillAir):
            self.march([self.phase(cooling.longest, until=until, name=air)])
            return
        if cooling.start_below is not None:
            self.march([self.phase(LONGEST, until=cooling.start_below, name=air)])
        elif cooling.start_after:
            self.rest(cooling.start_after, air)
        cover = self._cover(drawn, cooling)
        law = forced_law(cooling, self.ambient, self.t)
        edges = (
            EdgeExchange(OUTLINE, law, 1.0, cover, steady=is_steady(cooling)),
            EdgeExchange(OUTLINE, self.air, 1.0, 1.0 - cover, steady=True),
        )
        name = PhaseName(cooling.kind, number)
        self.march([Phase(cooling.longest, edges=edges, until=until, name=name)])

    def _cover(self, drawn: tuple[Heated, ...], cooling: ForcedCooling) -> FloatArray:
        """Share (f, b) of the outline that the forced cooling wets or blows on."""
        cover = np.zeros(edge_points(self.body, OUTLINE).shape[:2])
        if cooling.everywhere:
            return cover + 1.0
        for name in cooling.on or ():
            cover[self.surface(name)[0]] = 1.0
        if cooling.on is not None:
            return cover
        for pattern in drawn:
            for name in pattern.on:
                here, s = self.surface(name)
                reach = 0.5 * pattern.width + (cooling.reach or 0.0)
                wet = smooth_cutoff(np.abs(s - pattern.at) - reach, EDGE)
                cover[here] = np.maximum(cover[here], wet)
        return cover


def _too_hot(drive: Drive, peak: float) -> str:
    return (
        f"the torch is too strong for its target: at {drive.speed * 1e3:.0f} mm/s, the "
        f"fastest allowed, the hottest steel comes to {peak:.0f} degC, not "
        f"{drive.target:.0f} degC; use less power, a larger radius or a faster speed"
    )


def _too_cold(drive: Drive, peak: float, speed: float) -> str:
    return (
        f"the torch cannot reach its target: at {speed * 1e3:.2f} mm/s it is over one "
        f"place for more than {drive.patience:.0f} s, and the hottest steel comes to "
        f"{peak:.0f} degC of {drive.target:.0f} degC; use more power or a smaller "
        "radius, or lower the target"
    )
