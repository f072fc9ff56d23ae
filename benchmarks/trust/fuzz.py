"""Thousands of spoiled input files: each is read, or refused in sentences.

    python benchmarks/trust/fuzz.py                       # 12,000 files, some minutes
    python benchmarks/trust/fuzz.py --files 300 --kind case --seed 7
    python benchmarks/trust/fuzz.py --one 123 --kind case --seed 7   # show one of them
    python benchmarks/trust/fuzz.py --kind job --reader module:function --sound a.toml

A file passes when its reader gives something or raises CaseError with printable
sentences of a bearable length, within its seconds (of the processor; ten times as long
by the clock) and memory, and nothing is written but where the file lies.  Anything else
is a fault; the exit code is 1 if there is one.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import platform
import resource
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from mutations import RULES, spoiled
from readers import READERS, ROOT, Reader, named

SHARE = {
    "case": 0.24, "steel": 0.1, "steel of a case": 0.04, "check": 0.02, "job": 0.1,
    "study": 0.04, "readings": 0.13, "survey, readings": 0.02, "survey, job": 0.02,
    "log": 0.06, "typed into log": 0.04, "plan of a log": 0.02, "study --list": 0.01,
    "calibration": 0.01, "own calibration": 0.02, "compare": 0.03, "store": 0.03,
    "seal": 0.03, "schema --out": 0.01, "case by schema": 0.02, "job by schema": 0.01,
}  # fmt: skip
"""Part of the files that each kind gets."""
SENTENCE = 1000
"""Characters; a longer sentence is a fault."""
RECORD = ROOT / "benchmarks" / "results" / f"fuzz_{platform.machine()}.json"


@dataclass(frozen=True)
class Outcome:
    """What became of a file: "read", "refused" or a fault; seconds; grown: bytes."""

    number: int
    done: str
    fault: str
    seconds: float
    grown: float
    rules: list[str]


class Strangers:
    """Files and folders outside of ``folder`` that reading made, changed or took away."""

    KEPT = ("kernels", "__pycache__")
    """Parts of names where compiled kernels are kept."""

    def __init__(self, folder: Path) -> None:
        self.folder = f"{folder.resolve()}{os.sep}"
        self.found: list[str] = []
        sys.addaudithook(self._heard)

    def _heard(self, event: str, given: tuple[Any, ...]) -> None:
        """A hook as of PEP 578."""
        if event == "open":
            path, _, flags = given
            if not (isinstance(flags, int) and flags & CHANGES):
                return
        elif event in TAKES:
            path = given[1] if event in ("os.rename", "os.link") else given[0]
        else:
            return
        if isinstance(path, (str, bytes, os.PathLike)):
            name = os.path.abspath(os.fsdecode(path))  # noqa: PTH100 (never raises)
            kept = any(part in name for part in self.KEPT)
            inside = f"{name}{os.sep}".startswith(self.folder)
            if not kept and not inside and name != os.devnull:
                self.found.append(name)


CHANGES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
TAKES = (
    "os.mkdir", "os.remove", "os.rename", "os.rmdir", "os.link", "os.symlink",
    "os.truncate", "os.chmod", "shutil.rmtree", "shutil.move",
)  # fmt: skip


class TooLong(BaseException):
    """Reading took more than its time; no reader may catch this."""


def _too_long(number: int, frame: object) -> None:  # noqa: ARG001 (a signal's)
    raise TooLong


def _virtual() -> int:
    """Bytes of address space in use."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    return pages * resource.getpagesize()


def _largest() -> float:
    """Bytes of memory, the most so far."""
    return 1024.0 * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def judged(reader: Reader, path: Path) -> tuple[str, str]:
    """What the reader does with a file, and the fault if that is one."""
    from shrinksim.errors import CaseError

    try:
        reader.read(path)
    except CaseError as error:
        return "refused", told(error.problems)
    except TooLong:
        return "fault", "too long"
    except BaseException as error:
        said = str(error).split("\n")[0][:200]
        return "fault", f"{type(error).__name__}: {said}"
    return "read", ""


def told(problems: tuple[str, ...]) -> str:
    """What is wrong with the sentences, "" if nothing."""
    if not problems or not all(p.strip() for p in problems):
        return "no sentence"
    if not all(p.isprintable() for p in problems):
        return "a sentence that is not printable"
    longest = max(map(len, problems))
    return f"a sentence of {longest} characters" if longest > SENTENCE else ""


def one(
    reader: Reader, folder: Path, seed: int, number: int, strangers: Strangers
) -> Outcome:
    """Write a spoiled file, read it, and say what became of it."""
    content, rules = spoiled(reader.texts, seed, number)
    path = folder / f"a{reader.suffix}"
    path.write_bytes(content)
    before, start = _largest(), time.process_time()
    signal.setitimer(signal.ITIMER_PROF, reader.seconds)
    signal.setitimer(signal.ITIMER_REAL, 10.0 * reader.seconds)
    try:
        done, fault = judged(reader, path)
    except TooLong:
        done, fault = "fault", "too long"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.setitimer(signal.ITIMER_REAL, 0.0)
    seconds = time.process_time() - start
    grown = _largest() - before
    if not fault and grown > reader.memory:
        fault = f"{grown / 1e9:.1f} GB of memory"
    if strangers.found:
        fault = fault or f"writes {strangers.found[0]}"
        strangers.found.clear()
    return Outcome(number, "fault" if fault else done, fault, seconds, grown, rules)


def _work(options: Any, numbers: list[int], now: Any, out: Any) -> None:
    """Go through the files of one worker; ``now`` tells which one and since when."""
    from shrinksim.process.machine import set_up_process

    set_up_process()
    reader = named(options.kind, options.reader, options.sound)
    signal.signal(signal.SIGALRM, _too_long)
    signal.signal(signal.SIGPROF, _too_long)
    with tempfile.TemporaryDirectory() as folder:
        warm = Path(folder) / f"sound{reader.suffix}"
        warm.write_text(reader.texts[0], encoding="utf-8")
        judged(reader, warm)  # imports and compiled kernels do not count
        strangers = Strangers(Path(folder))
        most = _virtual() + int(reader.memory)
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
        for number in numbers:
            now[0], now[1] = number, time.monotonic()
            out.put(one(reader, Path(folder), options.seed, number, strangers))
    now[1] = 0.0
    out.put(None)


class Lane:
    """One worker process and the files that it still has to read."""

    def __init__(self, options: Any, numbers: list[int]) -> None:
        self.options, self.numbers = options, numbers
        self.start()

    def start(self) -> None:
        """A fresh process for what is left."""
        self.now = multiprocessing.Array("d", [-1.0, time.monotonic()])
        self.out: Any = multiprocessing.Queue()
        self.process = multiprocessing.Process(
            target=_work, args=(self.options, self.numbers, self.now, self.out)
        )
        self.process.start()

    def outcomes(self) -> Iterator[Outcome]:
        """What is ready; a worker that hangs or died is replaced, and told of."""
        import queue

        try:
            while True:
                found = self.out.get(timeout=0.1)
                if found is None:
                    self.numbers = []
                    break
                self.numbers.remove(found.number)
                yield found
        except queue.Empty:
            pass
        if not self.numbers:
            self.process.join()
            return
        number, since = int(self.now[0]), self.now[1]
        if since == 0.0:  # done; what it told is on its way
            return
        stuck = time.monotonic() - since > 120.0
        if self.process.is_alive() and not stuck:
            return
        self.process.kill()
        self.process.join()
        if number in self.numbers:
            self.numbers.remove(number)
            why = "hangs" if stuck else f"died ({self.process.exitcode})"
            yield Outcome(number, "fault", why, 0.0, 0.0, [])
        if self.numbers:
            self.start()


def tried(options: Any, count: int) -> Iterator[Outcome]:
    """The outcomes of ``count`` files of one kind, as they come."""
    many = options.at_once
    lanes = [Lane(options, list(range(k, count, many))) for k in range(many)]
    while any(lane.numbers for lane in lanes):
        for lane in lanes:
            if lane.numbers:
                yield from lane.outcomes()


def row_of(kind: str, seed: int, outcomes: list[Outcome]) -> dict[str, Any]:
    """Counts of one kind, and each fault with the number that makes it again."""
    done = Counter(outcome.done for outcome in outcomes)
    rules = Counter(rule for outcome in outcomes for rule in outcome.rules)
    return {
        "kind": kind,
        "seed": seed,
        "files": len(outcomes),
        "read": done["read"],
        "refused": done["refused"],
        "faults": [asdict(o) for o in outcomes if o.done == "fault"],
        "longest_s": max((o.seconds for o in outcomes), default=0.0),
        "most_memory_MB": max((o.grown for o in outcomes), default=0.0) / 1e6,
        "rules": {name: rules[name] for name in RULES},
    }


def show(row: dict[str, Any]) -> None:
    """One line of the table, and its faults."""
    print(
        f"{row['kind']:16} {row['files']:7} {row['read']:7} {row['refused']:8} "
        f"{len(row['faults']):7} {row['longest_s']:9.2f} {row['most_memory_MB']:10.0f}",
        flush=True,
    )
    for fault in row["faults"]:
        print(f"    {fault['number']}: {fault['fault']} ({', '.join(fault['rules'])})")


def is_there(kind: str) -> bool:
    """Whether the package has a reader of that kind, and files for it."""
    try:
        named(kind)
    except (ImportError, AttributeError):
        return False
    return True


def options_of() -> argparse.Namespace:
    """What the command line says."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--files", type=int, default=12000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--at-once", type=int, default=2)
    parser.add_argument("--kind", help=f"{', '.join(READERS)}; or a name for --reader")
    parser.add_argument("--reader", help="module:function of another kind of file")
    parser.add_argument("--sound", nargs="*", type=Path, help="sound files for it")
    parser.add_argument("--one", type=int, help="show this file, and read it")
    return parser.parse_args()


def main() -> int:
    """Try the files, print the table, keep the record."""
    options = options_of()
    if options.one is not None:
        reader = named(options.kind, options.reader, options.sound)
        content, rules = spoiled(reader.texts, options.seed, options.one)
        print(f"{rules}\n{content[:3000]!r}")
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / f"a{reader.suffix}"
            path.write_bytes(content)
            print(reader.read(path))
        return 0
    kinds = [options.kind] if options.kind else list(SHARE)
    print("kind               files    read  refused  faults  longest s  memory MB")
    rows = []
    for kind in kinds:
        if not options.reader and not is_there(kind):
            print(f"{kind:16} has no reader or no sound file yet")
            continue
        count = options.files if options.kind else round(options.files * SHARE[kind])
        options.kind, once = kind, options.kind
        rows.append(row_of(kind, options.seed, list(tried(options, count))))
        options.kind = once
        show(rows[-1])
    if not options.kind:
        RECORD.write_text(json.dumps(rows, indent=1), encoding="utf-8")
    return 1 if any(row["faults"] for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())
