"""What she takes with her: whole, and without the place and time that photographs tell."""

from __future__ import annotations

import io
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import ExifTags, Image
from pypdf import PdfReader

from sequencer.errors import PhotoError
from sequencer.inches import parse_length, show_cm
from sequencer.keeping.originals import inside
from sequencer.opened.bundle import safe_name
from sequencer.photo.files.bare import bare
from sequencer.photo.files.load import load as load_photo
from sequencer.piece import load
from tests.conftest import cloth, table
from tests.server.conftest import Browser, entered
from tests.server.test_long import scraps
from tests.server.test_photos import lines_of, upload

PLACE = b"Deichstrasse 7"
COMMENT = b"taken at home"


def told(path: Path, kind: str, orientation: int = 6) -> Path:
    """A photograph that tells where, when and by whom it was taken, as cameras write it (Exif)."""
    picture = Image.open(cloth(path.with_suffix(".src.jpg"), (70, 95, 50), 3)).convert("RGB")
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    exif[ExifTags.Base.Make] = "Lumen"
    exif[ExifTags.Base.Artist] = PLACE.decode()
    exif[ExifTags.Base.DateTime] = "2026:05:04 10:11:12"
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    inner[ExifTags.Base.FocalLengthIn35mmFilm] = 31
    inner[ExifTags.Base.UserComment] = COMMENT
    place = exif.get_ifd(ExifTags.IFD.GPSInfo)
    place[ExifTags.GPS.GPSLatitudeRef] = "N"
    place[ExifTags.GPS.GPSLatitude] = (53.0, 32.0, 41.25)
    more: dict[str, Any] = {"exif": exif}
    if kind == "JPEG":
        more |= {"comment": COMMENT, "quality": 92}
    picture.save(path, kind, **more)
    return path


KINDS = [("JPEG", ".jpg"), ("PNG", ".png"), ("WEBP", ".webp"), ("TIFF", ".tif")]


@pytest.mark.parametrize(("kind", "ending"), KINDS)
def test_a_bare_photo_is_the_same_picture_and_tells_no_place(
    tmp_path: Path, kind: str, ending: str
):
    source = told(tmp_path / f"photo{ending}", kind)
    assert PLACE in source.read_bytes()
    data, end = bare(source)
    made = tmp_path / f"bare{end}"
    made.write_bytes(data)
    for secret in (PLACE, COMMENT, b"2026:05:04", b"GPS"):
        assert secret not in data
    with Image.open(made) as image:  # Pillow reads it, and finds neither place nor time
        exif = image.getexif()
        assert not exif.get_ifd(ExifTags.IFD.GPSInfo)
        assert ExifTags.Base.DateTime not in exif
    before, after = load_photo(source), load_photo(made)
    assert np.array_equal(before.pixels, after.pixels)
    assert before.full_size == after.full_size
    if kind != "TIFF":
        assert (before.taken_by, before.equivalent) == (after.taken_by, after.equivalent)


def test_pictures_hidden_behind_the_first_are_left_out(tmp_path: Path):
    first = told(tmp_path / "a.jpg", "JPEG").read_bytes()
    both = tmp_path / "both.jpg"
    both.write_bytes(first + first + PLACE)
    data, _ = bare(both)
    assert PLACE not in data
    assert len(data) < len(first)


@pytest.mark.parametrize("cut", [3, 20, 200, 2000])
def test_a_damaged_photo_is_told_not_packed(tmp_path: Path, cut: int):
    path = told(tmp_path / "a.jpg", "JPEG")
    path.write_bytes(path.read_bytes()[:cut])
    with pytest.raises(PhotoError, match="cannot be taken apart"):
        bare(path)


def test_the_zip_is_the_piece_without_places(tmp_path: Path):
    browser = entered(tmp_path / "lowtide")
    for name, data in (("home.jpg", told(tmp_path / "home.jpg", "JPEG").read_bytes()),
                       ("table.jpg", table(tmp_path / "t.jpg").read_bytes())):  # fmt: skip
        lines_of(upload(browser, data, name))
    browser.look()
    answer = browser.client.get("/api/piece.zip?paper=a4")
    browser.long.close()
    assert answer.status_code == 200, answer.text
    assert 'filename="lowtide.zip"' in answer.headers["content-disposition"]
    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        assert packed.testzip() is None
        assert {"lowtide/sheets.pdf", "lowtide/preview.png", "lowtide/piece.json"} <= set(
            packed.namelist())
        assert all(name.startswith("lowtide/") for name in packed.namelist())
        for name in packed.namelist():
            assert PLACE not in packed.read(name)
        sheets = PdfReader(io.BytesIO(packed.read("lowtide/sheets.pdf"))).pages[0].extract_text()
        assert "lowtide" in sheets  # they are called as she called the folder
        assert "Panel in" not in sheets
        packed.extractall(tmp_path / "out")
    there = load(tmp_path / "out" / "lowtide")
    here = load(browser.opened.folder)
    assert [one.outline for one in there.prints] == [one.outline for one in here.prints]
    assert there.plan == here.plan
    assert len([photo for photo in there.photos if photo.file]) == 2
    again = entered(tmp_path / "out" / "lowtide")  # it opens, and its photographs are shown
    for photo in again.document["photos"]:
        assert again.client.get(photo["screen"]).status_code == 200
    assert sorted(one.file or "" for one in there.photos) == ["photos/home.jpg", "photos/table.jpg"]
    for photo in there.photos:
        assert photo.file == f"photos/{photo.name}"
        assert (tmp_path / "out" / "lowtide" / photo.file).is_file()
    line = [[340, 100], [430, 100], [430, 260], [340, 260]]
    scraps(again, "redraw", ids=["table-3"], line=line)  # it is read where it lies
    again.long.close()
    assert again.document["photos"][1]["name"] == "table.jpg"
    assert (tmp_path / "out" / "lowtide" / "photos" / "table.jpg").is_file()


def test_photographs_have_names_that_every_system_can_write():
    taken: set[str] = set()
    for name, made in (("low tide.jpg", "low tide.jpg"), ("LOW TIDE.heic", "LOW TIDE (2).jpg"),
                       ("low tide.jpg", "low tide (3).jpg"), ("../../etc/passwd", "passwd.jpg"),
                       ("..", "photo.jpg"), ("a:b?c*.jpg", "a-b-c.jpg"),
                       ("C:\\her\\one.jpg", "C--her-one.jpg"), ("con.jpg", "photo con.jpg"),
                       ("\u202egpj.exe", "gpj.jpg"), (".hidden.jpg", "hidden.jpg"),
                       ("Ku\u0308ste.jpg", "K\u00fcste.jpg")):  # fmt: skip
        assert safe_name(name, ".jpg", taken) == made, name
    long = safe_name("ü" * 300, ".jpg", taken)
    assert len(long.encode()) <= 130
    assert set(long[:-4]) == {"ü"}


def test_a_place_outside_the_folder_is_no_place_of_a_photograph():
    for file in ("photos/..", "photos/../x.jpg", "photos/a/b.jpg", "photos/a\\b.jpg", "../x.jpg",
                 "photos/", "photos/a\x00b", "swatches/x.png"):  # fmt: skip
        assert not inside(file), file
    assert inside("photos/low tide (2).jpg")


def test_sheets_are_called_after_their_folder_wherever_they_are_asked_for(
    piece: Path, tmp_path: Path, passalong: Callable[..., tuple[int, str, str]]
):
    def title(folder: Path, *more: str) -> str:
        assert passalong("sheets", folder, "--out", tmp_path / "s.pdf", *more)[0] == 0
        return PdfReader(tmp_path / "s.pdf").pages[0].extract_text()

    named = Path(shutil.copytree(piece, tmp_path / "Low tide"))
    assert "Low tide" in title(named)
    assert "Panel in 7 prints" not in title(named)
    assert "Panel in 7 prints" in title(piece)
    assert "Ebb" in title(named, "--title", "Ebb")


def test_sheets_are_those_of_the_plan_that_hangs(browser: Browser):
    browser.do("POST", "/api/plan", {"wishes": {"repeats": 1}})
    answer = browser.client.get("/api/sheets.pdf?paper=a4&units=cm")
    browser.long.close()
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/pdf"
    pdf = PdfReader(io.BytesIO(answer.content))
    width, height = (float(side) for side in pdf.pages[0].mediabox[2:])
    assert (round(width), round(height)) == (595, 842)
    text = "".join(page.extract_text() for page in pdf.pages)
    assert "Panel in 7 prints" in text  # nobody named this folder
    for column, one in enumerate(browser.document["plan"]["columns"], 1):
        cut = show_cm(parse_length(one["cut"]))
        assert f"{column}\ncut {cut}\n" in text  # its label, to be pinned on


def test_a_picture_in_the_view_she_looks_at(browser: Browser):
    answer = browser.client.get("/api/picture.png?view=value&ppi=40")
    browser.long.close()
    pixels = np.asarray(Image.open(io.BytesIO(answer.content)).convert("RGB")).astype(int)
    assert np.ptp(pixels, axis=2).max() == 0


def test_what_is_asked_wrongly_is_told(browser: Browser):
    for path in ("/api/picture.png?view=red", "/api/picture.png?ppi=0", "/api/picture.png?ppi=nan",
                 "/api/sheets.pdf?paper=a3", "/api/sheets.pdf?units=ell"):  # fmt: skip
        answer = browser.client.get(path)
        assert answer.status_code == 400, path
        assert answer.json()["code"] == "usage"


def test_cloth_at_both_ends_of_its_doubt(browser: Browser):
    cloth_of = browser.document["prints"][0]["cloth"]
    means = [np.asarray(Image.open(io.BytesIO(browser.client.get(f"{cloth_of}&end={end}").content))
                        ).mean() for end in ("dark", "as-is", "light")]  # fmt: skip
    assert means[0] < means[1] < means[2]
    assert browser.client.get(f"{cloth_of}&end=red").status_code == 404


def test_cloth_as_the_view_of_the_piece_shows_it(browser: Browser):
    """Squinted at, cloth is grey of the same luminance (IEC 61966-2-1, Y of D65); to other eyes
    it has colour, but another."""
    cloth_of = browser.document["prints"][0]["cloth"]

    def seen(end: str) -> np.ndarray:
        data = browser.client.get(f"{cloth_of}&end={end}").content
        return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(float) / 255

    def light(pixels: np.ndarray) -> float:
        linear = np.where(pixels <= 0.04045, pixels / 12.92, ((pixels + 0.055) / 1.055) ** 2.4)
        return float((linear @ [0.2126, 0.7152, 0.0722]).mean())

    plain, grey = seen("as-is"), seen("value")
    assert np.ptp(grey, axis=2).max() < 0.02
    assert abs(light(grey) - light(plain)) < 0.01
    for eyes in ("protan", "deutan", "tritan"):
        assert np.abs(seen(eyes) - plain).mean() > 0.01
