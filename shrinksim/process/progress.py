"""Progress of a run: a bar on a terminal, lines at intervals elsewhere."""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Progress = Callable[[str, float, str], None]
"""progress(stage, share of the stage done or NaN, text)."""

EVERY = 10.0
"""s between lines where there is no terminal."""


@contextmanager
def shown_progress(quiet: bool) -> Iterator[Progress]:
    """Context with a Progress that reports to standard error."""
    if quiet:
        yield _silent
    elif sys.stderr.isatty():
        with _bar() as report:
            yield report
    else:
        yield plain_lines()


def _silent(stage: str, fraction: float, text: str) -> None:
    """Report nothing."""


@contextmanager
def _bar() -> Iterator[Progress]:
    """One bar for each stage, with the remaining time."""
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        TaskID,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )
    from rich.progress import Progress as Bars

    bars = Bars(
        TextColumn("{task.description:<8}"),
        BarColumn(bar_width=30),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
        TextColumn("{task.fields[text]}", markup=False),
        console=Console(stderr=True),
    )
    tasks: dict[str, TaskID] = {}

    def report(stage: str, fraction: float, text: str) -> None:
        if stage not in tasks:
            for before in tasks.values():
                bars.update(before, total=1.0, completed=1.0)
            tasks[stage] = bars.add_task(stage, total=1.0, text=text)
        if math.isnan(fraction):
            bars.update(tasks[stage], total=None, text=text)
            return
        done = min(max(fraction, 0.0), 1.0)
        bars.update(tasks[stage], total=1.0, completed=done, text=text)

    with bars:
        yield report


def plain_lines(
    clock: Callable[[], float] = time.monotonic, every: float = EVERY
) -> Progress:
    """A line at the start and end of a stage, and at most every ``every`` s between."""
    begun: dict[str, float] = {}
    last = 0.0
    ended: set[str] = set()

    def report(stage: str, fraction: float, text: str) -> None:
        nonlocal last
        now = clock()
        first = stage not in begun
        start = begun.setdefault(stage, now)
        end = fraction >= 1.0 and stage not in ended
        if not (first or end or (now - last >= every and not fraction >= 1.0)):
            return
        last = now
        if end:
            ended.add(stage)
        share = "" if math.isnan(fraction) else f" {100.0 * min(fraction, 1.0):.0f} %"
        line = f"{stage}{share}" + (f", {text}" if text else "")
        if 0.01 < fraction < 1.0 and now - start > 1.0:
            line += f", about {_duration((now - start) * (1 / fraction - 1))} left"
        sys.stderr.write(
            f"{line}\n"
        )  # one call, so that a stop signal does not split it
        sys.stderr.flush()

    return report


def _duration(seconds: float) -> str:
    """Time in s or min."""
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"
