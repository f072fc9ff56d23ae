"""Figures drawn by a second process: the same files, and none lost with the process."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from made_up_result import made_up

import shrinksim
from shrinksim.output import aside
from shrinksim.output.aside import drawn_aside
from shrinksim.output.figures import drawings, pictures

CASE = Path(__file__).parent.parent / "cases" / "flat_bar_vee.toml"
PLACE = [str(Path(shrinksim.__file__).parents[1]), str(Path(__file__).parent)]


@pytest.fixture(autouse=True)
def _two_cores(monkeypatch):
    monkeypatch.setattr(aside, "cores", lambda: 2)
    monkeypatch.setattr(sys, "path", [*PLACE, *sys.path])


def sendable():
    """Made up, and of parts that go through a pipe."""
    result = made_up()
    result.summary = dict
    return result


def test_the_same_figures_as_drawn_here():
    result = sendable()
    with drawn_aside() as there:
        there.begin(result)
        drawn = there.drawings()
    assert drawn == drawings(result)
    assert [p.svg for p in pictures(result, drawn)] == list(drawn.values())


def test_a_process_that_dies_leaves_the_drawing_to_this_one():
    with drawn_aside() as there:
        there.worker.process.kill()
        there.begin(sendable())
        assert there.drawings() is None


def test_what_cannot_be_drawn_is_met_here_with_its_own_error():
    broken = sendable()
    broken.mesh = None
    with drawn_aside() as there:
        there.begin(broken)
        drawn = there.drawings()
    assert drawn is None
    with pytest.raises(AttributeError):
        pictures(broken, drawn)


def test_one_processor_draws_by_itself(monkeypatch):
    monkeypatch.setattr(aside, "cores", lambda: 1)
    with drawn_aside() as there:
        there.begin(sendable())
        assert there.drawings() is None


def test_the_process_is_gone_with_its_parent_however_it_ends():
    with drawn_aside() as there:
        process = there.worker.process
    assert process.returncode is not None
    code = (
        "from shrinksim.output import aside\naside.cores = lambda: 2\n"
        "with aside.drawn_aside() as a:\n"
        "    print(a.worker.process.pid, flush=True)\n    import time; time.sleep(60)\n"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(PLACE)}
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, text=True, env=env
    ) as parent:
        child = int(parent.stdout.readline())
        parent.send_signal(signal.SIGKILL)
    until = time.monotonic() + 30.0
    while alive(child) and time.monotonic() < until:
        time.sleep(0.05)
    assert not alive(child)


def alive(number: int) -> bool:
    """Whether a process is there and not just waiting to be buried."""
    status = Path(f"/proc/{number}/stat")
    if not status.parent.parent.exists():
        pytest.skip("no /proc here")
    try:
        return status.read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


def test_who_has_handed_over_nothing_waits_for_nothing():
    with drawn_aside() as there:
        assert there.drawings() is None
