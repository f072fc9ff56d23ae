"""Pool of worker processes on one machine: long-lived, single-threaded, one task at a time.

A worker is a new interpreter (nothing of the parent is copied or run again) that reads
tasks from a pipe and sends results on another.  A worker that dies is replaced and its
task repeated; when the parent ends, in whatever way, the pipe closes and the workers end.
"""

from __future__ import annotations

import os
import pickle
import queue
import signal
import struct
import subprocess
import sys
import tempfile
import threading
from collections import deque
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from typing import IO, Any

from shrinksim.process.machine import set_up_process

TRIES = 3
"""Number of workers that may die over a task before the task counts as the cause."""

ONE_THREAD = (
    "OPENBLAS_NUM_THREADS",
    "OMP_NUM_THREADS",
    "MKL_NUM_THREADS",
    "NUMBA_NUM_THREADS",
)
_LENGTH = struct.Struct(">Q")


@dataclass(frozen=True)
class WorkerDied:
    """In place of a result: every worker with the task died; how : the last one did."""

    how: str


def cores() -> int:
    """Number of processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def broken_pipes_harmless() -> None:
    """Make writing to a dead process an error again that does not end this process.

    This is Python's default, but gmsh sets SIGPIPE back to the system's default.
    """
    here = threading.current_thread() is threading.main_thread()
    if here and hasattr(signal, "SIGPIPE"):
        signal.signal(signal.SIGPIPE, signal.SIG_IGN)


def map_tasks(
    function: Callable[..., Any], tasks: Sequence[tuple[Any, ...]], jobs: int
) -> Generator[tuple[int, Any], None, None]:
    """(number of the task, function(*task) or WorkerDied), in order of completion.

    The function must not raise.  Close the iterator (contextlib.closing) to end the
    workers.
    """
    pool = _Pool(function, tasks)
    try:
        pool.start(min(jobs, len(tasks)))
        for _ in tasks:
            number, result = pool.next_result()
            if isinstance(result, BaseException):
                raise result
            yield number, result
    finally:
        pool.stop()


class _Pool:
    """Workers of one sweep; a thread of the parent feeds each."""

    def __init__(self, function: Callable[..., Any], tasks: Sequence[Any]) -> None:
        self.waiting = deque(
            (number, pickle.dumps((function, task)))
            for number, task in enumerate(tasks)
        )
        self.done: queue.SimpleQueue[tuple[int, Any]] = queue.SimpleQueue()
        self.lock = threading.Lock()
        self.processes: set[subprocess.Popen[bytes]] = set()
        self.threads: list[threading.Thread] = []
        self.stopped = False

    def start(self, jobs: int) -> None:
        """Start a thread for each worker."""
        for _ in range(jobs):
            thread = threading.Thread(target=self.feed_worker, daemon=True)
            self.threads.append(thread)
            thread.start()

    def feed_worker(self) -> None:
        """Give tasks to a worker one after another; replace the worker when it dies."""
        worker: _Worker | None = None
        try:
            while not self.stopped:
                try:
                    number, task = self.waiting.popleft()
                except IndexError:
                    break
                result, worker = self._result(task, worker)
                self.done.put((number, result))
        except BaseException as error:
            if not self.stopped:
                self.done.put((-1, error))
        finally:
            if worker is not None:
                self._close(worker)

    def _result(
        self, task: bytes, worker: _Worker | None
    ) -> tuple[Any, _Worker | None]:
        """Result of a task, and the worker if it is alive."""
        how = ""
        for _ in range(TRIES):
            worker = worker or self._start_worker()
            reply = worker.run(task)
            if reply is not None:
                return pickle.loads(reply), worker
            how = worker.end()
            self._close(worker)
            worker = None
        return WorkerDied(how), None

    def _start_worker(self) -> _Worker:
        """New worker, as soon as it is ready."""
        with self.lock:
            if self.stopped:
                message = "the workers have been sent home"
                raise RuntimeError(message)
            worker = _Worker()
            self.processes.add(worker.process)
        if worker.receive() is None:
            message = f"a worker process cannot start: {worker.end()}"
            self._close(worker)
            raise RuntimeError(message)
        return worker

    def _close(self, worker: _Worker) -> None:
        worker.close()
        with self.lock:
            self.processes.discard(worker.process)

    def next_result(self) -> tuple[int, Any]:
        """Next result; waits in short intervals so that Ctrl-C works on every system."""
        while True:
            try:
                return self.done.get(timeout=0.5)
            except queue.Empty:
                continue

    def stop(self) -> None:
        """Kill every worker."""
        with self.lock:
            self.stopped = True
            processes = list(self.processes)
        for process in processes:
            process.kill()
        for process in processes:
            process.wait()
        for thread in self.threads:
            thread.join(timeout=1.0)


class _Worker:
    """One worker, as the parent sees it."""

    def __init__(self) -> None:
        self.stderr = tempfile.TemporaryFile()  # noqa: SIM115 (closed in close)
        code = f"import sys; sys.path[:] = {sys.path!r}\n"
        code += f"from {__name__} import serve\nserve()"
        flags = subprocess.CREATE_NEW_PROCESS_GROUP if sys.platform == "win32" else 0
        self.process = subprocess.Popen(
            [sys.executable, "-c", code],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self.stderr,
            env=os.environ | dict.fromkeys(ONE_THREAD, "1"),
            process_group=0,  # a terminal's Ctrl-C is for the parent alone
            creationflags=flags,
        )

    def run(self, task: bytes) -> bytes | None:
        """Reply of the worker to a task, None if it dies."""
        assert self.process.stdin is not None
        try:
            _send(self.process.stdin, task)
        except OSError:
            return None
        return self.receive()

    def receive(self) -> bytes | None:
        """Next message, None at the end of the pipe."""
        assert self.process.stdout is not None
        return _receive(self.process.stdout)

    def end(self) -> str:
        """Exit code or signal of the process, in words, with its last line of output."""
        code = self.process.wait()
        self.stderr.seek(0, os.SEEK_END)
        self.stderr.seek(max(0, self.stderr.tell() - 2000))
        lines = self.stderr.read().decode(errors="replace").strip().splitlines()
        how = f"exit code {code}"
        if code < 0:
            how = f"ended by signal {-code} ({signal.Signals(-code).name})"
        if not lines:
            return how
        last = "".join(c if c.isprintable() else "?" for c in lines[-1][:200])
        return f"{how}: {last}"

    def close(self) -> None:
        """Close the pipes, which ends the worker, and wait for it."""
        for pipe in (self.process.stdin, self.process.stdout, self.stderr):
            if pipe is not None:
                try:
                    pipe.close()
                except OSError:
                    continue
        self.process.wait()


def _send(pipe: IO[bytes], message: bytes) -> None:
    """Write one message with its length in front."""
    pipe.write(_LENGTH.pack(len(message)) + message)
    pipe.flush()


def _receive(pipe: IO[bytes]) -> bytes | None:
    """Next complete message, None at the end of the pipe."""
    head = pipe.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        return None
    (length,) = _LENGTH.unpack(head)
    body = pipe.read(length)
    return body if len(body) == length else None


def serve() -> None:
    """Main loop of a worker: run tasks until the pipe ends."""
    set_up_process()
    reply = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # keeps the output of libraries out of the replies
    tasks: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(tasks,), daemon=True).start()
    _send(reply, b"ready")
    while True:
        function, arguments = pickle.loads(tasks.get())
        _send(reply, pickle.dumps(function(*arguments)))


def _listen(tasks: queue.SimpleQueue[bytes]) -> None:
    """Queue incoming tasks; end the process with the pipe, also during a task."""
    while True:
        task = _receive(sys.stdin.buffer)
        if task is None:
            os._exit(0)
        tasks.put(task)
