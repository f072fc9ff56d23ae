"""The command line.  Exit codes: 0 done, 1 failed, 2 bad input, 130 stopped by Ctrl-C.

Nothing heavy is imported before a command needs it.
"""

from __future__ import annotations

import argparse
import os
import pkgutil
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import TextIO

from shrinksim import commands
from shrinksim.commands.terminal import BAD_INPUT, FAILED, STOPPED
from shrinksim.errors import CaseError, NotConverged
from shrinksim.process.stopping import stop_requested
from shrinksim.version import __version__

TRACEBACK = "SHRINKSIM_TRACEBACK"
"""Environment variable: when set, faults of the program show where they arose."""


UNKEPT = "stopped; nothing unfinished is kept: the same command starts it again"


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command; returns the exit code."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # type: ignore[attr-defined]
    parser = _parser()
    args = parser.parse_args(argv)
    if args.command is None:
        parser.print_help()
        return BAD_INPUT
    stop_requested()
    try:
        code = args.command(args)
        if sys.stdout is not None:
            sys.stdout.flush()
        return code
    except CaseError as error:
        return _say(BAD_INPUT, *error.problems)
    except NotConverged as error:
        return _say(FAILED, str(error))
    except ImportError as error:
        return _say(FAILED, str(error))
    except KeyboardInterrupt:
        return _say(STOPPED, UNKEPT)
    except BrokenPipeError:
        _give_up(sys.stdout)
        return FAILED
    except MemoryError:
        return _say(FAILED, "out of memory; use larger elements or a shorter patch")
    except OSError as error:
        _give_up(sys.stdout)
        what = error.filename or _nameless()
        reason = error.strerror or error
        return _say(FAILED, f"{what} cannot be read or written: {reason}")
    except Exception as error:
        if stop_requested():
            return _say(STOPPED, UNKEPT)
        if os.environ.get(TRACEBACK):
            raise
        return _say(FAILED, _our_fault(error))
    except BaseException:
        if stop_requested():  # a stop that a compiled library made a panic of
            return _say(STOPPED, UNKEPT)
        raise


def _parser() -> argparse.ArgumentParser:
    """The command line."""
    parser = argparse.ArgumentParser(
        prog="shrinksim",
        description="Predict the permanent movement of a steel plate or section by heat "
        "straightening.",
        epilog="Try: shrinksim check cases/flat_bar_vee.toml",
    )
    parser.add_argument(
        "--version", action="version", version=f"%(prog)s {__version__}"
    )
    parser.set_defaults(command=None)
    offered = parser.add_subparsers(title="commands", metavar="COMMAND")
    for found in pkgutil.iter_modules(commands.__path__):
        module = import_module(f"shrinksim.commands.{found.name}")
        if hasattr(module, "add"):
            module.add(offered)
    return parser


def _say(code: int, *sentences: str) -> int:
    """Sentences to standard error, without what could upset a terminal; the code."""
    for sentence in sentences:
        plain = "".join(c if c.isprintable() or c == "\n" else "?" for c in sentence)
        try:
            print(plain, file=sys.stderr)
        except OSError:
            _give_up(sys.stderr)
    return code


def _nameless() -> str:
    """What an error of the system that names no file is about."""
    try:
        os.getcwd()  # noqa: PTH109 (only whether it can be asked)
    except OSError:
        return "the folder that the command was started in"
    return "what was to be printed"


def _give_up(stream: TextIO | None) -> None:
    """Leave a stream that takes nothing more, so that the end does not fail on it."""
    if stream is None:
        return
    try:
        stream.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _our_fault(error: Exception) -> str:
    """A sentence for a fault that is not the user's."""
    text = str(error).split("\n")[0][:200]
    return (
        f"shrinksim failed ({type(error).__name__}: {text}); this is a fault of the "
        f"program, please report it with the case file ({TRACEBACK}=1 shows where)"
    )
