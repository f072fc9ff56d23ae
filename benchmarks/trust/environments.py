"""The main commands in the surroundings that machines of users have.

    python benchmarks/trust/environments.py            # two minutes; more rows as root
    python benchmarks/trust/environments.py --wheel    # also builds a wheel (network)

Each row runs `check` and `run` on a quick case in one odd place, and what a member needs
(`survey`, `plan`, `log`, a study's list) beside it: exit codes 0, results whole, the
numbers of a usual place, nothing on standard error but progress.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from folders import faults_of, seal_faults
from killed_commands import JOB

ROOT = Path(__file__).parent.parent.parent
FAST = Path(__file__).parent / "fast_bar.toml"
ODD = "Träger & été 梁 (1) 100%"
STAGES = ("mesh", "heat", "strain", "error", "write", "survey", "moves", "plan", "ways")
QUICK = (
    JOB.split("camber = [[", maxsplit=1)[0]
    + 'file = "NAME"\n[tolerance]'
    + JOB.split("[tolerance]", maxsplit=1)[1]
    .replace('drive = "travel"\nspeed = "6 mm/s"\n', "")
    .replace("[heats]\n", '[heats]\nestimate = "quick"\n')
)
READINGS = (
    "station (m); camber (mm); note\n0; 0\n0,75; 9\n1,5; 18; über die Mitte\n3; 0\n"
)
STUDY = 'case = "NAME"\n[vary]\nheat.pattern.angle = ["20 deg", "45 deg"]\n'


@dataclass(frozen=True)
class Place:
    """Where a command runs.  without : variables that are not set.

    case, out : as they are written on the command line.  package : folder that holds
    shrinksim.
    """

    folder: Path
    case: str = "a.toml"
    out: str = "r"
    cwd: Path | None = None
    env: Mapping[str, str] = field(default_factory=dict)
    without: tuple[str, ...] = ()
    package: Path = ROOT
    readings: str = "readings.csv"
    spoil: Callable[[str], bytes] = str.encode


def plain(folder: Path) -> Place:
    """A usual place."""
    shutil.copy(FAST, folder / "a.toml")
    return Place(folder)


def no_home(folder: Path) -> Place:
    """HOME is not set."""
    shutil.copy(FAST, folder / "a.toml")
    return Place(folder, without=("HOME", "XDG_CACHE_HOME", "NUMBA_CACHE_DIR"))


def home_that_cannot_be_made(folder: Path) -> Place:
    """HOME names a folder that nobody can make."""
    shutil.copy(FAST, folder / "a.toml")
    env = {"HOME": "/proc/none", "TMPDIR": str(folder)}
    return Place(folder, env=env, without=("XDG_CACHE_HOME", "NUMBA_CACHE_DIR"))


def plain_c_locale(folder: Path) -> Place:
    """ASCII everywhere but in the names of files."""
    (folder / ODD).mkdir()
    shutil.copy(FAST, folder / ODD / "a.toml")
    env = {"LC_ALL": "C", "LANG": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0",
           "PYTHONIOENCODING": "ascii"}  # fmt: skip
    return Place(folder, f"{ODD}/a.toml", env=env)


def latin_locale(folder: Path) -> Place:
    """Output and names of files in ISO 8859-1, as on old machines."""
    shutil.copy(FAST, folder / "a.toml")
    env = {"PYTHONIOENCODING": "latin-1", "PYTHONUTF8": "0", "LC_ALL": "POSIX"}
    return Place(folder, env=env)


def odd_names(folder: Path) -> Place:
    """Spaces, accents and signs in every name."""
    there = folder / ODD
    there.mkdir()
    shutil.copy(FAST, there / "été 1.toml")
    return Place(
        folder, "été 1.toml", "Ergebnis für [a] #1", cwd=there, readings="Maß 'ä'.csv"
    )


def names_in_another_encoding(folder: Path) -> Place:
    """Names whose bytes are not UTF-8, as old disks have them."""
    there = folder / os.fsdecode(b"tr\xe4ger")
    there.mkdir()
    name = os.fsdecode(b"\xe9t\xe9.toml")
    shutil.copy(FAST, there / name)
    return Place(folder, name, os.fsdecode(b"f\xfcr"), cwd=there)


def a_locale_of_its_own(folder: Path) -> Place:
    """ISO 8859-1 and decimal commas, where the system can make such a locale."""
    made = folder / "locales" / "de_DE.iso88591"
    made.parent.mkdir()
    line = ["localedef", "-c", "-i", "de_DE", "-f", "ISO-8859-1", str(made)]
    done = subprocess.run(line, capture_output=True, check=False)
    if not made.is_dir():
        raise SystemExit(f"localedef: {done.stderr.decode(errors='replace')}")
    shutil.copy(FAST, folder / "a.toml")
    env = {"LOCPATH": str(made.parent), "LC_ALL": made.name, "LANG": made.name,
           "PYTHONUTF8": "0"}  # fmt: skip
    return Place(folder, env=env)


def another_folder(folder: Path) -> Place:
    """From a folder that has nothing to do with it, by whole names."""
    shutil.copy(FAST, folder / "a.toml")
    (folder / "away").mkdir()
    return Place(folder, str(folder / "a.toml"), str(folder / "r"), folder / "away")


def folder_that_was_removed(folder: Path) -> Place:
    """The folder that the shell stands in is gone."""
    shutil.copy(FAST, folder / "a.toml")
    (folder / "gone").mkdir()
    return Place(folder, str(folder / "a.toml"), str(folder / "r"), folder / "gone")


def windows_text(folder: Path) -> Place:
    """Byte order mark and CRLF."""

    def spoil(text: str) -> bytes:
        return b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()

    (folder / "a.toml").write_bytes(spoil(FAST.read_text(encoding="utf-8")))
    return Place(folder, spoil=spoil)


def through_a_link(folder: Path) -> Place:
    """The case and the results' parent are symbolic links."""
    (folder / "there").mkdir()
    (folder / "real").mkdir()
    shutil.copy(FAST, folder / "there" / "case.toml")
    (folder / "a.toml").symlink_to(Path("there") / "case.toml")
    (folder / "link").symlink_to("real")
    return Place(folder, out="link/r")


def beside_others(folder: Path) -> Place:
    """Files called like modules lie where the command runs."""
    shutil.copy(FAST, folder / "a.toml")
    for name in ("numpy", "json", "random", "case"):
        (folder / f"{name}.py").write_text("raise SystemExit('the wrong file')\n")
    return Place(folder, env={"PYTHONSAFEPATH": "1"})


def an_install_that_cannot_be_written(folder: Path) -> Place:
    """The package on a read-only disk, without compiled kernels; no home (root)."""
    package = folder / "mounted"
    shutil.copytree(
        ROOT / "shrinksim", package / "shrinksim",
        ignore=shutil.ignore_patterns("__pycache__"),
    )  # fmt: skip
    for options in (["--bind"], ["-o", "remount,ro,bind"]):
        subprocess.run(["mount", *options, str(package), str(package)], check=True)
    shutil.copy(FAST, folder / "a.toml")
    env = {"HOME": "/proc/none", "TMPDIR": str(folder)}
    return Place(folder, env=env, package=package,
                 without=("XDG_CACHE_HOME", "NUMBA_CACHE_DIR"))  # fmt: skip


def a_full_home(folder: Path) -> Place:
    """HOME is on a disk without room: nothing can be kept there (root)."""
    home = folder / "mounted"
    home.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=4k", "none", str(home)]
    subprocess.run(mount, check=True)
    (home / "fills").write_bytes(b"x" * 4096)
    shutil.copy(FAST, folder / "a.toml")
    env = {"HOME": str(home)}
    return Place(folder, env=env, without=("XDG_CACHE_HOME", "NUMBA_CACHE_DIR"))


def a_wheel(folder: Path) -> Place:
    """The package from a wheel, its sources away (builds one: network)."""
    source, wheels, package = folder / "source", folder / "wheels", folder / "package"
    ignore = shutil.ignore_patterns(
        "__pycache__", ".*", "results", "tests", "*.egg-info"
    )
    shutil.copytree(ROOT, source, ignore=ignore)
    pip = [sys.executable, "-m", "pip", "-q", "--disable-pip-version-check"]
    subprocess.run([*pip, "wheel", "--no-deps", "-w", wheels, source], check=True)
    shutil.rmtree(source)
    (wheel,) = wheels.iterdir()
    missing = not_in(wheel)
    if missing:
        raise SystemExit(f"the wheel lacks {', '.join(missing)}")
    subprocess.run(
        [*pip, "install", "--no-deps", "--target", package, wheel], check=True
    )
    shutil.copy(ROOT / "cases" / "flat_bar_vee.toml", folder / "a.toml")
    return Place(folder, package=package)


def not_in(wheel: Path) -> list[str]:
    """Files of the package that a wheel does not hold."""
    with zipfile.ZipFile(wheel) as file:
        held = set(file.namelist())
    package = ROOT / "shrinksim"
    own = (p.relative_to(ROOT).as_posix() for p in package.rglob("*") if p.is_file())
    return sorted(
        name for name in own if "__pycache__" not in name and name not in held
    )


Maker = Callable[[Path], Place]

USUAL: tuple[Maker, ...] = (
    plain, no_home, home_that_cannot_be_made, plain_c_locale, latin_locale, odd_names,
    names_in_another_encoding, another_folder, folder_that_was_removed, windows_text,
    through_a_link, beside_others,
)  # fmt: skip
AS_ROOT: tuple[Maker, ...] = (an_install_that_cannot_be_written, a_full_home)


def call(place: Place, arguments: list[str]) -> subprocess.CompletedProcess[str]:
    """One command in a place."""
    env = {**os.environ, **place.env, "PYTHONPATH": str(place.package)}
    env = {key: value for key, value in env.items() if key not in place.without}
    cwd = place.cwd or place.folder
    line = [sys.executable, "-m", "shrinksim", *arguments]
    if cwd.name == "gone":  # removed once the command stands in it
        code = "import os, runpy, sys; os.rmdir(os.getcwd()); sys.argv[0] = 'shrinksim'"
        code += "; sys.modules['coverage'] = None"  # it asks where it is, if installed
        code += "; runpy.run_module('shrinksim', run_name='__main__', alter_sys=True)"
        cwd.mkdir(exist_ok=True)
        line = [sys.executable, "-c", code, *arguments]
    return subprocess.run(
        line, cwd=cwd, env=env, capture_output=True, check=False,
        encoding="utf-8", errors="replace",
    )  # fmt: skip


def tried(place: Place, rotation: float | None) -> tuple[list[str], float | None]:
    """What is wrong in a place, and the rotation (mrad) that came out."""
    faults = []
    for name, more in (("check", []), ("run", ["--out", place.out])):
        done = call(place, [name, place.case, *more])
        if done.returncode:
            said = done.stderr.strip().splitlines()[-1:]
            faults.append(f"{name}: exit {done.returncode} {' '.join(said)}")
        odd = [line for line in done.stderr.splitlines() if not line.startswith(STAGES)]
        faults += [f"{name} says: {line}" for line in odd[:3]]
    results = (place.cwd or place.folder) / place.out
    if not results.exists():
        return [*faults, "no results"], None
    faults += faults_of(results)
    summary = json.loads((results / "summary.json").read_text(encoding="utf-8"))
    found = summary["rotation_mrad"]
    if rotation is not None and abs(found - rotation) > 1e-9 * abs(rotation):
        faults.append(f"rotation {found!r} mrad, elsewhere {rotation!r}")
    return faults, found


def member_tried(place: Place) -> list[str]:
    """What is wrong with the commands for a whole member, and with a study's list."""
    stands = place.cwd or place.folder
    beside = Path(place.case).parent
    names = [str(beside / name) for name in ("job.toml", "study.toml")]
    texts = [QUICK.replace("NAME", place.readings), STUDY.replace("NAME", "a.toml")]
    for name, text in zip(names, texts, strict=True):
        (stands / name).write_bytes(place.spoil(text))
    (stands / beside / place.readings).write_bytes(place.spoil(READINGS))
    (stands / beside / "a.toml").write_bytes((stands / place.case).read_bytes())
    job, study = names
    plan, faults = f"{place.out}p", []
    heat = ["-r", "1.5 m: 18 mm to 15 mm", "--plan", plan, "--note", "été"]
    for line in (
        ["survey", job],
        ["plan", job, "--out", plan, "--store", f"{place.out}s", "--jobs", "1"],
        ["log", job, *heat], ["log", job], ["study", study, "--list", "--quiet"],
        ["schema", "--kind", "job"],
    ):  # fmt: skip
        done = call(place, line)
        said = done.stderr.strip().splitlines()
        if done.returncode or not done.stdout.strip():
            faults.append(f"{line[0]}: exit {done.returncode} {' '.join(said[-1:])}")
        odd = [text for text in said if not text.startswith(STAGES)]
        faults += [f"{line[0]} says: {text}" for text in odd[:3]]
    if not (stands / plan).exists():
        return [*faults, "no plan"]
    return faults + seal_faults(stands / plan)


@contextmanager
def room() -> Iterator[Path]:
    """A temporary folder; what was mounted in it goes with it."""
    with tempfile.TemporaryDirectory() as name:
        try:
            yield Path(name)
        finally:
            mounted = Path(name) / "mounted"
            if mounted.exists():
                subprocess.run(["umount", str(mounted)], check=True)


def main() -> int:
    """Go through the places and print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--wheel", action="store_true", help="also from a wheel")
    parser.add_argument("--only", help="the place with this name")
    options = parser.parse_args()
    makers = USUAL + AS_ROOT * (os.name == "posix" and os.geteuid() == 0)
    makers += (a_locale_of_its_own,) * bool(shutil.which("localedef"))
    makers += (a_wheel,) * options.wheel
    if options.only:
        makers = tuple(m for m in (*makers, a_wheel) if m.__name__ == options.only)
    usual, wrong = None, 0
    for maker in makers:
        with room() as folder:
            place = maker(folder)
            faults, found = tried(place, None if maker is a_wheel else usual)
            faults += member_tried(place)
        usual = found if maker is plain else usual
        wrong += bool(faults)
        print(f"{'ok' if not faults else 'FAULT':6} {maker.__name__.replace('_', ' ')}")
        print("".join(f"         {fault}\n" for fault in faults), end="", flush=True)
    print(f"{len(makers)} places, {wrong} with a fault")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
