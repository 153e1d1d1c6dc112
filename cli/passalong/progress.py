"""How long work shows itself: a bar on a terminal, plain lines elsewhere, always on stderr."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import Any

from passalong.terminal import tamed


class Display:
    """A context manager that is called as ``display(done, total, what)``."""

    def __init__(self, quiet: bool = False) -> None:
        self._quiet = quiet
        self._bar: Any = None
        self._task: Any = None
        self._last = ""

    def __enter__(self) -> Display:
        if sys.stderr.isatty() and not self._quiet:
            from rich.console import Console
            from rich.progress import BarColumn, Progress, TextColumn

            self._bar = Progress(
                TextColumn("{task.description}"),
                BarColumn(),
                TextColumn("{task.completed:.0f}/{task.total:.0f}"),
                console=Console(stderr=True), transient=True)
            self._bar.start()
            self._task = self._bar.add_task("starting", total=1)
        return self

    def __call__(self, done: int, total: int, what: str) -> None:
        """Show that ``done`` of ``total`` is finished and ``what`` is under way."""
        if self._bar is not None:
            self._bar.update(self._task, completed=done, total=max(total, 1),
                             description=tamed(what).replace("[", "\\["))
        elif not self._quiet and what != self._last:
            self._last = what
            print(f"[{done}/{total}] {tamed(what)}", file=sys.stderr, flush=True)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._bar is not None:
            self._bar.stop()
