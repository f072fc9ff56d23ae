"""Surroundings of users' machines: a small part of benchmarks/trust/environments.py."""

import os
import shutil
import sys
import tomllib
from fnmatch import fnmatch
from pathlib import Path
from types import SimpleNamespace

import pytest

from shrinksim.process import machine

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "benchmarks" / "trust"))

import environments  # noqa: E402
import folders  # noqa: E402

pytestmark = [
    pytest.mark.skipif(os.name != "posix", reason="places of a POSIX system"),
    pytest.mark.slow,
]
QUICK = (
    environments.no_home,
    environments.plain_c_locale,
    environments.odd_names,
    environments.windows_text,
    environments.through_a_link,
    environments.folder_that_was_removed,
)


@pytest.mark.parametrize("maker", QUICK, ids=lambda m: m.__name__)
def test_check_works_in_odd_places(maker, tmp_path):
    place = maker(tmp_path)
    done = environments.call(place, ["check", place.case])
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert "the file is in order" in done.stdout


def test_a_run_among_odd_names_in_ascii(tmp_path):
    place = environments.plain_c_locale(tmp_path)
    faults, rotation = environments.tried(place, None)
    assert faults == []
    assert rotation is not None
    (results,) = [path for path in tmp_path.iterdir() if path.name == "r"]
    (results / "history.csv").write_text("cut")
    assert folders.faults_of(results), "a changed file is noticed"


def test_a_wheel_holds_every_file_of_the_package():
    """By the patterns of pyproject.toml; `environments.py --wheel` builds one."""
    tools = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]
    patterns = tools["setuptools"]["package-data"]["shrinksim"]
    package = ROOT / "shrinksim"
    for path in package.rglob("*"):
        name = path.relative_to(package).as_posix()
        if path.is_dir() or "__pycache__" in name:
            continue
        if path.suffix == ".py":
            assert (path.parent / "__init__.py").exists(), f"{name} is in no package"
            continue
        depth = name.count("/")
        fits = [p for p in patterns if p.count("/") == depth and fnmatch(name, p)]
        assert fits, f"{name} would not be in a wheel"


def test_kernels_do_not_go_to_a_disk_without_room(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(machine.tempfile, "tempdir", str(tmp_path / "tmp"))
    (tmp_path / "tmp").mkdir()
    real = shutil.disk_usage

    def usage(path):
        full = Path(path).is_relative_to(tmp_path / "home")
        return SimpleNamespace(free=machine.ROOM - 1) if full else real(path)

    monkeypatch.setattr(machine.shutil, "disk_usage", usage)
    assert machine.kernel_cache().parent == tmp_path / "tmp"
