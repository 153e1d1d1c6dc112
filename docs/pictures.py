"""Make the pictures of README and docs anew: python docs/pictures.py demo SCREENS.

``demo`` is a piece folder, SCREENS (may be left out) the folder that docs/screens.py filled.

Needs pdftoppm (poppler) for the picture of a sheet, and pypdf (an extra of the tests).
"""

import io
import subprocess
import sys
from pathlib import Path

from PIL import Image
from pypdf import PdfReader

HERE = Path(__file__).parent
SHOWN = ("Finished", "The prints in sequence", "Cutting the scraps", "Strip set 1")
"""What the pages that are shown have on them."""


def reduced(picture: Image.Image, width: int, to: str) -> None:
    """Save a picture at this width as JPEG."""
    height = round(picture.height * width / picture.width)
    small = picture.convert("RGB").resize((width, height), Image.Resampling.LANCZOS)
    small.save(HERE / to, quality=86)


def numbers(pdf: Path) -> list[int]:
    """The first page, from 1, that has each of the words."""
    texts = [one.extract_text() for one in PdfReader(pdf).pages]
    return [next(n for n, text in enumerate(texts, 1) if words in text) for words in SHOWN]


def page(pdf: Path, number: int) -> Image.Image:
    """One page of the sheets as a picture."""
    command = ["pdftoppm", "-r", "90", "-png", "-f", str(number), "-l", str(number), str(pdf)]
    done = subprocess.run(command, capture_output=True, check=True)
    return Image.open(io.BytesIO(done.stdout))


def main(piece: Path) -> None:
    """All the pictures."""
    for name, width in (("preview", 900), ("sequence", 900), ("preview-value", 600)):
        reduced(Image.open(piece / f"{name}.png"), width, f"{name}.jpg")
    pages = [page(piece / "sheets.pdf", number) for number in numbers(piece / "sheets.pdf")]
    sheet = Image.new("RGB", (sum(p.width for p in pages) + 60, pages[0].height + 24), "#9a9a96")
    left = 12
    for one in pages:
        sheet.paste(one, (left, 12))
        left += one.width + 12
    reduced(sheet, 1400, "sheets.jpg")
    table = Image.open(HERE.parent / "sample_images" / "table-lowtide.jpg")
    reduced(table, 700, "table.jpg")


def of_the_page(screens: Path) -> None:
    """The two pictures of the browser page."""
    reduced(Image.open(screens / "opens-1440.png"), 1200, "page.jpg")
    reduced(Image.open(screens / "carried-1440.png"), 1200, "page-carried.jpg")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
    if len(sys.argv) > 2:
        of_the_page(Path(sys.argv[2]))
