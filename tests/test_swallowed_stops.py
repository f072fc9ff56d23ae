"""Stops that come where Python or a library swallows them."""

import os
import signal
import subprocess
import sys
import time

import pytest
from patience import PATIENCE, wait_for

from shrinksim.commands import doctor
from shrinksim.commands.cli import main
from shrinksim.process import progress, stopping


@pytest.fixture
def heard():
    """Signals heard as a command does, and put back."""
    before = {number: signal.getsignal(number) for number in stopping.STOP_SIGNALS}
    hook = sys.unraisablehook
    stopping.install_stop_handlers()
    yield
    for number, handler in before.items():
        signal.signal(number, handler)
    sys.unraisablehook = hook
    stopping.stop_requested()


class Panic(BaseException):
    """What compiled libraries raise of their own."""


def panic(args):
    try:
        os.kill(os.getpid(), signal.SIGTERM)
    except KeyboardInterrupt:
        raise Panic from None


def test_a_stop_that_became_a_panic_is_a_stop(heard, monkeypatch, capsys):
    monkeypatch.setattr(doctor, "_doctor", panic)
    assert main(["doctor"]) == 130
    assert capsys.readouterr().err.startswith("stopped; nothing unfinished is kept")


def test_a_panic_without_a_stop_is_not_hidden(heard, monkeypatch):
    def alone(args):
        raise Panic

    monkeypatch.setattr(doctor, "_doctor", alone)
    with pytest.raises(Panic):
        main(["doctor"])


CALLED_BACK = """
def back(stop, deep):
    if deep:
        back(stop, deep - 1)
    else:
        stop()
    done.append(deep)
"""
timed = pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="no timer here")


@pytest.fixture
def compiler():
    """What LLVM calls back, and the places it has come to: (function, list).

    The function is hit by a signal and finishes.  LLVM is handed no address when an
    exception comes, and dies (seen: signal 11).
    """
    names = {"__name__": "llvmlite.binding.executionengine", "done": []}
    exec(CALLED_BACK, names)
    return lambda number: names["back"](lambda: os.kill(os.getpid(), number), 3), names[
        "done"
    ]


@pytest.fixture
def tried_when_told(monkeypatch):
    """A stop that waits is tried again when this function is called, not by the clock."""
    monkeypatch.setattr(stopping, "SOON", 1000.0)

    def try_now():
        assert waits()
        signal.setitimer(signal.ITIMER_REAL, 0.001)
        wait_for(lambda: not waits())

    yield try_now
    signal.setitimer(signal.ITIMER_REAL, 0.0)


def waits():
    """Whether a stop waits to be tried again."""
    return signal.getitimer(signal.ITIMER_REAL)[0] > 0.0


def stop_within_patience():
    """A stop comes as an exception, at any moment from here on."""
    time.sleep(PATIENCE)


@timed
@pytest.mark.parametrize("number", stopping.STOP_SIGNALS)
def test_a_stop_waits_for_the_compiler(heard, compiler, number):
    call_back, done = compiler

    def act():
        call_back(number)
        stop_within_patience()

    with pytest.raises(KeyboardInterrupt):
        act()
    assert done == [0, 1, 2, 3]
    assert stopping.stop_requested()


@timed
def test_a_stop_that_waited_is_held_where_stops_are(heard, compiler):
    call_back, done = compiler
    finished = []

    def act():
        with stopping.defer_stops():
            call_back(signal.SIGTERM)
            assert done == [0, 1, 2, 3]
            finished.append(True)

    with pytest.raises(KeyboardInterrupt):
        act()
    assert finished


@timed
def test_a_stop_that_waits_is_held_by_what_begins_then(
    heard, compiler, tried_when_told
):
    call_back, done = compiler
    finished = []

    def act():
        call_back(signal.SIGTERM)
        assert done == [0, 1, 2, 3]
        with stopping.defer_stops():
            tried_when_told()
            finished.append(True)
        stop_within_patience()

    with pytest.raises(KeyboardInterrupt):
        act()
    assert finished


ANY_MOMENT = """
import os, signal, sys
from shrinksim.process import stopping

def traced(frame, event, arg):
    # a signal at every line, and in every call, of what looks whether one came
    if event in ("call", "line") and frame.f_code.co_name != "_stopped":
        sys.settrace(None)
        try:
            os.kill(os.getpid(), signal.SIGTERM)
        except KeyboardInterrupt:
            pass
        sys.settrace(traced)
    return traced

stopping.install_stop_handlers()
sys.settrace(traced)
for _ in range(3):
    stopping.stop_requested()
sys.settrace(None)
os._exit(7)
"""


def test_a_stop_while_stops_are_looked_for_does_not_hang():
    command = [sys.executable, "-c", ANY_MOMENT]
    assert subprocess.run(command, check=False, timeout=PATIENCE).returncode == 7


HEARD_OTHERWISE = """
import atexit, os, signal, sys
from shrinksim.process import stopping

def python_ends():
    # from here on the timer would end the process
    if signal.getitimer(signal.ITIMER_REAL)[0] > 0.0:
        os._exit(14)

if sys.argv[1] == "at the end":
    atexit.register(python_ends)
stopping.SOON = 1000.0
stopping.install_stop_handlers()
names = {"__name__": "llvmlite.binding.executionengine", "done": []}
exec(sys.argv[2], names)
names["back"](lambda: os.kill(os.getpid(), signal.SIGTERM), 1)
assert signal.getitimer(signal.ITIMER_REAL)[0] > 0.0
if sys.argv[1] == "asked":
    assert stopping.stop_requested()
    python_ends()
sys.exit(130)
"""


@timed
@pytest.mark.parametrize("way", ["asked", "at the end"])
def test_a_stop_that_waits_does_not_kill_what_ends_meanwhile(way):
    """A timer that outlives Python's handlers ends the process by signal 14."""
    command = [sys.executable, "-c", HEARD_OTHERWISE, way, CALLED_BACK]
    assert subprocess.run(command, check=False).returncode == 130


class Finalised:
    """Does something when it goes, where nothing can be raised."""

    def __init__(self, act):
        self.act = act

    def __del__(self):
        self.act()


def test_a_stop_in_a_finaliser_is_heard_later_and_says_nothing(heard, capsys):
    Finalised(lambda: os.kill(os.getpid(), signal.SIGTERM))
    assert capsys.readouterr().err == ""
    assert stopping.stop_requested()


def test_other_faults_in_a_finaliser_are_told(heard):
    told = []
    sys.__unraisablehook__, before = told.append, sys.__unraisablehook__
    try:
        Finalised(lambda: 1 / 0)
    finally:
        sys.__unraisablehook__ = before
    assert [one.exc_type for one in told] == [ZeroDivisionError]


def test_a_line_of_progress_is_written_in_one_piece(monkeypatch):
    written = []

    class Stream:
        def write(self, text):
            written.append(text)

        def flush(self):
            written.append("flush")

    monkeypatch.setattr(sys, "stderr", Stream())
    progress.plain_lines()("heat", 0.0, "lit")
    assert written == ["heat 0 %, lit\n", "flush"]
