"""Waiting for a state on a machine that may be busy: long, and only for what must come."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from pathlib import Path

PATIENCE = 120.0
"""s after which what has not come counts as never coming."""

FOR_EVER = 3600.0
"""s of a run that nobody waits for the end of."""


def wait_for(condition: Callable[[], object]) -> None:
    """Until the condition holds; AssertionError when it never does."""
    until = time.monotonic() + PATIENCE
    while not condition():
        assert time.monotonic() < until, "it never came"
        time.sleep(0.02)


def gone(processes: Iterable[int]) -> bool:
    """Whether all processes end (proc(5)); zombies have no command line."""
    numbers = set(processes)
    try:
        wait_for(lambda: not any(_lives(number) for number in numbers))
    except AssertionError:
        return False
    return True


def _lives(number: int) -> bool:
    try:
        return bool(Path(f"/proc/{number}/cmdline").read_bytes())
    except OSError:
        return False
