"""Output that nobody takes: a closed pipe, a full disk, streams that are closed."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
CASE = ROOT / "cases" / "flat_bar_vee.toml"
FULL = Path("/dev/full")


def call(command, *arguments, **streams):
    env = dict(os.environ) | {"PYTHONUNBUFFERED": ""}
    line = [sys.executable, "-m", "shrinksim", command, *map(str, arguments)]
    return subprocess.run(
        line, cwd=ROOT, env=env, check=False, text=True, timeout=120,
        **({"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | streams),
    )  # fmt: skip


def test_a_reader_that_has_gone():
    """As `| head -1`: exit 1 and silence."""
    reader, writer = os.pipe()
    os.close(reader)
    done = call("schema", stdout=writer)
    os.close(writer)
    assert done.returncode == 1
    assert done.stderr == ""


@pytest.mark.skipif(not FULL.exists(), reason="no /dev/full here")
@pytest.mark.parametrize("arguments", [("schema",), ("check", CASE)], ids=str)
def test_a_full_disk_takes_no_output(arguments):
    with FULL.open("w") as full:
        done = call(*arguments, stdout=full)
    assert done.returncode == 1
    (line,) = done.stderr.splitlines()
    assert "no space left" in line.lower()
    assert "fault of the program" not in line


@pytest.mark.skipif(not FULL.exists(), reason="no /dev/full here")
def test_complaints_that_nobody_takes_keep_their_exit_code():
    with FULL.open("w") as full:
        assert call("check", "none.toml", stderr=full).returncode == 2


@pytest.mark.slow
def test_streams_that_are_closed():
    code = "import os, sys; os.closerange(1, 3); os.execv(sys.executable, sys.argv[1:])"
    line = [sys.executable, "-m", "shrinksim", "check"]
    for case, expected in ((CASE, 0), ("none.toml", 2)):
        done = subprocess.run(
            [sys.executable, "-c", code, *line, str(case)], cwd=ROOT, check=False
        )
        assert done.returncode == expected


def test_a_stop_that_came_back_as_another_error_is_a_stop(
    monkeypatch, tmp_path, capsys
):
    """pydantic wraps whatever is raised in what it calls back."""
    from importlib import import_module

    from shrinksim.commands.cli import main

    def run(case, progress, search_again):
        try:
            signal.raise_signal(signal.SIGTERM)
        except KeyboardInterrupt as stop:
            raise RuntimeError("in a callback") from stop

    handlers = {n: signal.getsignal(n) for n in (signal.SIGINT, signal.SIGTERM)}
    monkeypatch.setattr(import_module("shrinksim.runs.run"), "run", run)
    try:
        assert main(["run", str(CASE), "--quiet", "--out", str(tmp_path / "r")]) == 130
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)
    assert capsys.readouterr().err.startswith("stopped; ")
