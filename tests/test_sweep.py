"""Sweeps: each run once, whatever fails, dies or is stopped; side by side as in turn."""

import json
import os
import signal
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest
import sweep_runs
from alike import alike
from patience import gone, wait_for
from plain_section import PLATE as SECTION_PLATE
from sweep_runs import LOG, case

from shrinksim.errors import CaseError
from shrinksim.runs.store import Failure, Row, Store
from shrinksim.runs.sweep import run_cases
from shrinksim.runs.workers import TRIES

pytestmark = pytest.mark.slow

TESTS = Path(__file__).parent
COARSE = {
    "element": "6 mm",
    "far_element": "30 mm",
    "temperature_step": "120 K",
    "heat_tolerance": "20 K",
}


@pytest.fixture
def log(tmp_path, monkeypatch):
    """What has been run: a list of (angle, process)."""
    path = tmp_path / "log"
    monkeypatch.setenv(LOG, str(path))

    def lines():
        text = path.read_text() if path.exists() else ""
        return [tuple(map(int, line.split())) for line in text.splitlines()]

    return lines


def angles(log):
    return sorted(angle for angle, _ in log())


def section(width, **tables):
    from plain_case import read

    member = {"section": "plate", "width": f"{width} mm", "thickness": "12 mm"}
    return read(SECTION_PLATE | {"member": member, "numerics": COARSE} | tables)


def test_each_run_once_in_the_order_asked_for(tmp_path, log):
    cases = [case(a, title=f"number {k}") for k, a in enumerate((12, 11, 13, 11))]
    for jobs in (2, 1, 0):
        rows = run_cases(cases, tmp_path / "store", jobs, compute=sweep_runs.quick)
        assert [row.summary["rotation_mrad"] for row in rows] == [1.2, 1.1, 1.3, 1.1]
        assert [row.summary["title"] for row in rows] == [c.title for c in cases]
        assert [row.input["title"] for row in rows] == [c.title for c in cases]
    assert all(row.cached for row in rows)
    assert angles(log) == [11, 12, 13]
    assert len({process for _, process in log()} - {os.getpid()}) <= 2
    run_cases([*cases, case(14)], tmp_path / "store", 0, compute=sweep_runs.quick)
    assert angles(log) == [11, 12, 13, 14]


def test_side_by_side_is_as_in_turn(tmp_path):
    cases = [section(width) for width in (300, 280, 260)]
    found = {}
    for jobs in (0, 2):
        rows = run_cases(cases, tmp_path / str(jobs), jobs)
        assert all(isinstance(row, Row) for row in rows)
        found[jobs] = [
            {k: v for k, v in row.summary.items() if k != "seconds"} for row in rows
        ]
    assert alike(found[0], found[2])
    assert len({row["shortening_mm"] for row in found[0]}) == 3


def test_failures_are_recorded_and_the_others_go_on(tmp_path, log):
    cases = [case(angle) for angle in (10, 20, 30, 40, 50, 60)]
    rows = run_cases(cases, tmp_path / "store", 1, compute=sweep_runs.failing)
    assert [row.outcome for row in rows] == [
        "not converged",
        "refused",
        "hot hinge",
        "program fault",
        "program fault",
        "complete",
    ]
    told = [row.reason for row in rows[:5]]
    assert told[0] == "no equilibrium at t = 41 s"
    assert told[1] == "the torch cannot come to 640 degC"
    assert "folds while hot" in told[2]
    assert "ZeroDivisionError" in told[3]
    assert "out of memory" in told[4]
    assert rows[2].summary["rotation_mrad"] == 150.0
    assert rows[5].summary["rotation_mrad"] is None  # JSON has no nan
    assert angles(log) == [10, 20, 30, 40, 50, 60]
    again = run_cases(cases, tmp_path / "store", 1, compute=sweep_runs.failing)
    assert [row.outcome for row in again] == [row.outcome for row in rows]
    assert angles(log) == [
        10,
        20,
        30,
        40,
        40,
        50,
        50,
        60,
    ]  # not those of the case's own
    run_cases(cases, tmp_path / "store", 0, compute=sweep_runs.failing, again=True)
    assert angles(log)[:3] == [10, 10, 20]
    assert angles(log).count(60) == 1


def test_a_dead_worker_is_replaced_and_its_run_given_up_at_last(tmp_path, log):
    cases = [case(angle) for angle in (9, 10, 11, 12)]
    rows = run_cases(cases, tmp_path / "store", 2, compute=sweep_runs.deadly)
    assert [row.outcome for row in rows] == [
        "complete",
        "worker died",
        *["complete"] * 2,
    ]
    assert isinstance(rows[1], Failure)
    assert "SIGKILL" in rows[1].reason
    assert angles(log) == [9, *[10] * TRIES, 11, 12]


def test_a_dead_worker_does_not_end_the_sweep_after_meshing(tmp_path, log):
    """The mesher's library lets a broken pipe end the process: see that it does not."""
    code = SWEEP.replace("sweep_runs.slow", "sweep_runs.deadly")
    code = f"import gmsh\ngmsh.initialize(interruptible=False)\ngmsh.finalize()\n{code}"
    command = [sys.executable, "-c", code, str(TESTS), str(tmp_path / "s")]
    assert subprocess.run(command, check=False).returncode == 0
    assert angles(log) == [*[10] * TRIES, *range(11, 22)]


def test_a_run_whose_worker_dies_once_is_done(tmp_path, log):
    cases = [case(angle) for angle in (10, 11)]
    rows = run_cases(cases, tmp_path / "store", 1, compute=sweep_runs.deadly_once)
    assert [row.outcome for row in rows] == ["complete"] * 2
    assert angles(log) == [10, 10, 11]


def test_a_damaged_run_is_done_again(tmp_path, log):
    cases = [case(angle) for angle in (10, 11, 12)]
    run_cases(cases, tmp_path / "store", 0, compute=sweep_runs.quick)
    index = tmp_path / "store" / "index.jsonl"
    index.write_bytes(index.read_bytes().replace(b'mrad": 1.1', b'mrad": 7.1'))
    said = []
    rows = run_cases(
        cases,
        tmp_path / "store",
        0,
        lambda *report: said.append(report[2]),
        compute=sweep_runs.quick,
    )
    assert said[0] == "1 to compute, 1 damaged lines not used"
    assert [row.summary["rotation_mrad"] for row in rows] == [1.0, 1.1, 1.2]
    assert angles(log) == [10, 11, 11, 12]


def test_another_function_does_not_find_the_first_ones_runs(tmp_path, log):
    run_cases([case(11)], tmp_path / "store", 0, compute=sweep_runs.quick)
    run_cases([case(11)], tmp_path / "store", 0, compute=sweep_runs.slow)
    assert angles(log) == [11, 11]


def test_what_a_run_prints_does_not_disturb_it(tmp_path):
    rows = run_cases([case(11)], tmp_path / "s", 1, compute=sweep_runs.chatty)
    assert rows[0].summary["angle"] == 11


def test_workers_have_one_thread_each(tmp_path, monkeypatch):
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "NUMBA_NUM_THREADS"):
        monkeypatch.setenv(name, "2")
    rows = run_cases([case(11)], tmp_path / "s", 1, compute=sweep_runs.threads)
    summary = rows[0].summary
    assert summary["blas"]
    assert set(summary["blas"]) == {1}
    assert summary["numba"] == 1


def test_progress_goes_from_nothing_to_all(tmp_path):
    said = []
    run_cases(
        [case(angle) for angle in (10, 11, 12)],
        tmp_path / "store",
        0,
        lambda *report: said.append(report),
        compute=sweep_runs.failing,
    )
    assert [share for _, share, _ in said] == pytest.approx([0, 1 / 3, 2 / 3, 1])
    assert said[0][2] == "3 to compute"
    assert said[-1][2] == "3 of 3 done, 1 failed"


def test_functions_that_no_worker_can_import_are_refused(tmp_path):
    with pytest.raises(CaseError, match="put it in a module of its own"):
        run_cases([case(11)], tmp_path / "s", 1, compute=lambda given: {})


def test_workers_that_cannot_start_end_the_sweep(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "executable", "/bin/false")
    with pytest.raises(RuntimeError, match="cannot start: exit code 1"):
        run_cases([case(11)], tmp_path / "s", 2, compute=sweep_runs.quick)


@pytest.mark.parametrize("kind", ["threads", "processes"])
def test_any_executor_of_the_standard_library(tmp_path, log, kind):
    cases = [case(angle) for angle in (10, 20, 60, 61)]
    pool = ThreadPoolExecutor(3)
    if kind == "processes":
        pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"))
    with pool:
        rows = run_cases(
            cases, tmp_path / "s", executor=pool, compute=sweep_runs.failing
        )
    assert [row.outcome for row in rows] == [
        "not converged",
        "refused",
        "complete",
        "complete",
    ]
    assert angles(log) == [10, 20, 60, 61]


def test_a_broken_executor_is_a_sentence_and_keeps_what_is_done(tmp_path, log):
    cases = [case(angle) for angle in (9, 10, 11)]
    with (
        ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool,
        pytest.raises(CaseError, match="start again to go on"),
    ):
        run_cases(cases, tmp_path / "s", executor=pool, compute=sweep_runs.deadly)
    assert 10 in angles(log)
    assert Store(tmp_path / "s").damaged == 0


def test_a_results_folder_for_each_run_where_asked(tmp_path):
    cases = [section(300)]
    first = run_cases(cases, tmp_path, 0)
    assert not (tmp_path / "reports").exists()
    for _ in range(2):
        run_cases(cases, tmp_path, 0, reports=True)
    (folder,) = (tmp_path / "reports").iterdir()
    assert folder.name == first[0].key
    told = json.loads((folder / "summary.json").read_text())
    assert told["shortening_mm"] == first[0].summary["shortening_mm"]
    assert (tmp_path / "index.jsonl").read_text().count("\n") == 2


SWEEP = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
import sweep_runs
from shrinksim.runs.sweep import run_cases
run_cases([sweep_runs.case(a) for a in range(10, 22)], Path(sys.argv[2]), 2,
          compute=sweep_runs.slow)
"""


@pytest.mark.skipif(not Path("/proc").exists(), reason="looks for processes in /proc")
def test_a_sweep_that_is_killed_goes_on_where_it_was(tmp_path, log):
    store = tmp_path / "store"
    index = store / "index.jsonl"
    command = [sys.executable, "-c", SWEEP, str(TESTS), str(store)]
    with subprocess.Popen(command) as sweep:
        wait_for(lambda: index.exists() and index.read_bytes().count(b"\n") >= 3)
        wait_for(lambda: len({process for _, process in log()}) == 2)
        sweep.kill()
    workers = {process for _, process in log()}
    assert gone(workers)
    begun, done = len(log()), index.read_bytes().count(b"\n")
    assert done <= 8
    sweep_runs.go()
    again = subprocess.run(command, check=False)
    assert again.returncode == 0
    assert index.read_bytes().count(b"\n") == 12
    assert len(log()) == begun + 12 - done
    assert sorted(set(angles(log))) == list(range(10, 22))


STOPPED = SWEEP.replace("sweep_runs.slow", "sweep_runs.long").replace(
    "run_cases([",
    "from shrinksim.process.stopping import install_stop_handlers\n"
    "install_stop_handlers()\nrun_cases([",
)


@pytest.mark.skipif(not Path("/proc").exists(), reason="looks for processes in /proc")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_stopped_workers_do_not_end_their_runs_first(tmp_path, log, number):
    """Runs that last an hour."""
    command = [sys.executable, "-c", STOPPED, str(TESTS), str(tmp_path / "s")]
    index = tmp_path / "s" / "index.jsonl"
    with subprocess.Popen(command, stderr=subprocess.PIPE) as sweep:
        wait_for(lambda: {12, 13} <= set(angles(log)))
        wait_for(lambda: index.read_bytes().count(b"\n") == 2)  # 10 and 11 are done
        sweep.send_signal(number)
        assert gone({process for _, process in log()})
        assert b"KeyboardInterrupt" in sweep.stderr.read()
    assert index.read_bytes().count(b"\n") == 2
