"""Executor on the workers of a dask scheduler (`[cluster]` extra)."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager

from shrinksim.errors import CaseError

CONNECT_TIMEOUT, WORKER_TIMEOUT = 10, 60
"""Time (s) to wait for the scheduler, and for the first worker."""


@contextmanager
def scheduler(address: str, wait: float = WORKER_TIMEOUT) -> Iterator[Executor]:
    """Executor of the scheduler at "tcp://host:port"; CaseError if there is none.

    Workers need this package, and the steel's file under the same name.  Each should
    have one thread: runs in one process are serialised.
    """
    try:
        from distributed import Client
    except ImportError:
        message = (
            "--scheduler needs the package distributed; install it with pip install "
            "'shrinksim[cluster]'"
        )
        raise CaseError(message) from None
    try:
        client = Client(address, timeout=CONNECT_TIMEOUT, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        message = (
            f"no scheduler answers at {address} ({type(error).__name__}); write it as "
            "tcp://host:port, and start one with: dask scheduler"
        )
        raise CaseError(message) from None
    with client:
        try:
            client.wait_for_workers(1, timeout=wait)
        except TimeoutError:
            message = (
                f"no worker has come to the scheduler at {address} within {wait:g} s; "
                f"start some with: dask worker {address} --nthreads 1"
            )
            raise CaseError(message) from None
        yield client.get_executor(pure=False)
