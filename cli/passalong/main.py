"""Parse, call, print; the one place that prints errors and picks exit codes."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence

import sequencer
from passalong import options
from passalong.terminal import tamed, tamed_json
from sequencer.errors import PassalongError, UsageError

INTERRUPTED = 130


def run() -> None:
    """Entry of the console script."""
    sys.exit(main(sys.argv[1:]))


def main(arguments: Sequence[str]) -> int:
    """Run one command; returns the exit code (0 done, 1 not possible, 2 wrong usage)."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure:
            reconfigure(encoding="utf-8", errors="replace")
    try:
        return _dispatch(arguments)
    except PassalongError as error:
        return _fail(str(error), error.exit_code)
    except KeyboardInterrupt:
        return _fail("stopped; the piece is as it was before.", INTERRUPTED)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except MemoryError:
        return _fail("not enough memory for this. Try fewer or smaller photos.", 1)
    except OSError as error:
        return _fail(f"{error.filename or 'a file'}: {error.strerror or error}.", 1)


def _dispatch(arguments: Sequence[str]) -> int:
    parser = options.parser()
    asked = parser.parse_args(list(arguments))
    if asked.version:
        print(f"passalong {sequencer.__version__}")
        return 0
    if asked.command is None:
        parser.print_help()
        raise UsageError("say what to do: one of the commands above.")
    from passalong import commands

    document, show = commands.COMMANDS[asked.command](asked)
    if asked.json:
        print(tamed_json(json.dumps(document, ensure_ascii=False, allow_nan=False)))
    else:
        show()
    return 0


def _fail(message: str, code: int) -> int:
    print(f"passalong: {tamed(message)}", file=sys.stderr)
    return code
