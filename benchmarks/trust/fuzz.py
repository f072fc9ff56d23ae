"""Thousands of spoiled input files: each is read, or refused in sentences.

    python benchmarks/trust/fuzz.py                       # 12,000 files, some minutes
    python benchmarks/trust/fuzz.py --files 300 --kind case --seed 7
    python benchmarks/trust/fuzz.py --one 123 --kind case --seed 7   # show one of them
    python benchmarks/trust/fuzz.py --kind job --reader module:function --sound a.toml

A file passes when its reader gives something or raises CaseError with printable
sentences of a bearable length, within its seconds and memory.  Anything else is a fault;
the exit code is 1 if there is one.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
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
    "case": 0.5, "steel": 0.2, "steel of a case": 0.1, "check": 0.03, "job": 0.12,
    "study": 0.05,
}  # fmt: skip
"""Part of the files that each kind gets."""
WORKERS = 2
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


def one(reader: Reader, folder: Path, seed: int, number: int) -> Outcome:
    """Write a spoiled file, read it, and say what became of it."""
    content, rules = spoiled(reader.texts, seed, number)
    path = folder / f"a{reader.suffix}"
    path.write_bytes(content)
    before, start = _largest(), time.perf_counter()
    signal.setitimer(signal.ITIMER_REAL, reader.seconds)
    try:
        done, fault = judged(reader, path)
    except TooLong:
        done, fault = "fault", "too long"
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
    seconds = time.perf_counter() - start
    grown = _largest() - before
    if not fault and grown > reader.memory:
        fault = f"{grown / 1e9:.1f} GB of memory"
    return Outcome(number, "fault" if fault else done, fault, seconds, grown, rules)


def _work(options: Any, numbers: list[int], now: Any, out: Any) -> None:
    """Go through the files of one worker; ``now`` tells which one and since when."""
    from shrinksim.machine import settle

    settle()
    reader = named(options.kind, options.reader, options.sound)
    signal.signal(signal.SIGALRM, _too_long)
    with tempfile.TemporaryDirectory() as folder:
        warm = Path(folder) / f"sound{reader.suffix}"
        warm.write_text(reader.texts[0], encoding="utf-8")
        judged(reader, warm)  # imports and compiled kernels do not count
        most = _virtual() + int(reader.memory)
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
        for number in numbers:
            now[0], now[1] = number, time.monotonic()
            out.put(one(reader, Path(folder), options.seed, number))
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
    lanes = [Lane(options, list(range(k, count, WORKERS))) for k in range(WORKERS)]
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
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--files", type=int, default=12000)
    parser.add_argument("--seed", type=int, default=1)
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
