"""The machine: what it lacks, and where its kernels are kept."""

import os
import sys
import tomllib
from pathlib import Path

import pytest

from shrinksim.commands.cli import main
from shrinksim.fem.mesher import LIBRARIES
from shrinksim.process import doctor, machine

pytestmark = pytest.mark.usefixtures("settled")
ROOT = Path(__file__).parent.parent


def test_doctor_says_what_is_missing_and_how_to_get_it(monkeypatch, capsys):
    def broken(name):
        if name == "gmsh":
            message = "libGLU.so.1: cannot open shared object file"
            raise OSError(message)
        if name == "meshio":
            raise ImportError(name)
        return

    monkeypatch.setattr(doctor, "import_module", broken)
    monkeypatch.setitem(doctor.NEEDED, "numpy", "99.0")
    monkeypatch.setitem(doctor.NEEDED, "no-such-package", "1.0")
    assert main(["doctor"]) == 1
    said = capsys.readouterr().out
    assert "libGLU.so.1: cannot open shared object file" in said
    assert f"         apt-get install {LIBRARIES}\n" in said
    assert "is older than 99.0" in said
    assert "no-such-package is not installed" in said
    assert "meshio" in said
    assert "-m pip install 'no-such-package>=1.0'" in said
    assert "Nothing is missing" not in said


def test_doctor_finds_this_machine_fit(monkeypatch, capsys):
    monkeypatch.setattr(doctor, "import_module", lambda name: None)
    assert main(["doctor"]) == 0
    assert "Nothing is missing." in capsys.readouterr().out


def test_doctor_asks_for_what_the_package_declares():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    wanted = dict(entry.split(">=") for entry in project["dependencies"])
    assert wanted == doctor.NEEDED
    assert project["requires-python"] == ">=" + ".".join(map(str, doctor.PYTHON))
    assert doctor.DEBIAN == LIBRARIES


def test_doctor_tells_of_a_cache_that_cannot_be_written(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "file" / "cache"))
    (finding,) = [f for f in doctor.examine(tmp_path) if "kernels" in f.text]
    assert not finding.fine
    assert "NUMBA_CACHE_DIR" in finding.remedy


def test_the_process_is_set_up_once_and_the_users_settings_stay(monkeypatch, tmp_path):
    monkeypatch.delenv("OPENBLAS_NUM_THREADS")
    monkeypatch.delenv("NUMBA_CACHE_DIR")
    monkeypatch.delenv("MPLCONFIGDIR")
    monkeypatch.setenv("OMP_NUM_THREADS", "3")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    machine.set_up_process()
    assert os.environ["OPENBLAS_NUM_THREADS"] == "1"
    assert os.environ["OMP_NUM_THREADS"] == "3"
    if sys.platform.startswith("linux"):
        usual = tmp_path / "shrinksim" / "kernels"
        assert os.environ["NUMBA_CACHE_DIR"] == str(usual)
        assert os.environ["MPLCONFIGDIR"] == str(usual)
        assert usual.is_dir()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="XDG folders")
def test_kernels_never_go_to_a_folder_that_others_can_write(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    monkeypatch.setattr(machine.tempfile, "tempdir", str(tmp_path))
    own = machine.kernel_cache()
    assert own == tmp_path / f"shrinksim-{os.getuid()}"
    own.chmod(0o777)
    fresh = machine.kernel_cache()
    assert fresh != own
    assert fresh.parent == tmp_path
