"""Photographs as they come in: many at once, none by its name, nothing left of what is refused."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

from sequencer.corrections import rename
from sequencer.opened import long as long_work
from sequencer.opened import working
from sequencer.opened.jobs import Upload
from sequencer.piece import load, undo
from sequencer.web import uploads
from tests.conftest import cloth, table
from tests.server.conftest import ORIGIN, Browser, entered

FROM_THE_PAGE = {"origin": ORIGIN, "sec-fetch-site": "same-origin"}


@pytest.fixture
def empty(tmp_path: Path) -> Any:
    """A page on a folder that is not there yet."""
    browser = entered(tmp_path / "new piece")
    yield browser
    browser.long.close()


def lines_of(answer: Any) -> list[dict[str, Any]]:
    assert answer.status_code == 200, answer.text
    return [json.loads(line) for line in answer.text.splitlines()]


def upload(browser: Browser, data: bytes, name: str, **more: str) -> Any:
    return browser.client.post("/api/photos", params={"name": name, **more}, content=data,
                               headers=FROM_THE_PAGE)


def left_over(folder: Path) -> list[str]:
    """Whatever came in and was not taken into the piece."""
    return [str(one) for place in folder.glob(".incoming-*") for one in place.iterdir()]


def test_the_first_picture_without_a_question(empty: Browser, tmp_path: Path):
    assert empty.document["moment"] == "empty"
    assert empty.document["revision"] == "new"
    data = table(tmp_path / "table.jpg").read_bytes()
    later = upload(empty, data, "my table.jpg", later="1")
    assert later.status_code == 202
    told = lines_of(empty.client.get(f"/api/jobs/{later.json()['job']}"))
    lit = next(line for line in told if "scraps" in line)
    assert lit["photo"] == "my table.jpg"
    assert lit["upload"] == later.json()["upload"]
    assert len(lit["scraps"]) == 3
    document = empty.look()
    assert told[-1]["revision"] == document["revision"]
    assert document["moment"] == "piece"
    assert len(document["prints"]) == len(document["plan"]["prints"]) == 3
    assert document["photos"][0]["name"] == "my table.jpg"
    assert left_over(empty.opened.folder) == []


def test_many_are_read_as_one_piece_of_work_and_one_step(empty: Browser, tmp_path: Path):
    colours = [(70, 95, 50), (200, 180, 130), (160, 95, 70), (120, 140, 80)]
    jobs = {upload(empty, cloth(tmp_path / f"{n}.jpg", colour, n).read_bytes(), f"{n}.jpg",
                   later="1").json()["job"] for n, colour in enumerate(colours)}  # fmt: skip
    assert len(jobs) == 1
    told = lines_of(empty.client.get(f"/api/jobs/{jobs.pop()}"))
    assert sorted(line["photo"] for line in told if "scraps" in line) == [
        f"{n}.jpg" for n in range(4)]
    document = empty.look()
    assert len(document["prints"]) == 4
    assert document["plan"] is not None
    assert len(document["steps"]) <= 1


def test_a_photo_alone_is_told_to_its_end(empty: Browser, tmp_path: Path):
    told = lines_of(upload(empty, cloth(tmp_path / "a.jpg", (70, 95, 50)).read_bytes(), "a.jpg"))
    assert any("scraps" in line for line in told)
    assert told[-1]["revision"] == empty.look()["revision"]
    assert empty.document["moment"] == "photos"  # one print makes no piece


HOSTILE = [
    "../../../etc/passwd", "..\\..\\windows\\evil.jpg", "/etc/cron.d/evil", "", ".", "..",
    "a\x00b", "con", "\u202egpj.exe", "x" * 5000, "table.jpg/../../out.jpg", "-rf", "<img src=x>",
]  # fmt: skip


def test_a_name_is_never_a_path(empty: Browser, tmp_path: Path):
    folder = empty.opened.folder
    photos = [cloth(tmp_path / f"{n}.jpg", (70 + 9 * n, 95, 50), n).read_bytes()
              for n in range(len(HOSTILE))]  # fmt: skip
    before = {one for one in tmp_path.rglob("*") if not one.is_relative_to(folder)}
    jobs = [upload(empty, data, name, later="1").json()["job"]
            for data, name in zip(photos, HOSTILE, strict=True)]  # fmt: skip
    for job in set(jobs):
        lines_of(empty.client.get(f"/api/jobs/{job}"))
    assert {one for one in tmp_path.rglob("*") if not one.is_relative_to(folder)} == before
    kept = load(folder).photos
    assert len(kept) == len(HOSTILE)
    for photo in kept:
        assert photo.file == f"photos/{photo.content}.jpg"
        assert not set("/\\\x00\u202e<> ") & set(photo.stem)
        assert not photo.stem.startswith((".", "-"))


@pytest.mark.parametrize("data", [
    b"", b"MZ" + bytes(5000), b"<html><script>alert(1)</script></html>", b"%PDF-1.7 " + bytes(99),
    b"RIFF\x00\x00\x00\x00WAVEfmt ", b"\x00\x00\x00\x18ftypqt  ", b"PK\x03\x04" + bytes(99),
])  # fmt: skip
def test_what_is_no_photo_is_refused_by_its_content(empty: Browser, data: bytes):
    answer = upload(empty, data, "scraps.jpg")
    assert answer.status_code == 415
    assert answer.json()["code"] == "no_picture"
    assert left_over(empty.opened.folder) == []
    assert empty.look()["moment"] == "empty"


def test_a_photo_is_counted_while_it_comes_in(empty: Browser, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(uploads, "MOST", 3_000_000)
    sent = []

    def endless() -> Any:
        yield b"\xff\xd8\xff\xe0" + bytes(60_000)
        for _ in range(10_000):
            sent.append(60_000)
            yield bytes(60_000)

    answer = empty.client.post("/api/photos?name=a.jpg", content=endless(), headers=FROM_THE_PAGE)
    assert answer.status_code == 413
    assert "MB" in answer.json()["error"]
    assert left_over(empty.opened.folder) == []


def test_a_photo_that_announces_too_much_is_refused_unread(empty: Browser):
    answer = empty.client.post("/api/photos", content=b"\xff\xd8\xff", headers={
        **FROM_THE_PAGE, "content-length": str(uploads.MOST + 1)})
    assert answer.status_code == 413
    assert not empty.opened.folder.exists()


def test_a_bomb_is_told_and_nothing_is_kept(empty: Browser):
    told = lines_of(upload(empty, bomb_of(40_000, 40_000), "bomb.png"))
    refused = next(line for line in told if "error" in line)
    assert refused["code"] == "photo"
    assert "bomb" in refused["error"]
    assert empty.look()["photos"] == []


def bomb_of(width: int, height: int) -> bytes:
    """A PNG of few bytes that would be thousands of megapixels."""
    import struct
    import zlib

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(
            ">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(bytes(3_000_000), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def test_a_full_disk_is_told(empty: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def full(handle: int) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "fsync", full)
    answer = upload(empty, cloth(tmp_path / "a.jpg", (70, 95, 50)).read_bytes(), "a.jpg")
    assert answer.status_code == 507
    assert "full" in answer.json()["error"]
    assert left_over(empty.opened.folder) == []


def test_so_many_photos_and_no_more(
    browser: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(long_work, "MOST_PHOTOS", len(browser.document["photos"]))
    answer = upload(browser, cloth(tmp_path / "a.jpg", (70, 95, 50)).read_bytes(), "a.jpg")
    assert answer.status_code == 422
    assert answer.json()["code"] == "too_many"
    assert "full" in answer.json()["error"]


def test_stopping_ends_the_child_and_keeps_what_was_there(browser: Browser, tmp_path: Path):
    before = browser.document["revision"]
    data = table(tmp_path / "t.jpg", 3).read_bytes()
    job = upload(browser, data, "t.jpg", later="1").json()["job"]
    child = browser.long.jobs._child
    assert child is not None
    stopped = browser.client.delete(f"/api/jobs/{job}", headers=FROM_THE_PAGE)
    assert stopped.status_code == 200
    assert not child.alive or browser.long.jobs.get(job).stopped
    told = lines_of(browser.client.get(f"/api/jobs/{job}"))
    assert told[-1]["code"] == "stopped"
    assert left_over(browser.opened.folder) == []
    assert browser.look()["revision"] == before


def test_a_photo_comes_beside_those_there(browser: Browser, tmp_path: Path):
    order = browser.document["sequence"]["order"]
    told = lines_of(upload(browser, cloth(tmp_path / "fern.jpg", (60, 110, 60)).read_bytes(),
                           "fern.jpg"))  # fmt: skip
    assert told[-1]["revision"]
    after = browser.look()
    assert set(after["sequence"]["order"]) == {*order, "fern"}
    assert after["undo"]["step"] == "photograph fern.jpg"
    assert browser.do("POST", "/api/undo")["sequence"]["order"] == order


def test_what_is_read_twice_joins_no_step_of_hers(piece: Path, tmp_path: Path):
    """As after a kill: a photograph that is there already comes again, then one that is new."""
    rename(piece, {"moss": "wet moss"})
    there = next((piece / "photos").iterdir())
    fern = cloth(tmp_path / "fern.jpg", (60, 110, 60))
    joins = working.read_batch(print, piece, [Upload(1, there, there.name)], "", 0, 2)
    joins = working.read_batch(print, piece, [Upload(2, fern, "fern.jpg")], joins, 1, 2)
    working.picture(print, piece, joins)
    assert steps(piece) == ["name wet moss", "photograph fern.jpg"]
    undo(piece)
    assert load(piece).names["moss"] == "wet moss"


def test_what_she_does_while_photos_are_read_is_a_step_of_its_own(piece: Path, tmp_path: Path):
    photos = [cloth(tmp_path / f"{name}.jpg", (60, level, 60)) for name, level in
              (("fern", 110), ("ivy", 150))]  # fmt: skip

    def meanwhile(line: dict[str, Any]) -> None:
        if line.get("photo") == "ivy.jpg":
            rename(piece, {"moss": "wet moss"})

    joins = ""
    for number, path in enumerate(photos):
        batch = [Upload(number, path, path.name)]
        joins = working.read_batch(meanwhile, piece, batch, joins, number, 2)
    assert steps(piece) == ["photograph fern.jpg", "name wet moss", "photograph ivy.jpg"]
    working.picture(print, piece, joins)  # and what nobody came between is one step
    assert steps(piece)[2:] == ["photograph ivy.jpg"]


def steps(piece: Path) -> list[str]:
    return [step.name for step in load(piece).past]
