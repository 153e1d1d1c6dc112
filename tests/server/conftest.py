"""The page's server as a browser sees it, within this process, behind its guard."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from sequencer.opened import Long, Opened
from sequencer.web.app import application
from sequencer.web.guard import Guard

HOST = "127.0.0.1:8765"
ORIGIN = f"http://{HOST}"


@dataclass
class Browser:
    """A browser with the page open: it sends what browsers send, and the revision it holds."""

    client: TestClient
    guard: Guard
    opened: Opened
    long: Long
    document: dict[str, Any]

    def look(self) -> dict[str, Any]:
        """Load the document."""
        answer = self.client.get("/api/piece")
        assert answer.status_code == 200, answer.text
        self.document = answer.json()
        return self.document

    def send(self, method: str, path: str, body: Any = None, **more: Any) -> Any:
        """A request as the page makes it; the document is taken where one is answered."""
        headers = {"origin": ORIGIN, "sec-fetch-site": "same-origin",
                   "if-match": f'"{self.document["revision"]}"', **more.pop("headers", {})}
        if body is not None:
            more["json"] = body
        return self.client.request(method, path, headers=headers, **more)

    def do(self, method: str, path: str, body: Any = None) -> dict[str, Any]:
        """A change that must succeed; the document after it."""
        answer = self.send(method, path, body)
        assert answer.status_code == 200, answer.text
        told: dict[str, Any] = answer.json()
        if told.get("schema") == "passalong.page/1":
            self.document = told
        return told


def entered(folder: Path) -> Browser:
    """A browser that came in by the link."""
    opened = Opened(folder)
    long = Long(opened)
    guard = Guard(application(opened, long), HOST)
    client = TestClient(guard, base_url=ORIGIN, follow_redirects=False)
    assert client.get(guard.link).status_code == 303
    browser = Browser(client, guard, opened, long, {})
    browser.look()
    return browser


@pytest.fixture
def browser(piece: Path) -> Browser:
    """On a made piece of seven prints of the test's own."""
    return entered(piece)
