"""Parse, call, print; the one place that prints errors and picks exit codes."""

from __future__ import annotations

import json
import os
import re
import signal
import sys
from collections.abc import Sequence
from importlib import import_module
from types import FrameType
from typing import Any

import sequencer
from passalong import options
from passalong.interrupted import Kept
from passalong.terminal import tamed
from sequencer.errors import PassalongError, UsageError

Json = dict[str, Any]
_STEERS = re.compile("[\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]")

INTERRUPTED = 130


def run() -> None:
    """Entry of the console script."""
    _note_interrupts()
    sys.exit(main(sys.argv[1:]))


_interrupts: list[int] = []


def _note_interrupts() -> None:
    """Remember Ctrl-C: a library that is just being loaded may turn it into an ImportError."""

    def note(number: int, frame: FrameType | None) -> None:
        _interrupts.append(number)
        raise KeyboardInterrupt

    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, note)


def main(arguments: Sequence[str]) -> int:
    """Run one command; returns the exit code (0 done, 1 not possible, 2 wrong usage)."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure:
            reconfigure(encoding="utf-8", errors="replace")
    kept = Kept()
    try:
        return _dispatch(arguments, kept)
    except PassalongError as error:
        return _fail(str(error), error.exit_code)
    except KeyboardInterrupt:
        return _fail(kept.told(), INTERRUPTED)
    except ImportError:
        if not _interrupts:
            raise
        return _fail(kept.told(), INTERRUPTED)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except MemoryError:
        return _fail("not enough memory for this. Try fewer or smaller photos.", 1)
    except OSError as error:
        return _fail(f"{error.filename or 'a file'}: {error.strerror or error}.", 1)


def _dispatch(arguments: Sequence[str], kept: Kept) -> int:
    parser = options.parser()
    asked = parser.parse_args(list(arguments))
    if asked.version:
        print(f"passalong {sequencer.__version__}")
        return 0
    if asked.command is None:
        parser.print_help()
        raise UsageError("say what to do: one of the commands above.")
    through = str(getattr(asked, "out", "")) == "-"
    if through and asked.json:
        raise UsageError("--out - and --json both want standard output; leave one of them out.")
    kept.look(asked)
    room = import_module("passalong.opening" if asked.command == "page" else "passalong.commands")
    document, show = room.COMMANDS[asked.command](asked)
    if asked.json and document:
        print(_document(document))
    elif not through and not asked.json:
        show()
    return 0


def _document(document: Json) -> str:
    """One line of JSON; what would steer a terminal is written as its number."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False)
    return _STEERS.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def _fail(message: str, code: int) -> int:
    print(f"passalong: {tamed(message)}", file=sys.stderr)
    return code
