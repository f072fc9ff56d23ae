"""Every command that writes, killed at any moment; see `kills.py`, which is for `run`.

    python benchmarks/trust/kills_more.py                          # 12 kills each
    python benchmarks/trust/kills_more.py --kills 30 --only study --seed 4

A command starts with a store that holds some of its runs (any number, none or all), and
with or without earlier results, and is hit by SIGKILL, SIGINT or SIGTERM at any moment
or while it writes.  After each: what has its place is whole, earlier results are as they
were or were replaced whole, no finished run is lost, no process of it is left; SIGINT and
SIGTERM end it within 2 s, with exit code 130 and a sentence on how to go on.  Then the
same command runs to its end: it must come to it, and do no finished run again.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from killed_commands import Command, commands
from kills import RECORD, SIGNALS, SOON, Watched, left_of


@dataclass
class Kill:
    """One killed command.  phase : that was begun last.  kept : runs that were finished.

    again_s : that the same command then took; sudden : ended by the signal itself, before
    the program could hear it.
    """

    command: str
    number: int
    signal: str
    replaces: bool
    phase: str = ""
    hit: bool = False
    code: int = 0
    ended_s: float = 0.0
    sudden: bool = False
    kept: int = 0
    again_s: float = 0.0
    left: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


def runs_in(store: Path) -> list[str]:
    """Keys of the sound lines of a store, in their order."""
    from shrinksim.runs.store import unsealed

    if not (store / "index.jsonl").exists():
        return []
    lines = (store / "index.jsonl").read_bytes().split(b"\n")
    return [found[0] for line in lines if (found := unsealed(line)) is not None]


def tree(path: Path) -> dict[str, bytes]:
    """Every file and what is in it; the store of a study and drafts apart."""
    if path.is_file():
        return {path.name: path.read_bytes()}
    found = (p.relative_to(path) for p in path.rglob("*"))
    names = [n for n in found if "store" not in n.parts and n.parts[0][:1] != "."]
    return {str(n): (path / n).read_bytes() for n in names if (path / n).is_file()}


def drafts(folder: Path) -> list[str]:
    """Hidden things that a command left."""
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob(".*"))


class Trial:
    """Commands of one kind in folders that are copies of one where it was done."""

    def __init__(self, name: str, command: Command, place: Path) -> None:
        self.name, self.command, self.place = name, command, place
        self.model = place / "model"
        for file, text in command.files.items():
            (self.model / file).parent.mkdir(parents=True, exist_ok=True)
            (self.model / file).write_text(text, encoding="utf-8")
        self.model.mkdir(parents=True, exist_ok=True)
        self.write = 0.0
        whole, store = self.left_alone(self.model)
        self.seconds, self.write = whole
        print(
            f"{name}: {self.seconds:.1f} s, {self.write:.1f} s of them writing, "
            f"{len(store)} runs",
            flush=True,
        )

    def line(self, folder: Path) -> list[str]:
        """The command; ``--force`` where there is something to replace."""
        there = (folder / self.command.out).exists()
        force = ["--force"] * (there and self.command.force)
        return [sys.executable, "-m", "shrinksim", *self.command.line, *force]

    def left_alone(self, folder: Path) -> tuple[tuple[float, float], list[str]]:
        """(s, s of writing) of the command to its end, and the runs in its store."""
        watched = Watched(self.line(folder), folder / self.command.out, folder)
        seconds = watched.end(900.0)
        faults = self.command.whole(folder / self.command.out)
        if watched.run.returncode not in (0, 1) or faults:
            raise SystemExit("\n".join([f"{self.name} fails", *watched.said, *faults]))
        begun = watched.begun.get("write", watched.start + seconds)
        write = watched.start + seconds - begun
        return (seconds, write), runs_in(folder / self.command.store)

    def prepared(self, folder: Path, rng: random.Random, replaces: bool) -> float:
        """Make the folder; returns the share of the runs that are left to do."""
        shutil.copytree(self.model, folder)
        out = folder / self.command.out
        store = folder / self.command.store / "index.jsonl"
        kept = 0.0
        if self.command.store:
            lines = store.read_bytes().splitlines(keepends=True)
            kept = rng.choice([0.0, 0.5, 0.8, 1.0, 1.0])
            store.write_bytes(b"".join(lines[: round(kept * len(lines))]))
        if not replaces and self.name == "study":
            (out / "runs.csv").unlink()
            (out / "runs.jsonl").unlink()
        elif not replaces and out.is_dir():
            shutil.rmtree(out)
        elif not replaces or self.name == "log":
            out.unlink()
        elif self.name == "gallery":
            shutil.rmtree(out / "b")
        if replaces and self.name == "log":
            done = subprocess.run(
                self.line(folder), cwd=folder, capture_output=True, check=False
            )
            assert done.returncode == 0, done.stderr
        return 1.0 - kept

    def killed(self, number: int, seed: int) -> Kill:
        """One kill."""
        rng = random.Random(f"{self.name}/{seed}/{number}")
        kill = Kill(self.name, number, SIGNALS[number % 3].name, bool(number // 3 % 2))
        folder = self.place / f"k{number}"
        left = self.prepared(folder, rng, kill.replaces)
        out, store = folder / self.command.out, folder / self.command.store
        before = tree(out) if kill.replaces else {}
        kept = runs_in(store)
        watched = Watched(self.line(folder), out, folder)
        writing = self.write > 0.0 and rng.random() < 0.4
        if writing:
            watched.wait_for("write")
            time.sleep(rng.random() * self.write)
        else:
            computing = self.seconds - self.write - 1.5
            time.sleep(rng.random() * (1.5 + left * computing + self.write))
        hears = watched.hears()
        kill.hit = watched.run.poll() is None
        kill.phase = max(watched.begun, key=lambda k: watched.begun[k], default="start")
        number_of = SIGNALS[number % 3]
        if kill.hit:
            watched.run.send_signal(number_of)
        kill.ended_s = watched.end(60.0)
        kill.code = watched.run.returncode
        self.judge(kill, watched, folder, before, kept, hears)
        self.again(kill, folder)
        shutil.rmtree(folder, ignore_errors=True)
        return kill

    def judge(
        self, kill: Kill, watched: Watched, folder: Path, before: dict[str, bytes],
        kept: list[str], hears: bool,
    ) -> None:  # fmt: skip
        """What is wrong after a kill."""
        out, store = folder / self.command.out, folder / self.command.store
        hard = kill.signal == "SIGKILL"
        said = watched.said
        told = bool(said) and any(line.startswith("stopped") for line in said)
        kill.sudden = kill.hit and not hard and kill.code < 0 and not told
        if kill.hit and not hard:
            if kill.ended_s > SOON:
                kill.faults.append(f"took {kill.ended_s:.1f} s to end")
            if hears and any("Traceback" in line for line in said):
                kill.faults.append("a traceback: " + " | ".join(said[-3:]))
            if kill.code == 130 and not (told and "same command" in said[-1]):
                kill.faults.append(f"no word on how to go on: {' | '.join(said[-2:])}")
            if kill.code not in (130, 0) and hears and not (told and kill.code == -2):
                kill.faults.append(f"exit {kill.code}: {' | '.join(said[-2:])}")
        if out.exists():
            kill.faults += [f"{out.name}: {fault}" for fault in self.command.whole(out)]
            lost = set(before) - set(tree(out))
            if lost and not hard:
                kill.faults.append(f"earlier {min(lost)} is gone")
        elif before and not hard:
            kill.faults.append("the earlier results are gone")
        found = runs_in(store)
        if found[: len(kept)] != kept:
            kill.faults.append("finished runs are lost")
        kill.kept = len(found)
        kill.faults += [f"process {n} is left" for n in left_of(watched.run.pid)]
        kill.left = drafts(folder)
        if kill.left and not hard and not kill.sudden:
            kill.faults.append(f"left behind: {', '.join(kill.left)}")

    def again(self, kill: Kill, folder: Path) -> None:
        """The same command to its end."""
        if self.name == "lesson" and kill.number % 4:
            return
        store = folder / self.command.store
        kept = runs_in(store)
        start = time.monotonic()
        done = subprocess.run(
            self.line(folder), cwd=folder, capture_output=True, text=True, check=False
        )
        kill.again_s = time.monotonic() - start
        finished = self.name == "log" and done.returncode == 2
        if done.returncode and not finished:
            said = done.stderr.strip().splitlines()[-2:]
            kill.faults.append(f"the same command again: {' | '.join(said)}")
            return
        kill.faults += [
            f"again: {fault}" for fault in self.command.whole(folder / self.command.out)
        ]
        found = runs_in(store)
        if found[: len(kept)] != kept:
            kill.faults.append("the same command loses finished runs")
        if len(set(found)) != len(found):
            kill.faults.append("the same command does finished runs again")
        if left := drafts(folder):
            kill.left.append(f"still there: {', '.join(left)}")


def show(kills: list[Kill]) -> None:
    """The table."""
    print(
        "command    kills   hit  sudden  in phases                       slowest  faults"
    )
    for name in dict.fromkeys(kill.command for kill in kills):
        some = [kill for kill in kills if kill.command == name]
        phases = sorted({kill.phase for kill in some})
        slowest = max((k.ended_s for k in some if k.signal != "SIGKILL"), default=0.0)
        print(
            f"{name:10} {len(some):5} {sum(k.hit for k in some):5} "
            f"{sum(k.sudden for k in some):7}  {', '.join(phases):30} {slowest:7.2f} s "
            f"{sum(bool(k.faults) for k in some):6}"
        )
    for kill in kills:
        for fault in kill.faults:
            print(
                f"  {kill.command} {kill.number} {kill.signal} in {kill.phase}: {fault}"
            )
    for kill in kills:
        if any(name.startswith("still there") for name in kill.left):
            print(f"  {kill.command} {kill.number} {kill.signal}: {kill.left[-1]}")
    sys.stdout.flush()


def keep(kills: list[Kill]) -> None:
    """Put the kills in the record, in the place of those of the same commands."""
    place = RECORD.with_name(RECORD.name.replace("kills_", "kills_commands_"))
    rows: list[dict[str, Any]] = []
    if place.exists():
        rows = json.loads(place.read_text(encoding="utf-8"))
    tried = {kill.command for kill in kills}
    rows = [row for row in rows if row["command"] not in tried]
    rows += [asdict(kill) for kill in kills]
    place.write_text(json.dumps(rows, indent=1), encoding="utf-8")


def main() -> int:
    """Kill, look, go on, print, record."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--kills", type=int, default=12, help="of each command")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", help="commands")
    options = parser.parse_args()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    kills: list[Kill] = []
    with tempfile.TemporaryDirectory() as name:
        for one, command in commands().items():
            if options.only and one not in options.only:
                continue
            trial = Trial(one, command, Path(name) / one)
            done = [trial.killed(k, options.seed) for k in range(options.kills)]
            shutil.rmtree(Path(name) / one)
            show(done)
            kills += done
    keep(kills)
    print(f"{len(kills)} kills, {sum(bool(k.faults) for k in kills)} with a fault")
    return 1 if any(kill.faults for kill in kills) else 0


if __name__ == "__main__":
    sys.exit(main())
