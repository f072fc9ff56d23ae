"""Runs made up for sweeps: functions that worker processes can import, and their cases.

Each writes a line to the file called `log` beside the store's folder, so that a test can
count what was really run and by whom.
"""

import os
import signal
import time
from pathlib import Path

from patience import FOR_EVER
from plain_case import PLATE, VEE, read

from shrinksim.errors import CaseError, NotConverged

LOG = "SWEEP_TEST_LOG"


def case(angle, **tables):
    """A case that is told from others by its angle, degrees."""
    vee = VEE | {"angle": f"{angle} deg"}
    return read(PLATE | {"heat": [{"pattern": [vee]}]} | tables)


def angle_of(given):
    return round(given.heats[0].patterns[0].angle / 0.017453292519943295)


def noted(given):
    """Put a line in the log; which angle it was."""
    angle = angle_of(given)
    if LOG in os.environ:
        with Path(os.environ[LOG]).open("a") as log:
            log.write(f"{angle} {os.getpid()}\n")
    return angle


def quick(given):
    return {
        "title": given.title,
        "outcome": "complete",
        "rotation_mrad": noted(given) / 10,
    }


def go():
    """Let the runs go on that wait to be let on."""
    _gate().write_text("")


def _gate():
    return Path(f"{os.environ[LOG]}.go")


def slow(given):
    """From 18 degrees a run ends only when it is let on."""
    answer = quick(given)
    time.sleep(0.4)
    while angle_of(given) >= 18 and not _gate().exists():
        time.sleep(0.02)
    return answer


def long(given):
    answer = quick(given)
    time.sleep(FOR_EVER if angle_of(given) > 11 else 0.0)
    return answer


def failing(given):
    """10, 20, ... degrees fail, each in its way."""
    match noted(given):
        case 10:
            message = "no equilibrium at t = 41 s"
            raise NotConverged(message)
        case 20:
            message = "the torch cannot come to 640 degC"
            raise CaseError(message)
        case 30:
            return {"outcome": "hot hinge", "rotation_mrad": 150.0}
        case 40:
            return {"outcome": "complete", "a": 1 / 0}
        case 50:
            raise MemoryError
    return {"outcome": "complete", "rotation_mrad": float("nan")}


def deadly(given):
    """At 10 degrees the process is killed, as by kill -9 or for want of memory."""
    if noted(given) == 10:
        os.kill(os.getpid(), signal.SIGKILL)
    return {"outcome": "complete"}


def deadly_once(given):
    """At 10 degrees the first process that tries is killed."""
    noted(given)
    log = Path(os.environ[LOG]).read_text().splitlines()
    if angle_of(given) == 10 and sum(line.startswith("10 ") for line in log) == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    return {"outcome": "complete"}


def chatty(given):
    """Prints as libraries do, on the worker's standard output."""
    print("Info    : something about a mesh", flush=True)
    os.write(1, b"\x00" * 1000)
    return {"outcome": "complete", "angle": angle_of(given)}


def threads(given):
    """How many threads the numerical libraries would use."""
    import numba
    import scipy.linalg  # noqa: F401 (brings its own BLAS)
    import threadpoolctl

    found = [pool["num_threads"] for pool in threadpoolctl.threadpool_info()]
    return {"outcome": "complete", "blas": found, "numba": numba.get_num_threads()}


def pausing(given):
    """At 61 degrees a run ends only when it is let on."""
    answer = quick(given)
    while angle_of(given) == 61 and not _gate().exists():
        time.sleep(0.02)
    return answer
