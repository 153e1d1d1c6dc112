"""Who may ask: each way in that is not the page's own browser is tried, and shut."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from sequencer.opened import Long, Opened
from sequencer.web.app import application
from sequencer.web.guard import POLICY, Guard
from tests.server.conftest import HOST, ORIGIN, Browser


@pytest.fixture
def fresh(piece: Path) -> tuple[TestClient, Guard]:
    """A page nobody has entered yet."""
    opened = Opened(piece)
    guard = Guard(application(opened, Long(opened)), HOST)
    return TestClient(guard, base_url=ORIGIN, follow_redirects=False), guard


def test_the_link_works_once(fresh: tuple[TestClient, Guard]):
    client, guard = fresh
    link = guard.link
    assert client.get("/api/piece").status_code == 403
    assert client.get("/enter?key=wrong").status_code == 403
    assert client.get("/enter").status_code == 403
    assert client.get("/enter?key=None").status_code == 403
    came = client.get(link)
    assert came.status_code == 303
    cookie = came.headers["set-cookie"]
    assert cookie.startswith("passalong-8765=")
    for told in ("HttpOnly", "SameSite=strict", "Path=/"):
        assert told in cookie
    assert client.get("/api/piece").status_code == 200
    assert client.get(link).status_code == 303  # a reload in the same browser
    other = TestClient(guard, base_url=ORIGIN, follow_redirects=False)
    for key in (link, "/enter?key=None", "/enter?key="):
        assert other.get(key).status_code == 403


@pytest.mark.parametrize("cookie", ["", "passalong-8765=", "passalong-8765=guess",
                                    "passalong-1=x", "passalong-8765", "=;;,", "\xff" * 9])
def test_a_cookie_that_is_not_ours(fresh: tuple[TestClient, Guard], cookie: str):
    client, _ = fresh
    for path in ("/", "/api/piece", "/static/main.js", "/help/questions", "/api/piece.zip"):
        answer = client.get(path, headers={"cookie": cookie.encode("latin-1")})
        assert answer.status_code == 403, path


@pytest.mark.parametrize("host", ["evil.example", "localhost:8765", "127.0.0.1", "127.0.0.1:80",
                                  "127.0.0.1:8765.evil.example", "[::1]:8765", "", "127.1:8765",
                                  "evil.example:8765", "127.0.0.1:8765, evil.example"])  # fmt: skip
def test_another_host_is_not_answered(browser: Browser, host: str):
    for path in ("/", "/api/piece", "/enter?key=x"):
        assert browser.client.get(path, headers={"host": host}).status_code == 421


def test_two_hosts_are_none(browser: Browser):
    answer = browser.client.get("/api/piece", headers=[("host", HOST), ("host", HOST)])
    assert answer.status_code == 421


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://127.0.0.1:8766", "",
                                    "https://127.0.0.1:8765", "http://localhost:8765",
                                    "http://127.0.0.1:8765/"])  # fmt: skip
def test_another_page_changes_nothing(browser: Browser, origin: str):
    revision = browser.document["revision"]
    for method, path in (("POST", "/api/undo"), ("PUT", "/api/sequence"), ("POST", "/api/photos"),
                         ("DELETE", "/api/jobs/1"), ("POST", "/api/phone"),
                         ("PATCH", "/api/prints/moss"), ("GET", "/api/piece")):  # fmt: skip
        answer = browser.send(method, path, headers={"origin": origin})
        assert answer.status_code == 403, (method, path)
    assert browser.look()["revision"] == revision


def test_a_change_without_an_origin_is_refused(browser: Browser):
    answer = browser.client.post("/api/undo", headers={"if-match": "x"})
    assert answer.status_code == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site", "anything"])
def test_a_request_from_another_site_is_refused(browser: Browser, site: str):
    for path in ("/", "/api/piece", "/enter?key=x", browser.document["photos"][0]["screen"]):
        assert browser.client.get(path, headers={"sec-fetch-site": site}).status_code == 403


def test_every_answer_is_closed_to_others(browser: Browser):
    for path in ("/", "/api/piece", "/static/main.js", "/nothing", "/api/jobs/99",
                 browser.document["prints"][0]["cloth"], "/enter?key=x"):  # fmt: skip
        told = browser.client.get(path).headers
        assert told["content-security-policy"] == POLICY
        assert told["x-content-type-options"] == "nosniff"
        assert told["cross-origin-resource-policy"] == "same-origin"
        assert told["cross-origin-opener-policy"] == "same-origin"
        assert told["referrer-policy"] == "no-referrer"
        assert "cache-control" in told
    assert "unsafe" not in POLICY
    assert "*" not in POLICY


@pytest.mark.parametrize("path", [
    "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static/....//app.py",
    "/static//etc/passwd", "/help/../../pyproject", "/help/..%2f..%2fpyproject", "/help/%00",
    "/api/photos/..%2f..%2fpiece.json/screen", "/api/prints/..%2f..%2fpiece.json/cloth",
    "/api/jobs/-1", "/api/jobs/999999999999999999999", "/api/photos/%00/screen",
])  # fmt: skip
def test_no_path_leads_out(browser: Browser, path: str):
    answer = browser.client.get(path)
    assert answer.status_code in (404, 422), answer.text
    assert "Traceback" not in answer.text


def test_a_body_is_counted(browser: Browser):
    answer = browser.send("POST", "/api/price", {"order": ["x" * 199] * 5000 * 2})
    assert answer.status_code == 413


@pytest.mark.parametrize("body", [b"{", b"[" * 100_000, b"\xff\xfe", b'{"order":[1]}',
                                  b'{"order":[],"more":1}', b"null"])  # fmt: skip
def test_what_is_no_message_is_refused(browser: Browser, body: bytes):
    answer = browser.client.post("/api/price", content=body, headers={"origin": ORIGIN})
    assert answer.status_code == 400
    assert "not understood" in answer.json()["error"]
