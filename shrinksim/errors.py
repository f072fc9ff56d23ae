"""The two exceptions of the package: what is wrong with the input, and with a solve."""

from __future__ import annotations

from collections.abc import Sequence


class CaseError(ValueError):
    """Input that cannot be computed; ``problems`` holds one sentence for each fault."""

    def __init__(self, problems: str | Sequence[str]) -> None:
        self.problems = (problems,) if isinstance(problems, str) else tuple(problems)
        super().__init__("\n".join(self.problems))


class NotConverged(RuntimeError):
    """A solve that could not go on; the message says when, where and what to do.

    time : s, when.  partial : the history up to there, where a stage can give it.
    """

    def __init__(self, message: str, *, time: float = float("nan")) -> None:
        self.time = time
        self.partial: object = None
        super().__init__(message)
