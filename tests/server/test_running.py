"""The program as it runs: it starts, is interrupted, killed, started twice, and opens its door."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

import httpx
import pytest

from sequencer.piece import load
from tests.conftest import table

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and /proc")
ROOT = Path(__file__).parents[2]
WAIT = 90  # seconds for what comes in moments: a loaded machine is no fault, and waits end early


class Running:
    """`passalong page` in a process of its own, and a browser at its link."""

    def __init__(self, folder: Path) -> None:
        paths = os.pathsep.join([str(ROOT), str(ROOT / "cli")])
        self.process = subprocess.Popen(
            [sys.executable, "-m", "passalong", "page", str(folder), "--no-browser", "--json"],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            env={**os.environ, "PYTHONPATH": paths},
        )  # fmt: skip
        assert self.process.stdout is not None
        self.told = json.loads(self.process.stdout.readline())
        self.origin = self.told["link"].partition("/enter")[0]
        self.client = httpx.Client(base_url=self.origin, timeout=WAIT)
        assert self.client.get(self.told["link"]).status_code == 303
        self.document = self.client.get("/api/piece").json()

    def send(self, method: str, path: str, **more: Any) -> httpx.Response:
        headers = {"origin": self.origin, "if-match": self.document["revision"]}
        return self.client.request(method, path, headers=headers, **more)

    def children(self) -> list[int]:
        """Processes that this one started."""
        return [pid for pid, parent in _parents().items() if parent == self.process.pid]

    def end(self, number: int = signal.SIGINT) -> None:
        """Send a signal, and wait until it is gone."""
        self.process.send_signal(number)
        self.process.wait(WAIT)


def _parents() -> dict[int, int]:
    found = {}
    for status in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            fields = status.read_text().rpartition(")")[2].split()
            if fields[0] != "Z":
                found[int(status.parent.name)] = int(fields[1])
    return found


def gone(pids: list[int]) -> bool:
    """Whether they end."""
    return comes(lambda: not set(pids) & set(_parents()))


def comes(true: Callable[[], bool]) -> bool:
    until = time.monotonic() + WAIT
    while not true():
        if time.monotonic() > until:
            return False
        time.sleep(0.02)
    return True


@pytest.fixture
def start() -> Iterator[Any]:
    started: list[Running] = []

    def begin(folder: Path) -> Running:
        started.append(Running(folder))
        return started[-1]

    yield begin
    for one in started:
        one.client.close()
        one.process.kill()
        one.process.wait()


def busy(one: Running, tmp_path: Path) -> list[int]:
    """Photographs are being read: the children that do it."""
    for seed in range(3):
        data = table(tmp_path / f"t{seed}.jpg", 40 + seed).read_bytes()
        sent = one.send("POST", f"/api/photos?name=t{seed}.jpg&later=1", content=data)
        assert sent.status_code == 202, sent.text
    children = one.children()
    assert children
    return children


def test_ctrl_c_ends_it_at_once_with_nothing_left(start: Any, piece: Path, tmp_path: Path):
    before = load(piece).revision
    one = start(piece)
    children = busy(one, tmp_path)
    one.end()
    assert one.process.returncode == 0
    assert load(piece).revision == before  # it did not wait for what was being read
    assert gone(children)
    assert one.process.stderr.read() == ""
    assert not list(piece.glob(".incoming-*"))


def test_killed_it_leaves_no_child_and_the_piece_whole(start: Any, piece: Path, tmp_path: Path):
    before = load(piece).revision
    one = start(piece)
    children = busy(one, tmp_path)
    one.end(signal.SIGKILL)
    assert gone(children)
    assert load(piece).revision == before
    again = start(piece)  # and starts again; what was half there is thrown away
    assert again.document["revision"] == before
    assert not list(piece.glob(".incoming-*"))


def test_killed_in_mid_save_at_most_the_gesture_in_hand_is_lost(start: Any, piece: Path):
    kept = load(piece)
    one = start(piece)
    orders = [list(kept.sequence.order), list(kept.sequence.order)[::-1]]
    done = 0
    with contextlib.suppress(httpx.HTTPError):
        for turn in count():
            if turn == 3:
                subprocess.Popen([sys.executable, "-c", "import os,sys,time;time.sleep(.05);"
                                  "os.kill(int(sys.argv[1]),9)", str(one.process.pid)])
            order = orders[(turn + 1) % 2]
            answer = one.send("PUT", "/api/sequence", json={"order": order})
            assert answer.status_code == 200, answer.text
            one.document, done = answer.json(), turn + 1
    assert done >= 3
    there = load(piece)
    assert len(there.past) in (done, done + 1)  # answered steps lie there; one more at most
    again = start(piece)
    assert again.document["sequence"]["order"] in orders


def test_a_stream_that_is_left_ends_its_work(start: Any, piece: Path, tmp_path: Path):
    one = start(piece)
    data = table(tmp_path / "t.jpg", 44).read_bytes()
    with one.client.stream("POST", "/api/photos?name=t.jpg", content=data,
                           headers={"origin": one.origin}) as lines:
        next(lines.iter_lines())
        children = one.children()
    assert gone(children)
    assert one.client.get("/api/piece").json()["revision"] == one.document["revision"]


def test_a_second_page_on_the_folder_is_told_and_both_serve(start: Any, piece: Path):
    one, two = start(piece), start(piece)
    assert (one.told["alone"], two.told["alone"]) == (True, False)
    answer = one.send("PATCH", "/api/prints/moss", json={"name": "wet moss"})
    assert answer.status_code == 200
    assert two.send("POST", "/api/plan", json={"wishes": {"repeats": 1}}).status_code == 409
    two.document = two.client.get("/api/piece").json()
    assert two.document["revision"] == answer.json()["revision"]
    assert two.send("POST", "/api/plan", json={"wishes": {"repeats": 1}}).status_code == 200


def test_it_listens_on_this_machine_alone(start: Any, piece: Path):
    one = start(piece)
    port = int(one.origin.rpartition(":")[2])
    listening = [line.split()[1] for table_ in ("tcp", "tcp6")
                 for line in Path(f"/proc/net/{table_}").read_text().splitlines()[1:]
                 if line.split()[3] == "0A" and line.split()[1].endswith(f":{port:04X}")]
    assert listening == [f"0100007F:{port:04X}"]


def test_a_folder_has_its_own_port_so_that_an_old_tab_comes_back(start: Any, piece: Path):
    """A browser keeps cookies by host and name: what the new link sets lets the old tab in too."""
    one = start(piece)
    old = dict(one.client.cookies)
    two = start(piece)
    assert two.origin != one.origin  # taken meanwhile
    one.end()
    again = start(piece)
    assert again.origin == one.origin
    assert [*again.client.cookies] == [*old]  # of one name: one takes the other's place
    tab = httpx.Client(base_url=again.origin, cookies=old)
    assert tab.get("/api/piece").status_code == 403  # nothing of the earlier start is let in
    tab.cookies.update(again.client.cookies)
    assert tab.get("/api/piece").status_code == 200


SLEEPS = """
import sys, time; sys.path[:0] = sys.argv[2:]
from pathlib import Path
from anyio import to_thread
from sequencer.web import serve

async def asleep(scope, receive, send):
    print("asked", flush=True)
    await to_thread.run_sync(time.sleep, 600)

serve._Program.load = lambda self: asleep
serve.serve(Path(sys.argv[1]), 0, lambda link, alone: print(link, flush=True), at_once=True)
"""


def test_what_a_thread_computes_is_not_waited_for(tmp_path: Path):
    process = subprocess.Popen(
        [sys.executable, "-c", SLEEPS, str(tmp_path), str(ROOT), str(ROOT / "cli")],
        stdout=subprocess.PIPE, text=True)  # fmt: skip
    try:
        link = process.stdout.readline().strip()
        client = httpx.Client(base_url=link.partition("/enter")[0], timeout=500)
        assert client.get(link).status_code == 303
        asked = threading.Thread(target=refused, args=(client, "/api/piece"))
        asked.start()
        assert process.stdout.readline() == "asked\n"
        process.send_signal(signal.SIGINT)
        assert process.wait(300) == 0  # ten minutes it would sleep
        asked.join()
    finally:
        process.kill()


def test_a_taken_port_is_told(start: Any, piece: Path):
    port = start(piece).origin.rpartition(":")[2]
    done = subprocess.run(
        [sys.executable, "-m", "passalong", "page", str(piece), "--no-browser", "--port", port],
        capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "cli")])},
    )  # fmt: skip
    assert done.returncode == 2
    assert f"port {port} cannot be used" in done.stderr


# ── the door for a phone ──────────────────────────────────────────────────────────────────


@pytest.fixture
def door(start: Any, tmp_path: Path) -> tuple[Running, dict[str, Any]]:
    one = start(tmp_path / "new")
    told = one.send("POST", "/api/phone", json={})
    if told.status_code == 422 and told.json()["code"] == "no_network":
        pytest.skip("this machine is on no network")
    assert told.status_code == 200, told.text
    return one, told.json()


def test_a_phone_comes_in_once_and_sends(door: tuple[Running, dict[str, Any]], tmp_path: Path):
    one, told = door
    base, _, token = told["address"].partition("/#")
    assert len(token) >= 22  # 128 bits
    assert 0 < told["until"] - time.time() <= 300
    phone = httpx.Client(base_url=base, timeout=WAIT)
    other = httpx.Client(base_url=base, timeout=WAIT)
    photo = table(tmp_path / "t.jpg").read_bytes()
    origin = {"origin": base}
    assert phone.get("/").status_code == 200
    assert phone.post("/photo", content=photo, headers=origin).status_code == 403
    assert phone.post("/enter", json={"token": "guess"}, headers=origin).status_code == 403
    assert phone.post("/enter", json={"token": token}).status_code == 403  # from nowhere
    assert phone.get("/enter").status_code == 403
    assert phone.post("/enter", json={"token": token}, headers=origin).status_code == 200
    assert other.post("/enter", json={"token": token}, headers=origin).status_code == 403
    assert phone.get("/enter").status_code == 200
    for path in ("/api/piece", "/static/main.js", "/static/..%2fapp.py"):
        assert phone.get(path).status_code == 404  # it can send, and see nothing
    assert phone.get("/", headers={"host": "evil.example"}).status_code == 421
    assert phone.post("/photo", content=b"MZ", headers=origin).status_code == 415
    sent = phone.post("/photo?name=mine.jpg", content=photo, headers=origin)
    assert sent.json() == {"received": 1}
    state = one.client.get("/api/phone").json()
    assert (state["received"], state["entered"]) == (1, True)
    one.client.get(f"/api/jobs/{state['job']}")
    assert one.client.get("/api/piece").json()["photos"][0]["name"] == "mine.jpg"
    assert one.send("DELETE", "/api/phone").json()["address"] is None
    assert refused(phone, "/") in (403, None)  # still in its last tenth of a second, or gone
    assert comes(lambda: refused(phone, "/") is None)


def refused(phone: httpx.Client, path: str) -> int | None:
    """The status that is answered; None where nobody answers."""
    try:
        return phone.get(path).status_code
    except httpx.HTTPError:
        return None


def test_the_square_is_the_address(door: tuple[Running, dict[str, Any]]):
    """Read back by counting modules: the finder patterns of ISO/IEC 18004 lie in three corners."""
    _, told = door
    modules = {(int(x), int(y)) for x, y in re.findall(r"M(\d+) (\d+)", told["qr"])}
    size = told["size"]
    assert min(x for x, _ in modules) == min(y for _, y in modules) == 4
    assert max(x for x, _ in modules) == size - 5
    for left, top in ((4, 4), (size - 11, 4), (4, size - 11)):
        ring = {(left + x, top + y) for x in range(7) for y in range(7)
                if x in (0, 6) or y in (0, 6) or (2 <= x <= 4 and 2 <= y <= 4)}  # fmt: skip
        square = {(left + x, top + y) for x in range(7) for y in range(7)}
        assert modules & square == ring


def test_ctrl_c_shuts_the_door_too(door: tuple[Running, dict[str, Any]]):
    one, told = door
    one.end()
    assert one.process.returncode == 0
    assert refused(httpx.Client(timeout=WAIT), told["address"].partition("/#")[0]) is None
