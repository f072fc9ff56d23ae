"""The sweep command: its table, exit codes, what it says, and how it is stopped."""

import csv
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
import sweep_runs
from patience import gone, wait_for

from shrinksim.commands.cli import main
from shrinksim.process import machine
from shrinksim.study.file import study_from
from shrinksim.study.sweep import stored_rows, sweep
from shrinksim.study.table import table, write_rows

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parent.parent
BASE = """
title = "A line along a plate"
view = "section"
[member]
section = "plate"
width = "300 mm"
thickness = "12 mm"
[steel]
grade = "S355"
[torch]
drive = "travel"
speed = "6 mm/s"
[[heat]]
[[heat.pattern]]
kind = "line along"
on = "top"
length = "1 m"
[numerics]
element = "6 mm"
far_element = "30 mm"
temperature_step = "120 K"
heat_tolerance = "20 K"
"""
STUDY = """
title = "Speed and width"
case = "base.toml"
[vary]
torch.speed = { from = "6 mm/s", to = "8 mm/s", steps = 2 }
member.width = ["300 mm", "11 in"]
"""


@pytest.fixture(autouse=True)
def _settled(monkeypatch):
    """Commands set environment variables and SIGTERM; put both back."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        monkeypatch.setenv(name, "1")
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(machine.kernel_cache()))
    handler = signal.getsignal(signal.SIGTERM)
    yield
    signal.signal(signal.SIGTERM, handler)


@pytest.fixture
def study(tmp_path):
    (tmp_path / "base.toml").write_text(BASE)
    path = tmp_path / "speeds.toml"
    path.write_text(STUDY)
    return path


def command(study, *more):
    out = study.parent / "out"
    return main(["study", str(study), "--out", str(out), "--jobs", "1", *more]), out


def test_a_study_from_file_to_table(study, capsys):
    code, out = command(study)
    said = capsys.readouterr()
    assert code == 0
    assert "Speed and width\n  4 runs: 4 complete\n" in said.out
    assert "runs 100 %, 4 of 4 done" in said.err
    with (out / "runs.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0])[:3] == ["torch.speed [mm/s]", "member.width [mm]", "outcome"]
    assert [row["torch.speed [mm/s]"] for row in rows] == ["6", "6", "8", "8"]
    assert [row["member.width [mm]"] for row in rows] == ["300", "279.4"] * 2
    assert all(float(row["shortening [mm]"]) > 0 for row in rows)
    whole = [json.loads(line) for line in (out / "runs.jsonl").read_text().splitlines()]
    assert [line["varied"]["member.width"] for line in whole] == ["300 mm", "11 in"] * 2
    for line, row in zip(whole, rows, strict=True):
        assert f"{line['summary']['shortening_mm']:.7g}" == row["shortening [mm]"]
        assert line["key"] == row["key"]
        assert line["input"]["torch"]["speed"] == f"{row['torch.speed [mm/s]']} mm/s"

    before = (out / "runs.csv").read_bytes()
    code, out = command(study, "--quiet")
    assert code == 0
    assert "4 of them were finished before" in capsys.readouterr().out
    assert (out / "runs.csv").read_bytes() == before


def test_the_list_computes_nothing(study, capsys):
    code, out = command(study, "--list")
    said = capsys.readouterr().out
    assert code == 0
    assert "    4  speed 8 mm/s, width 11 in: not done yet" in said
    assert "4 runs, 4 of them to compute" in said
    assert not out.exists()


def test_a_fault_of_the_study_is_exit_2_before_anything_is_computed(study, capsys):
    study.write_text(STUDY.replace("torch.speed", "torch.sped"))
    code, out = command(study)
    assert code == 2
    assert "did you mean 'speed'" in capsys.readouterr().err
    assert not out.exists()
    with pytest.raises(SystemExit) as ended:
        main(["study", str(study), "--jobs", "none"])
    assert ended.value.code == 2
    assert main(["study", str(study), "--jobs", "1", "--scheduler", "tcp://a:1"]) == 2


def test_a_store_in_use_is_exit_2_with_a_sentence(study, capsys):
    from shrinksim.runs.store import Store

    with Store(study.parent / "out" / "store").writing():
        code, _ = command(study)
    assert code == 2
    assert f"is in use by process {os.getpid()}" in capsys.readouterr().err


LONG = """
import sys, functools
sys.path.insert(0, sys.argv[1])
import sweep_runs
from shrinksim.runs import sweep
sweep._default_compute = lambda *options: sweep_runs.long
from shrinksim.commands.cli import main
sys.exit(main(["study", *sys.argv[2:]]))
"""


@pytest.mark.skipif(not Path("/proc").exists(), reason="looks for processes in /proc")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_stopped_it_says_how_to_go_on(tmp_path, number):
    path, log = tmp_path / "s.toml", tmp_path / "log"
    base = ROOT / "cases" / "flat_bar_vee.toml"
    path.write_text(
        f'case = "{base}"\n[vary]\nheat.pattern.angle = ["10 deg", "11 deg", "12 deg"]\n'
    )
    index = tmp_path / "out" / "store" / "index.jsonl"
    args = [str(path), "--out", str(tmp_path / "out"), "--jobs", "1"]
    with subprocess.Popen(
        [sys.executable, "-c", LONG, str(Path(__file__).parent), *args],
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {sweep_runs.LOG: str(log)},
    ) as process:
        wait_for(lambda: index.exists() and index.read_bytes().count(b"\n") == 2)
        wait_for(lambda: log.read_text().count("\n") == 3)
        process.send_signal(number)
        assert gone({int(line.split()[1]) for line in log.read_text().splitlines()})
        assert process.wait() == 130
        said = process.stderr.read()
    assert "stopped; 2 of 3 runs are finished and kept in" in said
    assert "the same command goes on from there" in said
    assert "Traceback" not in said
    assert "not done yet" in (tmp_path / "out" / "runs.csv").read_text()


def made(tmp_path, compute, angles, **more):
    vary = {"heat.pattern.angle": [f"{angle} deg" for angle in angles]}
    tables = {"case": "flat_bar_vee.toml", "vary": vary, **more}
    found = study_from(tables, "s.toml", ROOT / "cases")
    return sweep(found, tmp_path / "store", 0, compute=compute)


def test_every_run_has_its_row_whatever_became_of_it(tmp_path):
    angles = (10, 30, 40, 60, 160)
    rows = made(tmp_path, sweep_runs.failing, angles, invalid="leave out")
    outcomes = ["not converged", "hot hinge", "program fault", "complete", "left out"]
    assert list(rows.outcomes) == outcomes
    columns = table(rows)
    assert list(columns)[:3] == ["heat[0].pattern[0].angle [deg]", "outcome",
                                 "rotation [mrad]"]  # fmt: skip
    assert columns["heat[0].pattern[0].angle [deg]"] == list(angles)
    assert columns["rotation [mrad]"] == [None, 150.0, None, None, None]
    assert "above the largest allowed" in columns["reason"][4]
    assert columns["run"] == [1, 2, 3, 4, 5]
    there = stored_rows(rows.study, tmp_path / "store")
    assert there.outcomes == rows.outcomes
    assert (
        stored_rows(rows.study, tmp_path / "empty").outcomes[:2]
        == ("not done yet",) * 2
    )


def numbered(given):
    return {
        "outcome": "complete",
        "converged": True,
        "curvature_per_m": 0.5,
        "energy_J": {"absorbed": 3.0},
        "torch_speed_mm_s": [1.5, 2.5],
        "hot_hinge_margin": None,
        "peak_temperature_C": 640.0,
        "refinement": {"rotation_error_mrad": 0.1, "torch_anew": False},
        "cautions": [{"code": "hot work", "text": ""}, {"code": "thick", "text": ""}],
    }


def test_numbers_of_a_summary_with_their_units(tmp_path):
    columns = table(made(tmp_path, numbered, [20]))
    kept = {name: values[0] for name, values in columns.items()}
    for left in ("run", "key", "computing time [s]", "reason"):
        del kept[left]
    assert kept == {
        "heat[0].pattern[0].angle [deg]": 20.0,
        "outcome": "complete",
        "curvature [1/m]": 0.5,
        "torch speed of pattern 0 [mm/s]": 1.5,
        "torch speed of pattern 1 [mm/s]": 2.5,
        "peak temperature [degC]": 640.0,
        "numerical error: rotation [mrad]": 0.1,
        "cautions": "hot work; thick",
    }
    assert list(kept)[-2] == "numerical error: rotation [mrad]"


def test_a_table_that_cannot_be_written_leaves_the_old_one(tmp_path, monkeypatch):
    rows = made(tmp_path, sweep_runs.quick, [20])
    path, _ = write_rows(rows, tmp_path / "out")
    before = path.read_bytes()

    def full(number):
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ValueError, match="no space left on device; the runs are kept"):
        write_rows(rows, tmp_path / "out")
    assert path.read_bytes() == before
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        "runs.csv",
        "runs.jsonl",
    ]
