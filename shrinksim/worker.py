"""A second process of this program, which does one task at a time.

A worker is a fresh interpreter (nothing of the parent is copied or run again) that reads
tasks from a pipe and answers on another.  When the parent goes, however it goes, the
pipe ends and so does the worker.
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
from typing import IO

ONE_THREAD = (
    "OPENBLAS_NUM_THREADS",
    "OMP_NUM_THREADS",
    "MKL_NUM_THREADS",
    "NUMBA_NUM_THREADS",
)
_LENGTH = struct.Struct(">Q")


def cores() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class Worker:
    """The parent's end of one worker: it is ready when it has said so (`hear`)."""

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
        return self.hear() if self.tell(task) else None

    def tell(self, task: bytes) -> bool:
        """Hand it a task, a pickled (function, arguments); False if it is gone."""
        assert self.process.stdin is not None
        try:
            _send(self.process.stdin, task)
        except (OSError, ValueError):  # gone, or sent home meanwhile
            return False
        return True

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
    from shrinksim.machine import settle

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
