"""The command that opens the page: apart from the others, since it loads a server and not them."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from passalong.terminal import say
from sequencer.web.serve import serve


def _page(asked: argparse.Namespace) -> tuple[dict[str, Any], Callable[[], None]]:
    """Serve until Ctrl-C; everything was said by then."""
    serve(asked.folder, asked.port, partial(told, asked.folder, asked.browser, asked.json),
          at_once=True)
    return {}, lambda: None


def told(folder: Path, browser: bool, as_json: bool, link: str, alone: bool) -> None:
    """Where the page is; opens it unless that is not wanted."""
    if as_json:
        say(json.dumps({"schema": "passalong.page-link/1", "link": link, "alone": alone}))
    else:
        say(f"The page of {folder} is open at\n\n    {link}\n\nThe link works once, in the browser "
            "it is opened in. Ctrl-C ends the page.")
        if not alone:
            say("Another page has this folder open too: each shows what the other changes, and "
                "neither overwrites it.")
    sys.stdout.flush()
    if browser:
        import webbrowser  # a twentieth of a second that the link need not wait for

        webbrowser.open(link)


COMMANDS = {"page": _page}
