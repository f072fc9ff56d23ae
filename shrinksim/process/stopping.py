"""Stop signals: Ctrl-C and SIGTERM raise KeyboardInterrupt, deferred where necessary."""

from __future__ import annotations

import atexit
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM)

SOON = 0.01
"""Time (s) after which a stop that cannot be raised yet is tried again."""

_requested: set[int] = set()
"""Signals received.  Not an Event: its lock could be held by the interrupted code."""


def install_stop_handlers() -> None:
    """Install handlers by which SIGTERM ends the process as Ctrl-C does, with clean-up."""
    _requested.clear()
    atexit.register(_cancel_retry)  # at exit SIGALRM has its default again, which kills
    sys.unraisablehook = _on_unraisable
    if threading.current_thread() is not threading.main_thread():
        return
    signal.signal(signal.SIGTERM, _stopped)
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _stopped)


def _on_unraisable(unraisable: sys.UnraisableHookArgs) -> None:
    """Hook that ignores a stop that Python cannot raise here: it is raised later."""
    if not (unraisable.exc_type is KeyboardInterrupt and _requested):
        sys.__unraisablehook__(unraisable)


def _stopped(number: int, frame: FrameType | None) -> None:
    """Handler: raise KeyboardInterrupt, or try again soon inside the compiler."""
    _requested.add(number)
    if hasattr(signal, "setitimer") and _in_compiler(frame):
        signal.signal(signal.SIGALRM, lambda *_: signal.raise_signal(number))
        signal.setitimer(signal.ITIMER_REAL, SOON)
        return
    _cancel_retry()
    raise KeyboardInterrupt


def _cancel_retry() -> None:
    """Cancel the timer of a deferred stop."""
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, 0.0)


def _in_compiler(frame: FrameType | None) -> bool:
    """Whether the signal came in a callback of LLVM, which must not raise."""
    while frame is not None:
        if frame.f_globals.get("__name__", "").startswith("llvmlite."):
            return True
        frame = frame.f_back
    return False


def stop_requested() -> bool:
    """Whether a stop came since the last call.

    For handlers of Exception: libraries turn an interrupt in a callback into another
    exception.
    """
    requested = bool(_requested)
    _requested.clear()
    if requested:
        _cancel_retry()
    return requested


@contextmanager
def defer_stops() -> Iterator[Callable[[], None]]:
    """Context in which Ctrl-C and SIGTERM are deferred to its end.

    For steps that must not be interrupted, and for libraries that swallow exceptions of
    callbacks.  Yields a function that defers the signals again, after a library that has
    installed its own handlers.
    """
    if threading.current_thread() is not threading.main_thread():
        yield lambda: None
        return
    received: list[int] = []
    own = {number: signal.getsignal(number) for number in STOP_SIGNALS}
    handled = [number for number in STOP_SIGNALS if callable(own[number])]
    pipe = getattr(signal, "SIGPIPE", None)  # gmsh lets it end the process
    broken = signal.getsignal(pipe) if pipe else None

    def hold() -> None:
        for number in handled:
            signal.signal(number, lambda which, _frame: received.append(which))

    hold()
    try:
        yield hold
    finally:
        for number in handled:
            signal.signal(number, own[number])
        if pipe and broken is not None:
            signal.signal(pipe, broken)
        if received:
            signal.raise_signal(received[0])
