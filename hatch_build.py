"""The README as a package index shows it: with whole addresses, or without links that lead nowhere.

An index shows README.md alone, so a relative link is dead there. Whoever publishes says where the
files of this version can be had, in the environment variable PASSALONG_FILES (an address that
ends in /); then links and pictures point there. Without it pictures are left out and links become
plain words: the project knows no public address of its own, and invents none.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

from hatchling.metadata.plugin.interface import MetadataHookInterface

_LINK = re.compile(r"(!?)\[([^\]]*)\]\((?!https?:|#|mailto:)([^)\s]+)\)")


def for_an_index(text: str, files: str = "") -> str:
    """README's text with its relative links made absolute, or taken out."""

    def whole(found: re.Match[str]) -> str:
        picture, words, path = found.groups()
        if files:
            return f"{picture}[{words}]({files.rstrip('/')}/{path})"
        return "" if picture else words

    return re.sub(r"\n{3,}", "\n\n", _LINK.sub(whole, text))


class ReadmeHook(MetadataHookInterface):
    """Sets ``readme`` in the package's metadata."""

    PLUGIN_NAME = "custom"

    def update(self, metadata: dict[str, object]) -> None:
        """Read README.md and make it fit to be shown alone."""
        text = (Path(self.root) / "README.md").read_text("utf-8")
        files = os.environ.get("PASSALONG_FILES", "")
        metadata["readme"] = {
            "content-type": "text/markdown", "text": for_an_index(text, files),
        }  # fmt: skip
