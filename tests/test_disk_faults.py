"""The disk refuses, or a stop comes, at any of the steps of writing a results folder:
what stood there still stands, nothing half-written lies about, one sentence says why.
"""

import builtins
import contextlib
import errno
import io
import os
import signal
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

import pytest
from made_up_result import made_up

from shrinksim.errors import CaseError
from shrinksim.process import drafts as draft
from shrinksim.process.results_folder import foreign_files, refuse_taken
from shrinksim.process.stopping import (
    defer_stops,
    install_stop_handlers,
    stop_requested,
)
from shrinksim.report import folder as report
from shrinksim.report.folder import pictures, write_results

pytestmark = pytest.mark.slow

OPEN, RENAME = open, os.rename
FULL = OSError(errno.ENOSPC, "No space left on device")


@pytest.fixture(scope="module")
def result():
    return made_up()


@pytest.fixture(scope="module")
def drawn(result):
    return pictures(result)


@pytest.fixture
def case(tmp_path, drawn, monkeypatch):
    """A case file; figures are drawn once, fields are left out."""
    monkeypatch.setattr(report, "pictures", lambda _: drawn)
    monkeypatch.setattr(report, "write_fields", lambda _, folder: None)
    path = tmp_path / "case.toml"
    path.write_text('title = "a"\n', encoding="utf-8")
    return path


class Disk:
    """Counts what would change the disk, and refuses the step numbered ``last``."""

    def __init__(self, monkeypatch, fault):
        self.fault, self.last, self.step, self.on = fault, -1, 0, False
        for owner, name in (
            (builtins, "open"), (io, "open"), (os, "mkdir"), (os, "rename"),
        ):  # fmt: skip
            monkeypatch.setattr(owner, name, self._watched(getattr(owner, name)))

    def _watched(self, real):
        def watched(*args, **kwargs):
            mode = [*args, kwargs.get("mode", "r")][1] if real is OPEN else "w"
            changes = not (isinstance(mode, str) and set(mode) <= set("rbt"))
            if self.on and changes and (real is RENAME or not Path(args[0]).is_dir()):
                self.step += 1
                if self.step == self.last:
                    self.on = False
                    raise self.fault
            return real(*args, **kwargs)

        return watched

    def refuse(self, last):
        self.last, self.step, self.on = last, 0, True


def contents(folder):
    every = sorted(p for p in folder.rglob("*") if p.is_file())
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in every}


@pytest.mark.parametrize("fault", [FULL, KeyboardInterrupt()], ids=["full", "stop"])
@pytest.mark.parametrize("earlier", [True, False], ids=["replacing", "new"])
def test_whatever_step_fails(result, case, tmp_path, monkeypatch, fault, earlier):
    folder = tmp_path / "results"
    before = None
    if earlier:
        write_results(result, folder, case)
        before = contents(folder)
    disk = Disk(monkeypatch, fault)
    for last in range(1, 200):
        disk.refuse(last)
        try:
            write_results(result, folder, case, force=True)
        except (CaseError, KeyboardInterrupt) as error:
            said = error
        else:
            break
        finally:
            disk.on = False
        assert (contents(folder) if folder.exists() else None) == before, last
        left = {p.name for p in tmp_path.iterdir()}
        assert left == {"case.toml", *["results"] * earlier}, last
        if fault is FULL:
            assert isinstance(said, CaseError)
            assert "no space left" in str(said)
    assert disk.step == last - 1 > 10, "not every step was tried"
    assert foreign_files(folder) == []


def test_disk_quota_in_the_middle_of_a_file(tmp_path):
    """RLIMIT_FSIZE: the system itself cuts a write short (setrlimit(2))."""
    code = (
        "import resource, sys\nfrom pathlib import Path\n"
        "from made_up_result import made_up\n"
        "from shrinksim.errors import CaseError\n"
        "from shrinksim.report.folder import write_results\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (30000, 30000))\n"
        "folder = Path(sys.argv[1])\n"
        "try: write_results(made_up(), folder / 'r', folder / 'case.toml')\n"
        "except CaseError as error: print(error)"
    )
    (tmp_path / "case.toml").write_text('title = "a"\n')
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)],
        cwd=Path(__file__).parent, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert "cannot be written to" in done.stdout
    assert "file too large" in done.stdout
    assert [p.name for p in tmp_path.iterdir()] == ["case.toml"]


def test_a_full_disk_is_no_fault_of_the_case(tmp_path, monkeypatch, capsys):
    """Exit 1, failed; 2 is for bad input."""
    from test_cli import CASE

    from shrinksim.commands.cli import main
    from shrinksim.runs import run as chain

    def full(*args):
        raise CaseError(report.unwritten(tmp_path / "r", FULL))

    monkeypatch.setattr(chain, "run", lambda *args, **kwargs: made_up())
    monkeypatch.setattr(report, "write_results", full)
    assert main(["run", str(CASE), "--quiet", "--out", str(tmp_path / "r")]) == 1
    said = capsys.readouterr()
    assert "no space left on device" in said.err
    assert len(said.err.splitlines()) == 1


def dead_process():
    """The number of a process that has ended."""
    done = subprocess.Popen([sys.executable, "-c", ""])
    done.wait()
    return done.pid


def left_by(process, folder, what, name="results"):
    path = folder.parent / f".{folder.name}-{what}-{draft._machine()}-{process}-abcd"
    (path / name).mkdir(parents=True)
    (path / name / "summary.json").write_text("{}")
    return path


def test_the_next_run_takes_away_what_a_killed_one_left(tmp_path):
    folder = tmp_path / "r[1]"
    dead, other = dead_process(), tmp_path / "r1"
    gone = [
        left_by(dead, folder, "unfinished", "figures"),
        left_by(dead, folder, "old"),
    ]
    stay = [left_by(os.getpid(), folder, "unfinished"), left_by(dead, other, "old")]
    folder.mkdir()
    refuse_taken(folder, force=False)
    assert not any(path.exists() for path in gone)
    assert all(path.exists() for path in stay)
    elsewhere = tmp_path / f".r[1]-unfinished-0badcafe-{dead}-abcd"
    elsewhere.mkdir()
    refuse_taken(folder, force=False)
    assert elsewhere.exists(), "another machine's run may still be going"


def test_results_come_back_when_a_run_was_killed_between_two_names(
    result, case, tmp_path
):
    folder = write_results(result, tmp_path / "results", case)
    before = contents(folder)
    old = left_by(dead_process(), folder, "old", "x")
    folder.rename(old / "results")
    with pytest.raises(CaseError, match="holds the results of an earlier run"):
        refuse_taken(folder, force=False)
    assert contents(folder) == before
    assert not old.exists()


def test_a_file_written_again_clears_what_a_killed_writer_left(tmp_path):
    page = tmp_path / "page.html"
    prefix = f".page.html-unfinished-{draft._machine()}-"
    gone = tmp_path / f"{prefix}{dead_process()}-abcd"
    stay = tmp_path / f"{prefix}{os.getpid()}-abcd"
    for left in (gone, stay):
        left.write_text("half a pa")
    draft.write_atomically(page, "page")
    assert page.read_text() == "page"
    assert sorted(tmp_path.iterdir()) == [stay, page]


def test_what_cannot_be_cleared_stops_nothing(tmp_path, monkeypatch):
    page = tmp_path / "page.html"
    begins = f".page.html-unfinished-{draft._machine()}-"
    odd = tmp_path / f"{begins}\u00b2-abcd"
    stuck = tmp_path / f"{begins}{dead_process()}-abcd"
    for left in (odd, stuck):
        left.mkdir()  # a folder is not unlinked
    draft.write_atomically(page, "page")
    assert page.read_text() == "page"
    assert stuck.exists()
    assert odd.exists()


def test_the_longest_names_are_written(tmp_path):
    page = tmp_path / ("p" * 255)
    draft.write_atomically(page, "page")
    assert [p.name for p in tmp_path.iterdir()] == ["p" * 255]
    folder = tmp_path / ("\u00fc" * 127)
    left = tmp_path / f".{draft._short(folder)}-unfinished-{draft._machine()}-1-abcd"
    gone = left.with_name(left.name.replace("-1-", f"-{dead_process()}-"))
    for path in (left, gone):
        path.mkdir()
    with draft.draft_folder(folder) as made:
        draft.replace_folder(made, folder)
    draft.clear_leftovers(folder)
    assert folder.is_dir()
    assert left.exists()
    assert not gone.exists()


def test_a_relative_folder_is_cleared_too(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    left = left_by(dead_process(), Path("r").absolute(), "unfinished")
    refuse_taken(Path("r"), force=False)
    assert not left.exists()


@pytest.fixture
def handlers():
    """Signals as they were before the test."""
    own = {n: signal.getsignal(n) for n in (signal.SIGINT, signal.SIGTERM)}
    signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    for number, handler in own.items():
        signal.signal(number, handler)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_stops_wait_for_what_must_be_whole(handlers, number):
    install_stop_handlers()
    done = []
    with pytest.raises(KeyboardInterrupt), defer_stops() as hold:  # noqa: PT012
        signal.raise_signal(number)
        signal.signal(number, signal.SIG_IGN)  # as a library may do
        hold()
        signal.raise_signal(number)
        done.append("whole")
    assert done == ["whole"]
    with pytest.raises(KeyboardInterrupt):
        signal.raise_signal(number)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_stop_that_a_library_turned_into_another_error(handlers, number):
    """pydantic makes a PydanticSerializationError of what its callbacks raise."""
    stop_requested()
    install_stop_handlers()
    assert not stop_requested()
    with contextlib.suppress(KeyboardInterrupt):
        signal.raise_signal(number)
    assert stop_requested()
    assert not stop_requested(), "it is told once"


def test_a_stop_that_a_library_swallowed_is_heard_at_the_next_report(handlers):
    from shrinksim.commands.terminal import stoppable

    install_stop_handlers()
    said = []
    report = stoppable(lambda stage, share, text: said.append(stage))
    report("heat", 0.0, "")
    with contextlib.suppress(KeyboardInterrupt):
        signal.raise_signal(signal.SIGTERM)
    with pytest.raises(KeyboardInterrupt):
        report("strain", 0.0, "")
    report("again", 0.0, "")
    assert said == ["heat", "again"]


def test_an_ignored_signal_stays_ignored(handlers):
    """As under nohup."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    install_stop_handlers()
    with defer_stops():
        signal.raise_signal(signal.SIGINT)
    signal.raise_signal(signal.SIGINT)


def test_other_threads_may_hold_stops_too():
    said = []

    def work():
        install_stop_handlers()
        with defer_stops() as hold:
            hold()
            said.append("done")

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert said == ["done"]


def test_meshing_is_finished_before_a_stop_is_heard(handlers):
    """gmsh swallows an exception raised in what it calls back."""
    from shrinksim.fem.mesher import mesh_elevation

    install_stop_handlers()
    for number in (signal.SIGINT, signal.SIGTERM):
        asked = []

        def size(x, y, number=number, asked=asked):
            if not asked:
                signal.raise_signal(number)
            asked.append(x)
            return 0.02

        with pytest.raises(KeyboardInterrupt):
            mesh_elevation(0.1, [("plate", 0.0, 0.05)], [], size)
        assert len(asked) > 3
    assert len(
        mesh_elevation(0.1, [("plate", 0.0, 0.05)], [], lambda x, y: 0.02).points
    )


def test_drafts_are_named_after_their_maker(tmp_path):
    with draft.draft_folder(tmp_path / "r") as path:
        assert f"-{os.getpid()}-" in path.name
        assert path.parent == tmp_path
        assert not draft._alive(dead_process())
        assert draft._alive(os.getpid())
    assert not path.exists()
    assert Path(tempfile.gettempdir()).exists()
