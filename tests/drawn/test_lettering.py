"""Letters of every script, held against Unicode's own rules by way of libraries from outside.

Direction: python-bidi (the Rust crate unicode-bidi, which passes Unicode's conformance tests).
Shapes: HarfBuzz places them; what is drawn is looked at through FreeType (Pillow) and read back
out of the PDF by pypdf.
"""

import io
import unicodedata
from fractions import Fraction
from pathlib import Path

import pytest
from bidi import get_display
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas

from sequencer import lettering, write_sheets
from sequencer.lettering import drawable, font_file, missing, plain, stands_for, written
from sequencer.lettering.direction import visual_runs
from sequencer.rendering.lettering import font
from sequencer.sheets.paper.fonts import REGULAR, printable, register
from tests.made.sheets.made import made_plan, made_prints

NAMES = [
    "Low tide", "Прилив синий", "Θάλασσα", "海の青い布", "蓝色波浪", "물결 무늬", "ألوان البحر",
    "שלום (כחול)", "नीला समुद्र", "สีน้ำเงิน", "Đường biển", "கடல்", "ខ្មែរ", "မြန်မာ", "ლურჯი",
    "ծով", "ሰማያዊ", "فارسی می‌خواهم", "wave 🌊",
]  # fmt: skip
MIXED = st.text("abאבجد٣٤12 -+.,:%()[]é", max_size=16)


def read_back(line: str) -> str:
    """What a written line stands for, letter by letter."""
    return "".join(known.text if (known := stands_for(ord(sign))) else sign for sign in line)


@given(MIXED)
@settings(deadline=None)
def test_letters_stand_in_the_order_of_unicode_annex_9(text: str) -> None:
    shown = "".join(text[run.start : run.stop][:: 1 if run.rightwards else -1]
                    for run in visual_runs(text))  # fmt: skip
    assert shown == get_display(text)


@pytest.mark.parametrize("name", NAMES)
def test_every_letter_is_drawn_and_none_lost(name: str) -> None:
    line = written(name)
    assert missing(name) == ""
    assert all(map(drawable, line))
    assert "?" not in line
    assert sorted(read_back(line).replace(" ", "").translate(str.maketrans("()", ")("))) == sorted(
        unicodedata.normalize("NFC", name).replace(" ", "").translate(str.maketrans("()", ")("))
    )


@given(st.text(max_size=60))
@settings(deadline=None)  # the first letters of a script open its face
def test_any_text_is_written_once_and_for_all(text: str) -> None:
    line = written(text, 40)
    assert len(line) <= 40
    assert all(map(drawable, line))
    assert written(line) == line


def test_letters_that_join_are_not_drawn_one_by_one() -> None:
    """Arabic letters in a word differ from the same letters alone (Unicode Standard, 9.2)."""
    word, alone = ({placed.glyph for sign in written(text) if (known := stands_for(ord(sign)))
                    for placed in known.placed[0]} for text in ("بحر", "ب ح ر"))  # fmt: skip
    assert not word >= alone
    # क + ् + ष is one conjunct, drawn as one (Unicode Standard, 12.1, table 12-1)
    assert len(written("क्ष")) == 1


def test_hebrew_runs_from_the_right_and_its_figures_from_the_left() -> None:
    assert read_back(written("אב (12)")) == "(12) בא"


def test_ideographs_are_drawn_as_their_country_draws_them() -> None:
    """直 has other strokes in Japan than in China (Unicode Standard, 18.1, 'Unihan')."""
    japan, china = written("直の")[0], written("直")
    assert stands_for(ord(japan)) != stands_for(ord(china))


def test_bold_letters_are_bolder() -> None:
    ink = []
    for bold in (False, True):
        line = written("海の青")
        sheet = Image.new("L", (200, 60), 255)
        ImageDraw.Draw(sheet).text((5, 5), line, 0, font(36, bold, line))
        ink.append(sum(255 - value for value in sheet.tobytes()))
    assert ink[1] > 1.15 * ink[0] > 0


def test_what_no_face_has_is_named() -> None:
    assert missing("Ur 𒀀 ཀ blue") == "𒀀ཀ"
    assert written("Ur 𒀀") == "Ur ?"


def test_without_the_font_packages_letters_are_missing_not_wrong(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from sequencer.lettering import faces, spelling

    monkeypatch.setattr(faces, "_PACKAGES", ())
    faces._noto.cache_clear()
    spelling._written.cache_clear()
    try:
        assert written("Низкий 海 é") == "?????? ? é"
        assert missing("海") == "海"
    finally:
        faces._noto.cache_clear()
        spelling._written.cache_clear()


def test_controls_and_direction_marks_are_taken_out() -> None:
    assert plain("a\x1b[2J\u202eb\u2066c\ud800\n d") == "a[2Jbc d"
    assert plain("می\u200cخواهم") == "می\u200cخواهم"


def test_the_file_depends_on_the_letters_alone() -> None:
    line = written("Прилив")
    one = font_file("regular", line)
    written("Другое слово")
    assert font_file("regular", line) == one


@pytest.mark.parametrize("name", ["Прилив синий", "海の青い布", "नीला समुद्र", "Đường biển"])
def test_a_viewer_copies_the_name_out_of_the_sheet(name: str) -> None:
    out = io.BytesIO()
    canvas = Canvas(out, invariant=1)
    register()
    canvas.setFont(REGULAR, 20)
    canvas.drawString(50, 700, printable(name))
    canvas.save()
    assert PdfReader(io.BytesIO(out.getvalue())).pages[0].extract_text().strip() == name


def test_plain_letters_need_no_font_of_noto() -> None:
    assert font_file("bold", "Low tide") == lettering.vera("bold").read_bytes()


def test_sheets_hold_names_of_every_script_and_say_what_they_lack(tmp_path: Path) -> None:
    names = {0: "Прилив синий", 1: "נהר 3", 2: "海の青い布", 3: "𒀀 clay", 4: "नीला समुद्र"}
    prints = made_prints(5, names)
    widths = [Fraction(n, 4) for n in (2, 1, 1, 2)]
    plan = made_plan(prints, [0, 1, 2, 1], widths)
    write_sheets(plan, prints, tmp_path / "a.pdf")
    text = "\n".join(page.extract_text() for page in PdfReader(tmp_path / "a.pdf").pages)
    for name in ("Прилив синий", "海の青い布", "नीला समुद्र", "? clay"):
        assert name in text
    assert "3 רהנ" in text.replace("נהר", "רהנ")  # pypdf may or may not turn it round
    assert "No typeface here draws cuneiform sign a" in " ".join(text.split())
    written("Другие буквы между ними")
    write_sheets(plan, prints, tmp_path / "b.pdf")
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
