"""How a command ends: whatever happens becomes one clear message and an exit code."""

from __future__ import annotations

import codecs
import errno
import os
import sys
import unicodedata
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any, NamedTuple, NoReturn

import typer

from api.tongue import shown_in
from routing.errors import InputError, LeatlineError
from routing.words import said_message, speaking, translate

__all__ = [
    "BAD_INPUT",
    "DONE",
    "FAULT",
    "INTERRUPTED",
    "KINDS",
    "asked_language",
    "end",
    "run_command",
]

DONE, FAULT, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130
USAGE_ERROR: Any = typer.BadParameter.__mro__[2]
"""Base of what the command line says about its own use."""
PLAIN = {
    "\N{EN DASH}": "-", "\N{EM DASH}": "-", "\N{MINUS SIGN}": "-", "\N{MULTIPLICATION SIGN}": "x",
    "\N{MIDDLE DOT}": "*", "\N{DEGREE SIGN}": " deg ", "\N{GREATER-THAN OR EQUAL TO}": ">=",
    "\N{LESS-THAN OR EQUAL TO}": "<=", "\N{RIGHTWARDS ARROW}": "->", "\N{PLUS-MINUS SIGN}": "+-",
    "\N{RIGHT SINGLE QUOTATION MARK}": "'", "\N{HORIZONTAL ELLIPSIS}": "...",
    "\N{GREEK SMALL LETTER SIGMA}": "sigma", "\N{ALMOST EQUAL TO}": "~", "\N{BULLET}": "*",
}  # fmt: skip
"""What a terminal gets that has no such character; of any other its plain letters, or ``?``."""
KINDS = {
    "usage": "The command cannot be understood as it is written.",
    "file": "A file cannot be read or written.",
    "no_room": "The disk is full or broken.",
    "stopped": "The command was stopped.",
    "fault": "This is a fault of ours, not of what was given.",
}
"""What other ends of a command are, as :meth:`LeatlineError.kind` says it of an error's code."""


_signals: list[int] = []
"""Signals by which this run was asked to end."""


def end(signum: int, frame: object) -> NoReturn:
    """Handle a signal by the exit code that it stands for."""
    _signals.append(signum)
    raise SystemExit(128 + signum)


def run_command(run: Callable[..., Any], arguments: Sequence[str]) -> NoReturn:
    """Run a command line; every way out is an exit code."""
    codecs.register_error("leatline", _plainly)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="leatline")
    how = _telling(arguments)
    try:
        code = run(list(arguments), standalone_mode=False)
        sys.stdout.flush()
    except USAGE_ERROR as exc:
        if not how.as_json:
            _show_usage(exc, how.language)
        _stop(exc.format_message(), exc.exit_code, how, "usage", "See leatline --help.")
    except LeatlineError as exc:
        told = f"{exc.problem}", BAD_INPUT, how, exc.code, exc.remedy, exc.station_m
        _stop(*told, kind=exc.kind())
    except (KeyboardInterrupt, typer.Abort):
        _stop("stopped.", INTERRUPTED, how, "stopped")
    except BrokenPipeError:
        _reader_left()
    except SystemExit as exc:
        if isinstance(exc.__context__, BrokenPipeError):  # the command's own library saw it first
            _reader_left()
        raise
    except OSError as exc:
        _os_error(exc, how)
    except Exception as exc:
        _fault(exc, how)
    raise SystemExit(code if isinstance(code, int) else DONE)


def _plainly(error: UnicodeError) -> tuple[str, int]:
    """Stand in for what a stream's character set does not have."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    found = ""
    for letter in error.object[error.start : error.end]:
        plain = unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
        found += PLAIN.get(letter) or plain or "?"
    return found, error.end


def _show_usage(error: Any, language: str) -> NoReturn:
    """Let the command's own library say what is wrong, behind a word of the language."""
    if language != "en":
        typer.echo(f"leatline: {translate(KINDS['usage'], language)}", err=True)
    error.show()
    raise SystemExit(error.exit_code) from None


class _Telling(NamedTuple):
    """How a message is told: as one object for a program, or in words of a language."""

    as_json: bool
    language: str


def _telling(arguments: Sequence[str]) -> _Telling:
    as_json = _given(arguments).get("--format") == "json"
    return _Telling(as_json=as_json, language=asked_language(arguments))


def asked_language(arguments: Sequence[str]) -> str:
    """Return the language that a command line is answered in, before it has been understood."""
    try:
        return shown_in(_given(arguments).get("--language"), sys.stderr)
    except InputError:  # the command itself says so
        return shown_in(None, sys.stderr)


def _given(arguments: Sequence[str]) -> dict[str, str]:
    given = dict(pairwise(arguments))
    return given | dict(
        each.split("=", 1) for each in arguments if each.startswith("--") and "=" in each
    )


def _forget_stdout() -> None:
    """Keep the interpreter from writing to standard output once more on its way out."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _reader_left() -> NoReturn:
    """End well: whoever read standard output has seen enough."""
    _forget_stdout()
    raise SystemExit(DONE) from None


def _os_error(error: OSError, how: _Telling) -> NoReturn:
    if error.filename is None and error.errno in (errno.ENOSPC, errno.EIO, errno.EDQUOT):
        _forget_stdout()
        _stop(
            f"Nothing more can be written: {error.strerror}.",
            BAD_INPUT,
            how,
            "no_room",
            "Make room, or write to another place.",
        )
    if error.filename is None and error.strerror is None:
        _fault(error, how)
    problem = f"{error.strerror}: {error.filename}."
    _stop(problem, BAD_INPUT, how, "file", "Check the path and its rights.")


def _fault(error: Exception, how: _Telling) -> NoReturn:
    if _signals:  # it came while code was compiled, whose library made a fault of the exit
        raise SystemExit(128 + _signals[0]) from None
    if os.environ.get("LEATLINE_TRACEBACK"):
        raise error
    _stop(
        f"a fault of ours, {type(error).__name__}: {error}.",
        FAULT,
        how,
        "fault",
        "Please report it with what LEATLINE_TRACEBACK=1 prints.",
    )


def _stop(
    problem: str,
    exit_code: int,
    how: _Telling,
    code: str,
    remedy: str = "",
    station_m: float | None = None,
    kind: str = "",
) -> NoReturn:
    """Say why a command ends, in words or as one object, and end it."""
    if how.as_json:
        import orjson

        said = {"code": code, "message": problem, "remedy": remedy, "station_m": station_m}
        typer.echo(orjson.dumps(said).decode(), err=True)
    else:
        with speaking(how.language):
            told = " ".join(said_message(kind or KINDS.get(code, ""), problem, remedy))
        typer.echo(f"leatline: {told}".rstrip(), err=True)
    raise SystemExit(exit_code) from None
