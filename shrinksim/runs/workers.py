"""Worker processes of one machine: long-lived, one thread each, handed one task at a time.

A worker is a fresh interpreter (nothing of the parent is copied or run again) that reads
tasks from a pipe and answers on another.  A worker that dies is replaced and its task
given out again; when the parent goes, however it goes, the pipe ends and so do they.
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

from shrinksim.process.machine import settle

TRIES = 3
"""Times that a task is given out before its workers' deaths are put down to it."""

ONE_THREAD = (
    "OPENBLAS_NUM_THREADS",
    "OMP_NUM_THREADS",
    "MKL_NUM_THREADS",
    "NUMBA_NUM_THREADS",
)
_LENGTH = struct.Struct(">Q")


@dataclass(frozen=True)
class Died:
    """In place of an answer: every worker that had the task died; how the last did."""

    how: str


def cores() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def broken_pipes_harmless() -> None:
    """Writing to a process that has died is an error again, and does not end this one.

    So it is in Python from the start, but the mesher's library puts the system's sudden
    end in its place.
    """
    here = threading.current_thread() is threading.main_thread()
    if here and hasattr(signal, "SIGPIPE"):
        signal.signal(signal.SIGPIPE, signal.SIG_IGN)


def answers(
    function: Callable[..., Any], tasks: Sequence[tuple[Any, ...]], jobs: int
) -> Generator[tuple[int, Any], None, None]:
    """(number of the task, function(*task) or Died), as they come.

    The function must not raise.  Close the iterator (contextlib.closing) to be sure that
    the workers are gone.
    """
    crew = _Crew(function, tasks)
    try:
        crew.begin(min(jobs, len(tasks)))
        for _ in tasks:
            number, answer = crew.next_answer()
            if isinstance(answer, BaseException):
                raise answer
            yield number, answer
    finally:
        crew.disband()


class _Crew:
    """The workers of one sweep; each is looked after by a thread of the parent."""

    def __init__(self, function: Callable[..., Any], tasks: Sequence[Any]) -> None:
        self.waiting = deque(
            (number, pickle.dumps((function, task)))
            for number, task in enumerate(tasks)
        )
        self.done: queue.SimpleQueue[tuple[int, Any]] = queue.SimpleQueue()
        self.lock = threading.Lock()
        self.members: set[subprocess.Popen[bytes]] = set()
        self.threads: list[threading.Thread] = []
        self.disbanded = False

    def begin(self, jobs: int) -> None:
        """Start a thread for each worker."""
        for _ in range(jobs):
            thread = threading.Thread(target=self.look_after_one, daemon=True)
            self.threads.append(thread)
            thread.start()

    def look_after_one(self) -> None:
        """Hand tasks to a worker, one after another, and put it back when it dies."""
        worker: _Worker | None = None
        try:
            while not self.disbanded:
                try:
                    number, task = self.waiting.popleft()
                except IndexError:
                    break
                answer, worker = self._answer(task, worker)
                self.done.put((number, answer))
        except BaseException as error:
            if not self.disbanded:
                self.done.put((-1, error))
        finally:
            if worker is not None:
                self._leave(worker)

    def _answer(
        self, task: bytes, worker: _Worker | None
    ) -> tuple[Any, _Worker | None]:
        """The answer to a task, and the worker that lives on."""
        how = ""
        for _ in range(TRIES):
            worker = worker or self._enlist()
            answer = worker.ask(task)
            if answer is not None:
                return pickle.loads(answer), worker
            how = worker.end()
            self._leave(worker)
            worker = None
        return Died(how), None

    def _enlist(self) -> _Worker:
        """A new worker, when it has said that it is ready."""
        with self.lock:
            if self.disbanded:
                message = "the workers have been sent home"
                raise RuntimeError(message)
            worker = _Worker()
            self.members.add(worker.process)
        if worker.hear() is None:
            message = f"a worker process cannot start: {worker.end()}"
            self._leave(worker)
            raise RuntimeError(message)
        return worker

    def _leave(self, worker: _Worker) -> None:
        worker.close()
        with self.lock:
            self.members.discard(worker.process)

    def next_answer(self) -> tuple[int, Any]:
        """Wait for an answer, in short turns so that Ctrl-C gets through everywhere."""
        while True:
            try:
                return self.done.get(timeout=0.5)
            except queue.Empty:
                continue

    def disband(self) -> None:
        """End every worker at once."""
        with self.lock:
            self.disbanded = True
            members = list(self.members)
        for process in members:
            process.kill()
        for process in members:
            process.wait()
        for thread in self.threads:
            thread.join(timeout=1.0)


class _Worker:
    """The parent's end of one worker."""

    def __init__(self) -> None:
        self.said = tempfile.TemporaryFile()  # noqa: SIM115 (closed in close)
        code = f"import sys; sys.path[:] = {sys.path!r}\n"
        code += f"from {__name__} import serve\nserve()"
        apart = subprocess.CREATE_NEW_PROCESS_GROUP if sys.platform == "win32" else 0
        self.process = subprocess.Popen(
            [sys.executable, "-c", code],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self.said,
            env=os.environ | dict.fromkeys(ONE_THREAD, "1"),
            process_group=0,  # a terminal's Ctrl-C is for the parent alone
            creationflags=apart,
        )

    def ask(self, task: bytes) -> bytes | None:
        """The worker's answer, None if it dies over it."""
        assert self.process.stdin is not None
        try:
            _send(self.process.stdin, task)
        except OSError:
            return None
        return self.hear()

    def hear(self) -> bytes | None:
        """The next message, None if none will come."""
        assert self.process.stdout is not None
        return _receive(self.process.stdout)

    def end(self) -> str:
        """How the process ended, in words."""
        code = self.process.wait()
        self.said.seek(0, os.SEEK_END)
        self.said.seek(max(0, self.said.tell() - 2000))
        lines = self.said.read().decode(errors="replace").strip().splitlines()
        how = f"exit code {code}"
        if code < 0:
            how = f"ended by signal {-code} ({signal.Signals(-code).name})"
        if not lines:
            return how
        said = "".join(c if c.isprintable() else "?" for c in lines[-1][:200])
        return f"{how}: {said}"

    def close(self) -> None:
        """Let the worker go: it ends when its pipe does."""
        for pipe in (self.process.stdin, self.process.stdout, self.said):
            if pipe is not None:
                try:
                    pipe.close()
                except OSError:
                    continue
        self.process.wait()


def _send(pipe: IO[bytes], message: bytes) -> None:
    pipe.write(_LENGTH.pack(len(message)) + message)
    pipe.flush()


def _receive(pipe: IO[bytes]) -> bytes | None:
    """The next whole message, None at the end of the pipe."""
    head = pipe.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        return None
    (length,) = _LENGTH.unpack(head)
    body = pipe.read(length)
    return body if len(body) == length else None


def serve() -> None:
    """A worker's life: answer tasks until the pipe ends."""
    settle()
    reply = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what libraries print is kept apart from the answers
    tasks: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(tasks,), daemon=True).start()
    _send(reply, b"ready")
    while True:
        function, arguments = pickle.loads(tasks.get())
        _send(reply, pickle.dumps(function(*arguments)))


def _listen(tasks: queue.SimpleQueue[bytes]) -> None:
    """Pass tasks on; end the process with the pipe, also in the middle of a task."""
    while True:
        task = _receive(sys.stdin.buffer)
        if task is None:
            os._exit(0)
        tasks.put(task)
