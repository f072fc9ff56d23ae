"""Worker processes of one machine: long-lived, one thread each, handed one task at a time.

A worker that dies is replaced and its task given out again.
"""

from __future__ import annotations

import pickle
import queue
import signal
import subprocess
import threading
from collections import deque
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from typing import Any

from shrinksim.worker import Worker, cores

__all__ = ["Died", "answers", "broken_pipes_harmless", "cores"]

TRIES = 3
"""Times that a task is given out before its workers' deaths are put down to it."""


@dataclass(frozen=True)
class Died:
    """In place of an answer: every worker that had the task died; how the last did."""

    how: str


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
        worker: Worker | None = None
        try:
            while self.waiting and not self.disbanded:
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

    def _answer(self, task: bytes, worker: Worker | None) -> tuple[Any, Worker | None]:
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

    def _enlist(self) -> Worker:
        """A new worker, when it has said that it is ready."""
        with self.lock:
            if self.disbanded:
                message = "the workers have been sent home"
                raise RuntimeError(message)
            worker = Worker()
            self.members.add(worker.process)
        if worker.hear() is None:
            message = f"a worker process cannot start: {worker.end()}"
            self._leave(worker)
            raise RuntimeError(message)
        return worker

    def _leave(self, worker: Worker) -> None:
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
