"""Disks that are full or read-only: a sentence, exit 1, earlier results as they were.

    python benchmarks/trust/disks.py        # as root (mounts small disks), two minutes

Every row runs the quick case into such a place, once anew and once over earlier results.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from folders import faults_of, leftovers

ROOT = Path(__file__).parent.parent.parent
FAST = Path(__file__).parent / "fast_bar.toml"


@dataclass(frozen=True)
class Disk:
    """room : bytes beyond what is there already, None for any.  most : of a file.

    expected : exit codes that are right; 2 where it is refused before anything is run.
    """

    name: str
    room: int | None = None
    most: int | None = None
    read_only: bool = False
    expected: tuple[int, ...] = (1,)


DISKS = (
    Disk("no room at all", room=0),
    Disk("room for the first files", room=40_000),
    Disk("room for half of it", room=220_000),
    Disk("a quota of 1 kB a file", most=1_000),
    Disk("a quota of 8 kB a file", most=8_000),
    Disk("a quota of 60 kB a file", most=60_000),
    Disk("read-only", read_only=True, expected=(1, 2)),
)


def run(out: Path, most: int | None = None) -> subprocess.CompletedProcess[str]:
    """The quick case into ``out``, over what is there."""

    def limit() -> None:
        if most is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    line = [sys.executable, "-m", "shrinksim", "run", str(FAST), "--quiet", "--force"]
    return subprocess.run(
        [*line, "--out", str(out)], cwd=ROOT, capture_output=True, text=True,
        check=False, preexec_fn=limit,
    )  # fmt: skip


def used(folder: Path) -> int:
    """Bytes of whole pages that a folder's files take."""
    sizes = [p.stat().st_size for p in folder.rglob("*") if p.is_file()]
    return sum(-(-size // 4096) * 4096 for size in sizes)


@contextmanager
def mounted(disk: Disk, folder: Path, earlier: Path | None) -> Iterator[Path]:
    """The disk on ``folder``, with earlier results in its folder r if there are any."""
    if disk.room is None and not disk.read_only:
        if earlier:
            shutil.copytree(earlier, folder / "r")
        yield folder
        return
    size = 64_000_000 if disk.room is None else disk.room + 16_384
    size += used(earlier) if earlier else 0
    mount = ["mount", "-t", "tmpfs", "-o", f"size={size}", "none", str(folder)]
    subprocess.run(mount, check=True)
    try:
        if earlier:
            shutil.copytree(earlier, folder / "r")
        if disk.read_only:
            again = ["mount", "-o", "remount,ro", str(folder)]
            subprocess.run(again, check=True)
        elif disk.room == 0:
            _fill(folder / "filler")
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def _fill(path: Path) -> None:
    """Write until the disk is full."""
    with path.open("wb", buffering=0) as file:
        try:
            while file.write(b"x" * 4096):
                pass
        except OSError:
            return


def tried(disk: Disk, earlier: Path | None, say: Callable[[str], None]) -> list[str]:
    """What is wrong after a run into the disk."""
    with (
        tempfile.TemporaryDirectory() as name,
        mounted(disk, Path(name), earlier) as at,
    ):
        done = run(at / "r", disk.most)
        lines = done.stderr.splitlines()
        faults = []
        if done.returncode not in disk.expected:
            faults.append(f"exit {done.returncode}")
        if len(lines) != 1 or "fault of the program" in done.stderr:
            faults.append(f"{len(lines)} lines: {' | '.join(lines[-3:])[-300:]}")
        say(lines[-1] if lines else "")
        if earlier is None and (at / "r").exists():
            faults.append("a folder is left")
        if earlier and (not (at / "r").exists() or faults_of(at / "r")):
            faults.append("the earlier results are not whole")
        faults += [f"left behind: {left}" for left in leftovers(at / "r")]
    return faults


def main() -> int:
    """Try every disk and print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--told", action="store_true", help="show each sentence")
    options = parser.parse_args()
    root = os.name == "posix" and os.geteuid() == 0
    disks = [disk for disk in DISKS if root or disk.most is not None]
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        earlier = Path(name) / "r"
        done = run(earlier)
        if done.returncode or faults_of(earlier):
            raise SystemExit(f"the run on a good disk fails: {done.stderr}")
        for disk in disks:
            for old in (None, earlier):
                said: list[str] = []
                faults = tried(disk, old, said.append)
                wrong += bool(faults)
                what = "over earlier results" if old else "anew"
                print(f"{'ok' if not faults else 'FAULT':6} {disk.name}, {what}")
                shown = faults + said * options.told
                print("".join(f"         {s}\n" for s in shown), end="", flush=True)
    print(f"{2 * len(disks)} runs, {wrong} with a fault")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
