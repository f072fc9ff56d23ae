"""Figures drawn by a second process while this one computes on."""

from __future__ import annotations

import pickle
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from shrinksim.output.shown import SectionShown, Shown
from shrinksim.worker import Worker, cores


class Aside:
    """A second process with pen and paper.

    begin(result) hands it a result; drawings() gives name -> SVG when they are done,
    None where there is no such process or it died: then draw them here.
    """

    def __init__(self) -> None:
        self.worker = _enlisted() if cores() > 1 else None
        self.telling: threading.Thread | None = None
        self.begun = False
        self.tell(get_ready)

    def tell(self, function: Callable[..., Any], *arguments: Any) -> None:
        """Hand over a task; in a thread, for it may still be waking up."""
        if self.worker is None:
            return
        task, before = pickle.dumps((function, arguments)), self.telling
        worker = self.worker

        def hand_over() -> None:
            if before is not None:
                before.join()
            worker.tell(task)

        self.telling = threading.Thread(target=hand_over, daemon=True)
        self.telling.start()

    def begin(self, result: Shown | SectionShown) -> None:
        """Begin to draw the figures of a result."""
        self.begun = True
        self.tell(drawings_of, result)

    def drawings(self) -> Mapping[str, bytes] | None:
        """Wait for the figures."""
        if self.worker is None or not self.begun:
            return None
        answer = None
        for _ in ("awake", "ready", "drawn"):
            answer = self.worker.hear()
            if answer is None:
                return None
        return pickle.loads(answer) if answer is not None else None

    def leave(self) -> None:
        """End the process, whatever it is at."""
        if self.worker is not None:
            self.worker.process.kill()
            self.worker.close()


@contextmanager
def drawn_aside() -> Iterator[Aside]:
    """A second process for the figures, gone at the end."""
    aside = Aside()
    try:
        yield aside
    finally:
        aside.leave()


def _enlisted() -> Worker | None:
    """A worker, None where the machine does not give one."""
    try:
        return Worker()
    except OSError:
        return None


def get_ready() -> None:
    """Load what drawing takes."""
    import matplotlib.backends.backend_svg
    import matplotlib.figure  # noqa: F401

    import shrinksim.output.figures
    import shrinksim.result  # noqa: F401


def drawings_of(result: Shown | SectionShown) -> dict[str, bytes] | None:
    """The figures of a result; None for one that cannot be drawn, to be met again."""
    from shrinksim.output.figures import drawings

    try:
        return drawings(result)
    except Exception:
        return None
