"""Help without a network: docs/ as HTML, nothing of it run, nothing outside reached."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from sequencer.web import help as helping
from sequencer.web.help import PAGES, help_page, help_picture

DOCS = Path(__file__).parents[2] / "docs"


class Seen(HTMLParser):
    """Every tag with its fields, and all text (the standard library's parser, from outside)."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text += data


def seen(name: str) -> Seen:
    page = help_page(name)
    assert page is not None
    parser = Seen()
    parser.feed(page)
    return parser


@pytest.mark.parametrize("name", [path.stem for path in DOCS.glob("*.md")])
def test_every_page_is_there_whole_and_leads_nowhere_else(name: str):
    page = seen(name)
    for tag, fields in page.tags:
        assert tag not in {"script", "iframe", "object", "style", "form"}
        assert not [key for key in fields if key.startswith("on") or key == "style"]
        if tag == "a":
            href = str(fields["href"])
            assert href.startswith("#") or help_page(href.removeprefix("/help/").split("#")[0])
        if tag == "img":
            assert help_picture(str(fields["src"]).removeprefix("/help/"))
    words = re.findall(r"[A-Za-z]{5,}", (DOCS / f"{name}.md").read_text("utf-8"))
    told = re.findall(r"[A-Za-z]{5,}", page.text)
    missing = set(words) - set(told)
    assert len(missing) < 25, missing  # addresses of links only


def test_the_pages_named_are_the_pages_there_are():
    assert set(PAGES) >= {path.stem for path in DOCS.glob("*.md")} - {"sequence"}


@pytest.mark.parametrize("name", ["../README", "..", "x/y", "photographing.md", "", "no", "a" * 99])
def test_names_lead_to_no_other_file(name: str):
    assert help_page(name) is None
    assert help_picture(name) is None
    assert help_picture(f"{name}.jpg") is None


def test_markup_in_a_page_is_shown_not_run(tmp_path: Path, monkeypatch):
    (tmp_path / "photographing.md").write_text(
        "# A <b>title</b>\n\n<script>alert(1)</script> <img src=x onerror=alert(1)>\n\n"
        "[away](https://example.org) [bad](javascript:alert(1)) ![p](https://example.org/p.png)\n\n"
        "| a | b |\n|---|---|\n| 1 | `2` |\n", "utf-8")
    monkeypatch.setattr(helping, "_PLACES", (tmp_path,))
    help_page.cache_clear()
    page = seen("photographing")
    help_page.cache_clear()
    tags = [tag for tag, _ in page.tags]
    assert "script" not in tags
    assert "<script>alert(1)</script>" in page.text
    assert [fields["href"] for tag, fields in page.tags if tag == "a"] == ["/help/photographing"]
    assert [fields["src"] for tag, fields in page.tags if tag == "img"] == [""]
    assert {"table", "td", "code"} <= set(tags)
