"""The commands: exit codes, what they print, and what they leave behind."""

import builtins
import os
import signal
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from types import SimpleNamespace

import pytest

from shrinksim import __version__
from shrinksim.commands import cli
from shrinksim.commands.cli import main
from shrinksim.commands.outcome import outcome
from shrinksim.errors import CaseError, NotConverged
from shrinksim.fem.mesher import LIBRARIES
from shrinksim.process import machine, progress
from shrinksim.report import folder as report

ROOT = Path(__file__).parent.parent
CASE = ROOT / "cases" / "flat_bar_vee.toml"
pytestmark = pytest.mark.usefixtures("settled")
HEAVY = {"numpy", "scipy", "numba", "gmsh", "meshio", "matplotlib", "pydantic", "rich"}
SUMMARY = {
    "title": "a bar",
    "view": "elevation",
    "converged": True,
    "rotation_mrad": 2.345,
    "shortening_mm": 0.1234,
    "peak_temperature_C": 655.0,
    "heating_time_s": 40.0,
    "max_residual_tension_MPa": 231.0,
    "hot_hinge_margin": None,
    "refinement": None,
    "cautions": [{"code": "x", "text": "Mind the steam."}],
}


@pytest.fixture
def chain(monkeypatch):
    """Put a function in the place of the computation, and a plain folder for output."""

    def put(compute):
        def write(result, folder, case_path, force=False):
            folder.mkdir(parents=True)
            (folder / "summary.json").write_text("{}")
            return folder

        monkeypatch.setattr(import_module("shrinksim.runs.run"), "run", compute)
        monkeypatch.setattr(report, "write_results", write)

    return put


def finished(case, progress, search_again):
    progress("heat", float("nan"), "t = 1 s")
    progress("heat", 1.0, "cold")
    summary = SUMMARY | {"title": case.title}
    return SimpleNamespace(summary=lambda: summary, outcome="complete")


def folding(case, progress, search_again):
    return SimpleNamespace(
        summary=lambda: SUMMARY | {"converged": False}, outcome="hot hinge"
    )


def raising(error):
    def compute(case, progress, search_again):
        progress("mesh", 0.5, "")
        raise error

    return compute


def test_help_loads_nothing_heavy():
    code = (
        "import sys\nfrom shrinksim.commands.cli import main\n"
        "try: main(['--help'])\nexcept SystemExit: pass\n"
        "print(sorted(sys.modules), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
    )
    assert "run" in done.stdout
    assert "doctor" in done.stdout
    loaded = {name.strip("'[] \n") for name in done.stderr.split(",")}
    assert "argparse" in loaded
    assert not loaded & HEAVY


def test_version_and_no_command(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"shrinksim {__version__}\n"
    assert main([]) == 2
    assert "CASE" not in capsys.readouterr().err


def test_a_bad_case_is_exit_2_with_every_sentence(tmp_path, capsys):
    path = tmp_path / "a.toml"
    path.write_text('title = "x"\nmember = 3\nstel = 1\n')
    for command in ("run", "check"):
        assert main([command, str(path)]) == 2
        said = capsys.readouterr()
        assert said.out == ""
        lines = said.err.splitlines()
        assert len(lines) == 4
        assert all(line.startswith(f"{path}: ") for line in lines)
    assert main(["run", str(tmp_path / "none.toml")]) == 2
    assert list(tmp_path.iterdir()) == [path]


def test_a_run_prints_what_came_out(chain, tmp_path, capsys):
    chain(finished)
    assert main(["run", str(CASE), "--out", str(tmp_path / "new" / "r")]) == 0
    said = capsys.readouterr()
    assert "2.35 mrad (closes the wide end)" in said.out
    assert "0.1234 mm" in said.out
    assert "655 degC" in said.out
    assert "no moment on it" in said.out
    assert "Mind the steam." in said.out
    assert str(tmp_path / "new" / "r" / "report.html") in said.out
    assert said.err.splitlines()[:2] == ["heat, t = 1 s", "heat 100 %, cold"]


def test_a_member_that_folds_is_told_and_is_exit_1(chain, tmp_path, capsys):
    chain(folding)
    assert main(["run", str(CASE), "--out", str(tmp_path / "r")]) == 1
    assert "hot hinge: the member folds while hot" in capsys.readouterr().out
    assert (tmp_path / "r" / "summary.json").exists()


def test_quiet_says_nothing_on_the_way(chain, tmp_path, capsys):
    chain(finished)
    assert main(["run", str(CASE), "--quiet", "--out", str(tmp_path / "r")]) == 0
    assert capsys.readouterr().err == ""


def test_results_go_to_a_folder_named_after_the_case(chain, tmp_path, monkeypatch):
    chain(finished)
    monkeypatch.chdir(tmp_path)
    assert main(["run", str(CASE), "--quiet"]) == 0
    assert (tmp_path / "results" / "flat_bar_vee" / "summary.json").exists()


def test_us_units_and_a_fold():
    folded = SUMMARY | {"converged": False, "hot_hinge_margin": 0.9}
    text = outcome(folded, "us")
    assert "hot hinge: the member folds" in text
    assert "1211 degF" in text
    assert "0.004858 in" in text
    assert "0.90" in text
    nothing_left = outcome(folded | {"max_residual_tension_MPa": None}, "us")
    assert "residual tension" in text
    assert "residual tension" not in nothing_left
    refined = SUMMARY | {"refinement": {"rotation_error_mrad": 0.05}}
    assert "0.05 mrad" in outcome(refined, "metric")


@pytest.mark.parametrize(
    ("error", "code", "sentence"),
    [
        (NotConverged("no equilibrium at t = 3 s"), 1, "no equilibrium at t = 3 s\n"),
        (CaseError("too thin to mesh"), 2, "too thin to mesh\n"),
        (KeyboardInterrupt(), 130, "stopped; nothing unfinished is kept: "),
        (MemoryError(), 1, "out of memory; use larger elements or a shorter patch\n"),
        (RuntimeError("odd\nmore"), 1, "shrinksim failed (RuntimeError: odd); this is"),
    ],
)
def test_what_ends_a_run(chain, tmp_path, capsys, error, code, sentence):
    chain(raising(error))
    assert main(["run", str(CASE), "--quiet", "--out", str(tmp_path / "r")]) == code
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(sentence)
    assert "Traceback" not in said.err
    assert not (tmp_path / "r").exists()


def test_our_faults_can_be_traced(chain, tmp_path, monkeypatch):
    chain(raising(RuntimeError("odd")))
    monkeypatch.setenv(cli.TRACEBACK, "1")
    with pytest.raises(RuntimeError, match="odd"):
        main(["run", str(CASE), "--quiet", "--out", str(tmp_path / "r")])


def test_a_taken_folder_is_refused_before_anything_is_computed(chain, tmp_path, capsys):
    chain(raising(AssertionError("computed")))
    (tmp_path / "notes.txt").write_text("mine")
    for arguments in ([], ["--force"]):
        assert main(["run", str(CASE), "--out", str(tmp_path), *arguments]) == 2
        assert "holds files that are not results" in capsys.readouterr().err
    assert main(["run", str(CASE), "--out", str(tmp_path / "notes.txt")]) == 2
    assert main(["run", str(CASE), "--out", str(tmp_path / "notes.txt" / "r")]) == 2
    assert (tmp_path / "notes.txt").read_text() == "mine"


@pytest.mark.skipif(os.geteuid() == 0, reason="root writes everywhere")
def test_a_folder_that_cannot_be_written(chain, tmp_path, capsys):
    chain(raising(AssertionError("computed")))
    tmp_path.chmod(0o500)
    assert main(["run", str(CASE), "--out", str(tmp_path / "r")]) == 2
    assert "cannot be written; name another folder" in capsys.readouterr().err


def test_check_says_what_a_run_would_do(monkeypatch, capsys):
    preview = SimpleNamespace(
        lines=("One vee, then still air.",),
        unknowns=6000,
        elements=1500,
        steps=160,
        seconds=7.4,
        cautions=(SimpleNamespace(code="x", text="Wear gloves."),),
    )
    monkeypatch.setattr(
        import_module("shrinksim.views.reading"),
        "prepare",
        lambda case: preview,
    )
    assert main(["check", str(CASE)]) == 0
    said = capsys.readouterr().out
    assert "the file is in order" in said
    assert "One vee, then still air." in said
    assert "6000 unknowns on 1500 elements, about 160 steps, about 7 s" in said
    assert "Cautions:\n  - Wear gloves." in said


def test_check_warns_of_target_moment_ends_and_air(tmp_path, capsys):
    plain = (ROOT / "cases" / "beam_strong_axis.toml").read_text("utf-8")
    path = tmp_path / "a.toml"
    path.write_text(plain, "utf-8")
    assert main(["check", str(path)]) == 0
    calm = capsys.readouterr().out
    changes = {
        "title =": 'print_units = "us"\ntitle =',
        "[member]": '[member]\npatch = "520 mm"',
        'moment = "': 'moment = "-',
        'target = "640 degC"': 'target = "750 degC"',
        'kind = "still air"': 'kind = "air jet"\nstart_after = "30 s"',
    }
    for old, new in changes.items():
        assert plain.count(old) == 1, old
        plain = plain.replace(old, new)
    path.write_text(plain, "utf-8")
    assert main(["check", str(path)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for text in (
        "held at 1382 degF; that is above the limit for this grade, 1202 degF",
        "The moment is negative",
        "of an end of the patch",
        "the jet blows",
        "may start before the steel is below 600 degF",
        "a patch 20.47 in long",
    ):
        assert text in said
        assert text not in " ".join(calm.split())
    assert "scald" not in said
    assert " mm" not in said
    assert " degC" not in said


def test_plain_lines_come_now_and_then(capsys):
    times = iter([0.0, 1.0, 3.0, 11.0, 12.0, 40.0, 41.0])
    report_ = progress.plain_lines(lambda: next(times), every=10.0)
    for fraction in (0.0, 0.1, 0.2, 0.5, 1.0, 1.0):
        report_("heat", fraction, "hot")
    report_("strain", 0.0, "")
    assert capsys.readouterr().err.splitlines() == [
        "heat 0 %, hot",
        "heat 50 %, hot, about 11 s left",
        "heat 100 %, hot",
        "strain 0 %",
    ]


def test_a_terminal_gets_bars(monkeypatch, capsys):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    with progress.shown_progress(quiet=False) as report_:
        report_("heat", float("nan"), "t = 1 s [not markup]")
        report_("heat", 0.5, "t = 2 s")
        report_("strain", 1.0, "cold")
    said = capsys.readouterr().err
    assert "heat" in said
    assert "strain" in said


def _hear_interrupts():
    """In the child: a parent that ignores Ctrl-C (nohup) does not pass that on."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_stopped_run_leaves_nothing(tmp_path, number):
    command = [sys.executable, "-m", "shrinksim", "run", str(CASE), "--out"]
    kernels = {"NUMBA_CACHE_DIR": str(machine.kernel_cache())}
    run = subprocess.Popen(
        [*command, str(tmp_path / "r")], cwd=ROOT, stderr=subprocess.PIPE, text=True,
        env=dict(os.environ) | kernels, preexec_fn=_hear_interrupts,
    )  # fmt: skip
    assert run.stderr is not None
    for line in run.stderr:
        if line.startswith("heat"):
            break
    run.send_signal(number)
    with run.stderr:
        rest = run.stderr.read()
    assert run.wait(120) == 130
    assert rest.splitlines()[-1] == cli.UNKEPT
    assert "Traceback" not in rest
    assert list(tmp_path.iterdir()) == []


def test_libraries_that_are_missing_are_named_and_no_fault_of_the_case(
    monkeypatch, tmp_path, capsys
):
    """Not kept as the case's own failure either: with them the run would do."""
    monkeypatch.delitem(sys.modules, "gmsh", raising=False)
    builtin = builtins.__import__

    def without(name, *rest, **more):
        if name == "gmsh":
            message = "libGLU.so.1: cannot open shared object file"
            raise OSError(message)
        return builtin(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    assert main(["run", str(CASE), "--quiet", "--out", str(tmp_path / "r")]) == 1
    said = capsys.readouterr().err
    assert "libGLU.so.1" in said
    assert LIBRARIES in said
    from shrinksim import load
    from shrinksim.runs.run_case import compute_record
    from shrinksim.runs.store import CASE_FAILURES

    record = compute_record(
        lambda case: import_module("shrinksim.runs.run").run(case),
        load(CASE),
    )
    assert record["outcome"] not in CASE_FAILURES
