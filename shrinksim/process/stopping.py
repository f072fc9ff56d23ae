"""Ctrl-C and SIGTERM: both end a run as KeyboardInterrupt, and wait where they must."""

from __future__ import annotations

import atexit
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

ASKED = (signal.SIGINT, signal.SIGTERM)

SOON = 0.01
"""s, after which a stop that came at a bad moment is tried again."""

_asked: set[int] = set()
"""Signals that came.  No Event: its lock, held by what a signal interrupts, hangs all."""


def hear_stops() -> None:
    """From now on SIGTERM ends this process as Ctrl-C does: unfinished files go."""
    _asked.clear()
    atexit.register(_try_no_more)  # Python's end gives SIGALRM back, which kills
    sys.unraisablehook = _swallowed
    if threading.current_thread() is not threading.main_thread():
        return
    signal.signal(signal.SIGTERM, _stopped)
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _stopped)


def _swallowed(told: sys.UnraisableHookArgs) -> None:
    """Nothing of a stop that Python cannot raise where it came: it is heard later."""
    if not (told.exc_type is KeyboardInterrupt and _asked):
        sys.__unraisablehook__(told)


def _stopped(number: int, frame: FrameType | None) -> None:
    _asked.add(number)
    if hasattr(signal, "setitimer") and _in_compiler(frame):
        signal.signal(signal.SIGALRM, lambda *_: signal.raise_signal(number))
        signal.setitimer(signal.ITIMER_REAL, SOON)
        return
    _try_no_more()
    raise KeyboardInterrupt


def _try_no_more() -> None:
    """The stop that waited has been heard otherwise, or there is nothing to stop."""
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, 0.0)


def _in_compiler(frame: FrameType | None) -> bool:
    """Whether the stop came in what LLVM calls back, which dies of an exception."""
    while frame is not None:
        if frame.f_globals.get("__name__", "").startswith("llvmlite."):
            return True
        frame = frame.f_back
    return False


def stop_asked() -> bool:
    """Whether a stop came since this was last asked.

    For what catches an Exception: libraries that call back make others of an interrupt.
    """
    asked = bool(_asked)
    _asked.clear()
    if asked:
        _try_no_more()
    return asked


@contextmanager
def stops_held() -> Iterator[Callable[[], None]]:
    """What is inside is finished first, then Ctrl-C and SIGTERM that came are heard.

    For steps that leave a mess when cut short, and for libraries that swallow an
    exception in what they call back.  Gives a function that holds the signals once
    more, for after a library that has put its own handlers in.
    """
    if threading.current_thread() is not threading.main_thread():
        yield lambda: None
        return
    came: list[int] = []
    own = {number: signal.getsignal(number) for number in ASKED}
    heard = [number for number in ASKED if callable(own[number])]
    pipe = getattr(signal, "SIGPIPE", None)  # gmsh makes it end the process unheard
    broken = signal.getsignal(pipe) if pipe else None

    def hold() -> None:
        for number in heard:
            signal.signal(number, lambda which, _frame: came.append(which))

    hold()
    try:
        yield hold
    finally:
        for number in heard:
            signal.signal(number, own[number])
        if pipe and broken is not None:
            signal.signal(pipe, broken)
        if came:
            signal.raise_signal(came[0])
