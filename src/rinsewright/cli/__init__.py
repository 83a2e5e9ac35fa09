"""The command line: one module per command, heavy imports inside the commands.

Exit status: 0 answered, 1 a defect of ours, 2 bad input or an output that cannot be written, 3 the plant has no
working state.
"""

from __future__ import annotations

import argparse
import contextlib
import errno
import os
import sys
from collections.abc import Sequence
from typing import NoReturn

from rinsewright import __version__
from rinsewright.errors import InputError, Problem, RinsewrightError

NO_ROOM = (errno.ENOSPC, errno.EFBIG, errno.EIO)
COMMANDS = ("water", "element", "solve", "plan", "year", "build", "firstrun", "catalogue", "serve", "book")


class Parser(argparse.ArgumentParser):
    """A parser that says what is wrong in one sentence, as every other refusal."""

    def error(self, message: str) -> NoReturn:
        """Refuse the command line."""
        raise InputError(Problem(f"{self.prog}: {message}; `{self.prog} --help` lists what it takes"))


def parser() -> argparse.ArgumentParser:
    """The command line's grammar."""
    from importlib import import_module

    top = Parser(
        prog="rinsewright",
        description="Plans and looks after small pure-water plants for cleaners who work with water-fed poles.",
        epilog="Try: rinsewright plan examples/tern-quay.toml",
        allow_abbrev=False,
    )
    top.add_argument("--version", action="version", version=f"rinsewright {__version__}")
    commands = top.add_subparsers(title="commands", dest="command", metavar="COMMAND", required=True)
    for name in COMMANDS:
        import_module(f"rinsewright.cli.{name}").add(commands)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command line; returns the exit status and never lets a traceback out."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError, ValueError):  # a character the terminal lacks is no reason to stop
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    try:
        return _run(arguments)
    except BrokenPipeError:  # whoever read the answer has read enough
        _close_quietly()
        return 0
    except OSError as error:  # let through by _run: a full disk
        _close_quietly()
        why = (error.strerror or type(error).__name__).lower()
        print(f"rinsewright: the output could not be written ({why}); make room, or send it elsewhere", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("rinsewright: stopped", file=sys.stderr)
        return 130


def _run(arguments: Sequence[str] | None) -> int:
    try:
        options = parser().parse_args(arguments)
        options.run(options)
        sys.stdout.flush()
    except SystemExit as leaving:  # --help and --version
        sys.stdout.flush()
        return leaving.code if isinstance(leaving.code, int) else 0
    except RinsewrightError as refusal:
        print(refusal, file=sys.stderr)
        return refusal.exit_status
    except Exception as defect:
        if isinstance(defect, BrokenPipeError) or (isinstance(defect, OSError) and defect.errno in NO_ROOM):
            raise
        return _own_up(defect)
    return 0


def _own_up(defect: Exception) -> int:
    if os.environ.get("RINSEWRIGHT_DEBUG") == "1":
        import traceback

        traceback.print_exception(defect)
    words = " ".join(f"{type(defect).__name__}: {defect}".split())[:300]
    print(
        f"rinsewright: a defect of ours: {words}; please report it with your site file "
        "(RINSEWRIGHT_DEBUG=1 shows where it happened)",
        file=sys.stderr,
    )
    return 1


def _close_quietly() -> None:
    """Let the interpreter's last flush of standard output go nowhere instead of complaining."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
