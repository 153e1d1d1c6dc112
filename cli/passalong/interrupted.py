"""What to say on Ctrl-C: the piece is looked at before and after, so that the words are true."""

from __future__ import annotations

import argparse
from pathlib import Path

from sequencer.errors import PassalongError


class Kept:
    """The piece folder of one command, as it was when the command began."""

    def __init__(self) -> None:
        self._folder: Path | None = None
        self._before = ""

    def look(self, asked: argparse.Namespace) -> None:
        """Note which state lies there, if the command is about a piece."""
        if asked.command == "page":
            return  # it changes nothing before it serves, and Ctrl-C is how it ends
        from sequencer.piece import revision

        making = asked.out if asked.command in ("make", "read") else None
        self._folder = getattr(asked, "folder", making)
        if self._folder is not None:
            self._before = revision(self._folder)

    def told(self) -> str:
        """What is true of the piece now."""
        from sequencer.piece import load, revision

        if self._folder is None:
            return "stopped; nothing was changed."
        if revision(self._folder) == self._before:
            whole = "the piece is as it was before" if self._before else "no piece was saved"
            return f"stopped; {whole}."
        try:
            past = load(self._folder).past
        except PassalongError as error:
            return f"stopped. {error}"
        if not past:
            return (
                f"stopped; the piece was saved in {self._folder} before that. Pictures and sheets "
                "may be missing."
            )
        return (
            f"stopped; '{past[-1].name}' was saved before that, and can be taken back with: "
            f"passalong undo {self._folder}. Pictures and sheets may still show the piece before."
        )
