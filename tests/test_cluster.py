"""Runs on a real dask scheduler with worker processes, all on this machine."""

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest
import sweep_runs
from alike import alike
from patience import PATIENCE, wait_for
from sweep_runs import LOG, case

from shrinksim.errors import CaseError
from shrinksim.runs.cluster import scheduler
from shrinksim.runs.sweep import run_cases

pytest.importorskip("distributed")
TESTS = Path(__file__).parent
QUIET = "ignore::DeprecationWarning", "ignore::ResourceWarning", "ignore::UserWarning"
pytestmark = [pytest.mark.long, *map(pytest.mark.filterwarnings, QUIET)]


def free_port():
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


def listens(address):
    host, port = address.removeprefix("tcp://").split(":")
    with socket.socket() as found:
        return found.connect_ex((host, int(port))) == 0


def dask(*args, log):
    """A process of dask's command line, that can import the made-up runs."""
    paths = os.pathsep.join([str(TESTS), str(TESTS.parent)])
    return subprocess.Popen(
        [sys.executable, "-m", "distributed.cli." + args[0], *args[1:]],
        env=os.environ | {"PYTHONPATH": paths, LOG: str(log)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    """Address of a scheduler with two workers of one thread, and the workers' log."""
    folder = tmp_path_factory.mktemp("dask")
    log, address = folder / "log", f"tcp://127.0.0.1:{free_port()}"
    begun = [dask("dask_scheduler", "--host", address, "--no-dashboard", log=log)]
    wait_for(lambda: listens(address))
    for _ in range(2):
        begun.append(
            dask("dask_worker", address, "--nthreads", "1", "--no-dashboard",
                 "--local-directory", str(folder), log=log)
        )  # fmt: skip
    try:
        yield address, log
    finally:
        for process in reversed(begun):
            process.terminate()
        for process in begun:
            process.wait()


def angles(log):
    return sorted(int(line.split()[0]) for line in log.read_text().splitlines())


def test_runs_go_to_the_workers_and_come_back(cluster, tmp_path):
    address, log = cluster
    log.write_text("")
    cases = [case(angle) for angle in (10, 20, 30, 40, 61, 62)]
    with scheduler(address, PATIENCE) as executor:
        rows = run_cases(
            cases, tmp_path / "s", executor=executor, compute=sweep_runs.failing
        )
    assert [row.outcome for row in rows] == [
        "not converged",
        "refused",
        "hot hinge",
        "program fault",
        "complete",
        "complete",
    ]
    assert angles(log) == [10, 20, 30, 40, 61, 62]
    processes = {int(line.split()[1]) for line in log.read_text().splitlines()}
    assert os.getpid() not in processes
    again = run_cases(cases[4:], tmp_path / "s", 0, compute=sweep_runs.failing)
    assert all(row.cached for row in again)


def test_a_run_that_kills_its_workers_is_recorded_and_the_others_done(
    cluster, tmp_path
):
    address, log = cluster
    log.write_text("")
    cases = [case(angle) for angle in (9, 10, 11)]
    with scheduler(address, PATIENCE) as executor:
        rows = run_cases(
            cases, tmp_path / "s", executor=executor, compute=sweep_runs.deadly
        )
    assert [row.outcome for row in rows] == ["complete", "worker died", "complete"]
    assert "KilledWorker" in rows[1].reason
    assert angles(log).count(10) > 1


def test_the_package_s_own_runs_are_those_of_this_process(cluster, tmp_path):
    from test_sweep import section

    cases = [section(width) for width in (300, 290)]
    with scheduler(cluster[0], PATIENCE) as executor:
        there = run_cases(cases, tmp_path / "there", executor=executor)
    here = run_cases(cases, tmp_path / "here", 0)
    for one, other in zip(here, there, strict=True):
        mine, theirs = (
            {k: v for k, v in row.summary.items() if k != "seconds"}
            for row in (one, other)
        )
        assert alike(mine, theirs)


def test_stopping_does_not_wait_for_the_cluster(cluster, tmp_path, monkeypatch):
    """Its last run ends only when it is let on, which is after the stop."""
    address, log = cluster
    log.write_text("")
    monkeypatch.setenv(LOG, str(log))
    code = (
        "import sys, sweep_runs\nfrom pathlib import Path\n"
        "from shrinksim.runs.cluster import scheduler\n"
        "from shrinksim.runs.sweep import run_cases\n"
        "cases = [sweep_runs.case(a) for a in (10, 11, 61)]\n"
        "with scheduler(sys.argv[1], 120) as executor:\n"
        "    run_cases(cases, Path(sys.argv[2]), executor=executor,\n"
        "              compute=sweep_runs.pausing)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, address, str(tmp_path / "s")],
        env=os.environ | {"PYTHONPATH": str(TESTS)},
        stderr=subprocess.DEVNULL,
    ) as process:
        index = tmp_path / "s" / "index.jsonl"
        wait_for(lambda: index.exists() and index.read_bytes().count(b"\n") == 2)
        wait_for(lambda: 61 in angles(log))
        process.send_signal(signal.SIGINT)
        process.wait(PATIENCE)
    assert index.read_bytes().count(b"\n") == 2


def test_no_scheduler_is_a_sentence(monkeypatch):
    monkeypatch.setattr("shrinksim.runs.cluster.CONNECT_TIMEOUT", 1)
    with (
        pytest.raises(CaseError, match="no scheduler answers at tcp://127"),
        scheduler(f"tcp://127.0.0.1:{free_port()}"),
    ):
        pass
    with (
        pytest.raises(CaseError, match="write it as tcp://host:port"),
        scheduler("nonsense://"),
    ):
        pass


def test_a_scheduler_without_workers_is_a_sentence(tmp_path):
    address = f"tcp://127.0.0.1:{free_port()}"
    process = dask("dask_scheduler", "--host", address, "--no-dashboard",
                   log=tmp_path / "log")  # fmt: skip
    try:
        wait_for(lambda: listens(address))
        with (
            pytest.raises(CaseError, match="no worker has come"),
            scheduler(address, wait=0.5),
        ):
            pass
    finally:
        process.terminate()
        process.wait()


def test_without_the_package_it_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(CaseError, match=r"pip install 'shrinksim\[cluster\]'"),
        scheduler("tcp://127.0.0.1:1"),
    ):
        pass
