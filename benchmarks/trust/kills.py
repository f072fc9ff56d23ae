"""Runs that are killed: nothing that looks finished may be unfinished.

    python benchmarks/trust/kills.py                 # 200 kills, about ten minutes
    python benchmarks/trust/kills.py --kills 30 --seed 3 --case cases/flat_bar_vee.toml

Each run is hit by SIGKILL, SIGINT or SIGTERM: at any moment, or within a phase (mesh,
heat, strain, write) that its own progress tells of.  Half of the runs replace earlier
results.  After each: the folder is absent or whole (its seal is checked), earlier
results are whole, no process of it is left; SIGINT and SIGTERM end it within 2 s, with
exit code 130 and a sentence.  Then the next run of that folder begins, which must take
away what the killed one left, and bring back results that it was about to replace.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from folders import SEAL, faults_of, leftovers

ROOT = Path(__file__).parent.parent.parent
RECORD = ROOT / "benchmarks" / "results" / f"kills_{platform.machine()}.json"
FAST = Path(__file__).parent / "fast_bar.toml"
PHASES = ("any", "start", "mesh", "heat", "strain", "write", "rename")
SIGNALS = (signal.SIGKILL, signal.SIGINT, signal.SIGTERM)
SOON = 2.0
"""s that a run may take to end once it is asked to."""


@dataclass(frozen=True)
class Kill:
    """One killed run; faults : what was wrong afterwards.

    sudden : ended by the signal itself, before the program could hear it.
    """

    number: int
    signal: str
    phase: str
    replaces: bool
    hit: bool
    code: int
    ended_s: float
    sudden: bool
    left: list[str]
    faults: list[str]


def command(case: Path, out: Path) -> list[str]:
    """The command that is tried."""
    run = [sys.executable, "-m", "shrinksim", "run", str(case), "--force", "--out"]
    return [*run, str(out)]


def _ready() -> None:
    """In the child: a parent that ignores Ctrl-C (nohup) does not pass that on."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


class Watched:
    """A run in a session of its own, and when each phase began."""

    def __init__(self, line: list[str], out: Path, cwd: Path = ROOT) -> None:
        self.out = out
        self.begun: dict[str, float] = {}
        self.said: list[str] = []
        self.start = time.monotonic()
        self.run = subprocess.Popen(
            line, cwd=cwd, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
            text=True, start_new_session=True, preexec_fn=_ready,
        )  # fmt: skip
        self.reader = threading.Thread(target=self._read)
        self.reader.start()

    def _read(self) -> None:
        assert self.run.stderr is not None
        with self.run.stderr as lines:
            for line in lines:
                self.said.append(line.rstrip("\n"))
                phase = line.split()[0].rstrip(",") if line.split() else ""
                self.begun.setdefault(phase, time.monotonic())

    def wait_for(self, phase: str) -> bool:
        """Until the phase begins; False when the run ends before."""
        while self.run.poll() is None:
            if phase in {"any", "start"} or phase in self.begun:
                return True
            if phase == "rename" and self._sealed():
                return True
            time.sleep(0.0005 if "write" in self.begun else 0.005)
        return False

    def _sealed(self) -> bool:
        """Whether the draft has its last file, so that only the renaming is left."""
        return any(self.out.parent.glob(f".{self.out.name}-unfinished-*/{SEAL}"))

    def hears(self) -> bool:
        """Whether SIGTERM is caught (proc(5), SigCgt)."""
        try:
            status = Path(f"/proc/{self.run.pid}/status").read_text(encoding="ascii")
        except OSError:
            return False
        mask = int(status.split("SigCgt:")[1].split()[0], 16)
        return bool(mask >> (signal.SIGTERM - 1) & 1)

    def end(self, limit: float) -> float:
        """Seconds until it ended; it is killed after ``limit``."""
        start = time.monotonic()
        try:
            self.run.wait(limit)
        except subprocess.TimeoutExpired:
            self.run.kill()
            self.run.wait()
        self.reader.join()
        return time.monotonic() - start


def session_of(leader: int) -> list[int]:
    """Processes that are still in a run's session, zombies apart (proc(5), stat)."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, *fields = path.read_text(encoding="utf-8").rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[2]) == leader and state != "Z":
            found.append(int(path.parent.name))
    return found


def left_of(leader: int) -> list[int]:
    """Processes of a session that are still there after ``SOON``."""
    until = time.monotonic() + SOON
    while session_of(leader) and time.monotonic() < until:
        time.sleep(0.05)
    return session_of(leader)


def timings(case: Path, folder: Path) -> dict[str, tuple[float, float]]:
    """Phase -> when it begins and how long it takes (s), from a run left alone."""
    watched = Watched(command(case, folder / "warm"), folder / "warm")
    total = watched.end(600.0)
    if watched.run.returncode not in (0, 1) or faults_of(folder / "warm"):
        raise SystemExit("\n".join(["the run left alone fails", *watched.said]))
    order = [name for name in PHASES if name in watched.begun]
    begins = [watched.begun[name] - watched.start for name in order]
    long = [b - a for a, b in zip(begins, [*begins[1:], total], strict=True)]
    found = {name: (a, b) for name, a, b in zip(order, begins, long, strict=True)}
    return found | {
        "any": (0.0, total),
        "start": (0.0, begins[0]),
        "rename": (0, 0.002),
    }


def killed(case: Path, folder: Path, plan: dict[str, Any], after: float) -> Kill:
    """Start a run, hit it ``after`` s into its phase, look at what is left, go on."""
    out = folder / f"r{plan['number']}"
    if plan["replaces"]:
        shutil.copytree(folder / "warm", out)
    watched = Watched(command(case, out), out)
    if watched.wait_for(plan["phase"]):
        time.sleep(after)
    hears = watched.hears()
    hit = watched.run.poll() is None
    if hit:
        watched.run.send_signal(plan["signal"])
    ended = watched.end(30.0)
    code = watched.run.returncode
    told = any(line.startswith("stopped") for line in watched.said)
    sudden = hit and code == -plan["signal"] != -signal.SIGKILL and not told
    faults = ending_faults(plan, watched, hit, ended, hears)
    if out.exists():
        faults += [f"results: {fault}" for fault in faults_of(out)]
    elif plan["replaces"] and plan["signal"] != signal.SIGKILL:
        faults.append("the earlier results are gone")
    faults += [f"process {number} is left" for number in left_of(watched.run.pid)]
    left = leftovers(out)
    if left and plan["signal"] != signal.SIGKILL:
        faults.append(f"left behind: {', '.join(left)}")
    faults += again(out, plan["replaces"] and not out.exists())
    shutil.rmtree(out, ignore_errors=True)
    return Kill(
        plan["number"], plan["signal"].name, plan["phase"], plan["replaces"], hit, code,
        ended, sudden, left, faults,
    )  # fmt: skip


def ending_faults(
    plan: dict[str, Any], watched: Watched, hit: bool, ended: float, hears: bool
) -> list[str]:
    """What is wrong with the way the run ended."""
    code, said = watched.run.returncode, watched.said
    if not hit or plan["signal"] == signal.SIGKILL:
        return []
    faults = []
    if ended > SOON:
        faults.append(f"took {ended:.1f} s to end")
    if hears and any("Traceback" in line for line in said):
        faults.append("a traceback: " + " | ".join(said[-3:]))
    told = bool(said) and said[-1].startswith("stopped")
    if code == 130 and not told:
        faults.append(f"no sentence at the end: {' | '.join(said[-3:])}")
    # a Ctrl-C while a module is made ends Python by SIGINT in the end, though it was
    # heard and told; shells call that 130, too
    if code not in (130, 0) and hears and not (told and code == -signal.SIGINT):
        faults.append(f"exit {code}: {' | '.join(said[-2:])}")
    return faults


def again(out: Path, lost: bool) -> list[str]:
    """The beginning of the next run, which decides on the folder before it computes.

    lost : earlier results were being replaced and are not at their place.
    """
    refuse = (
        "import sys\nfrom pathlib import Path\n"
        "from shrinksim.commands.terminal import refuse_folder\n"
        "refuse_folder(Path(sys.argv[1]), True)"
    )
    done = subprocess.run(
        [sys.executable, "-c", refuse, str(out)], cwd=ROOT, text=True,
        capture_output=True, check=False,
    )  # fmt: skip
    faults = [] if done.returncode == 0 else [f"the next run: {done.stderr[-200:]}"]
    if leftovers(out):
        faults.append(f"the next run leaves {', '.join(leftovers(out))}")
    if lost and (not out.exists() or faults_of(out)):
        faults.append("the earlier results do not come back with the next run")
    return faults


def plans(count: int, seed: int) -> list[dict[str, Any]]:
    """Signal, phase and moment (share of the phase) of each kill; all pairs in turn."""
    rng = random.Random(seed)
    pairs = [(phase, number) for phase in PHASES for number in SIGNALS]
    return [
        {
            "number": k,
            "phase": pairs[k % len(pairs)][0],
            "signal": pairs[k % len(pairs)][1],
            "replaces": (k // len(pairs)) % 2 == 0,
            "share": rng.random(),
        }
        for k in range(count)
    ]


def show(kills: list[Kill]) -> None:
    """The table."""
    print("phase    kills   hit  sudden  130  left, cleared  slowest end s  faults")
    for phase in PHASES:
        some = [kill for kill in kills if kill.phase == phase]
        codes = Counter(kill.code for kill in some)
        slowest = max((k.ended_s for k in some if k.signal != "SIGKILL"), default=0.0)
        print(
            f"{phase:8} {len(some):5} {sum(k.hit for k in some):5} "
            f"{sum(k.sudden for k in some):7} {codes[130] + codes[-signal.SIGINT]:4} "
            f"{sum(bool(k.left) for k in some):14} {slowest:14.2f} "
            f"{sum(bool(k.faults) for k in some):7}"
        )
    for kill in kills:
        for fault in kill.faults:
            print(f"  {kill.number} {kill.signal} in {kill.phase}: {fault}")
    print(f"{len(kills)} kills, {sum(bool(k.faults) for k in kills)} with a fault")


def main() -> int:
    """Kill, look, print, record."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--at-once", type=int, default=2)
    parser.add_argument(
        "--case", type=Path, default=Path(__file__).parent / "fast_bar.toml"
    )
    options = parser.parse_args()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        timings(options.case, folder)  # compiles, loads the disk's cache
        times = timings(options.case, folder)
        print("  ".join(f"{k} {a:.2f}+{b:.2f} s" for k, (a, b) in times.items()))

        def one(plan: dict[str, Any]) -> Kill:
            after = plan["share"] * times[plan["phase"]][1]
            return killed(options.case, folder, plan, after)

        with ThreadPoolExecutor(options.at_once) as pool:
            kills = list(pool.map(one, plans(options.kills, options.seed)))
    show(kills)
    RECORD.write_text(json.dumps([asdict(k) for k in kills], indent=1), "utf-8")
    return 1 if any(kill.faults for kill in kills) else 0


if __name__ == "__main__":
    sys.exit(main())
